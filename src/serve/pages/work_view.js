// SPDX-License-Identifier: GPL-3.0-or-later
// The targets of the work: what the rubric expects next, by phase; then every action.
import {clockWords} from "./clock.js";
import {fill, make} from "./dom.js";
import {text} from "./text.js";
import {momentOf} from "./touch.js";

const t = text.bench;

function remarks(item, checkpoint, titleOf) {
  return [
    checkpoint.least > 1 || item.done > 0 ? make("span", {class: "count"}, t.count(item.done, checkpoint.least)) : null,
    checkpoint.critical ? make("span", {class: "critical"}, t.critical) : null,
    item.waits ? make("span", {}, t.waits(titleOf(item.waits))) : null,
  ].filter(Boolean);
}

function target(item, next, titleOf, press) {
  const {checkpoint} = item;
  const about = remarks(item, checkpoint, titleOf);
  const kind = item === next ? "next" : item.waits || item.left ? "waits" : "";
  return make("li", {}, make("button",
    {type: "button", class: `large target ${kind}`, "data-key": `checkpoint/${checkpoint.id}`, onclick: (event) => press(checkpoint, momentOf(event))},
    make("span", {}, item === next ? make("span", {class: "tag"}, t.next) : null, checkpoint.title),
    about.length ? make("small", {class: "remarks"}, about) : null));
}

function phaseHead(phase, spent_ms) {
  const late = phase.target_ms && spent_ms > phase.target_ms;
  const words = t.phaseClock(phase.title, clockWords(spent_ms), phase.target_ms ? clockWords(phase.target_ms) : "");
  return make("h2", {}, words, late ? make("span", {class: "attention"}, ` ${t.late}`) : null);
}

// Steps that are done are folded away, except when the next entry is a redo of one.
function donePart(phase, list, open, redo) {
  if (phase.done.length === 0) return null;
  if (redo) return [make("h3", {}, t.doneGroup(phase.done.length)), list(phase.done)];
  return make("details", {open: open.has(phase.id), ontoggle: (event) => (event.target.open ? open.add(phase.id) : open.delete(phase.id))},
    make("summary", {"data-key": `done/${phase.id}`}, t.doneGroup(phase.done.length)), list(phase.done));
}

function phasePart(phase, spent_ms, {next, titleOf, press, open, redo}) {
  const list = (items) => make("ul", {class: "list targets"}, items.map((item) => target(item, next, titleOf, press)));
  return make("section", {class: phase.current ? "phase current" : "phase"},
    phaseHead(phase, spent_ms),
    phase.items.length ? list(phase.items) : null,
    donePart(phase, list, open, redo));
}

function otherWork(form, pressAction) {
  const one = (action) => make("li", {}, make("button",
    {type: "button", class: "large target", "data-key": `action/${action.id}`, onclick: (event) => pressAction(action, momentOf(event))},
    make("span", {}, action.title), action.key ? make("kbd", {}, action.key) : null));
  return make("section", {class: "phase"}, make("h2", {}, t.otherGroup),
    make("ul", {class: "list targets"}, form.actions.map(one)));
}

// `open`: the ids of phases whose finished steps are unfolded, kept by the caller from one drawing to the next; `redo`:
// the next entry is one.
export function drawWork(root, {bench, expectation, open, redo, pressCheckpoint, pressAction}) {
  const titles = new Map(bench.form.checkpoints.map((one) => [one.id, one.title]));
  const {state, next, phases} = expectation;
  const about = {next, titleOf: (id) => titles.get(id), press: pressCheckpoint, open, redo};
  fill(root, phases.map((phase) => phasePart(phase, state.spent_ms.get(phase.id) ?? 0, about)), otherWork(bench.form, pressAction));
}
