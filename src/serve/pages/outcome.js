// SPDX-License-Identifier: GPL-3.0-or-later
// An outcome is a word and a shape: a filled disc, an open ring, a half disc.
import {make} from "./dom.js";
import {percent} from "./figures.js";
import {text} from "./text.js";

const shapes = {pass: "\u25cf", not_yet: "\u25cb", undecided: "\u25d0"};

const shapeOf = (outcome) => make("span", {class: "shape", "aria-hidden": "true"}, shapes[outcome] ?? "");

// Before a sentence that says the outcome in words itself.
export const outcomeSentence = (outcome, words) => make("p", {class: "answer"}, make("span", {class: `outcome-mark ${outcome}`}, shapeOf(outcome)), words);

export function outcomeMark(outcome, total = null) {
  return make("span", {class: `outcome-mark ${outcome}`},
    shapeOf(outcome),
    make("b", {}, text.end.outcome[outcome] ?? outcome),
    total === null ? null : ` ${percent(total)}`);
}
