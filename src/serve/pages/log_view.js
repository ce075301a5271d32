// SPDX-License-Identifier: GPL-3.0-or-later
// The last entries, each with its state, its undo and its change.
import {clockWords} from "./clock.js";
import {button, fill, make} from "./dom.js";
import {text} from "./text.js";
import {eventWords, stateWords} from "./words.js";

const LAST = 6;
const t = text.log;

const stateOf = (bench, event) =>
  make("span", {class: event.state === "safe" ? "state" : event.state === "refused" ? "state critical" : "state attention"},
    stateWords(event, bench.queue.way));

function acts(bench, event, words, {undo, change}) {
  if (event.struck || bench.observation.closed) return null;
  const refused = event.state === "refused";
  return make("span", {class: "apart push"},
    refused ? null : button(t.undo, () => undo(event), {"aria-label": t.undoOf(words), "data-key": `undo/${event.id}`}),
    button(refused ? t.again : t.change, () => change(event), {"aria-label": t.changeOf(words), "data-key": `change/${event.id}`}));
}

// One entry: its time on the clock, what, its state.
export function entryLine(bench, event, doing, tag = "li") {
  const words = eventWords(bench.form, event);
  return make(tag, {class: "entry", "data-entry": event.id},
    make("span", {class: "when"}, clockWords(event.at_ms)),
    make("span", {class: "what"}, event.struck ? make("s", {}, words) : words,
      event.warning ? make("small", {class: "attention"}, ` ${text.panel.warning(event.warning)}`) : null),
    event.struck ? make("span", {class: "state"}, t.struck) : null, stateOf(bench, event),
    acts(bench, event, words, doing));
}

// `all`: every entry instead of the last ones.
export function drawLog(root, {bench, all, showAll, undo, change}) {
  const events = [...bench.events].reverse();
  const shown = all ? events : events.slice(0, LAST);
  fill(root,
    make("h2", {}, t.title),
    events.length ? make("ol", {class: "list entries", reversed: true}, shown.map((event) => entryLine(bench, event, {undo, change}))) : make("p", {class: "quiet"}, t.none),
    events.length > LAST ? button(all ? t.fewer : t.all(events.length), () => showAll(!all), {"data-key": "log/all"}) : null);
}

// The last one that counts, with its undo, where nothing covers it.
export function drawLast(root, {bench, undo, change}) {
  const last = [...bench.events].reverse().find((event) => !event.struck);
  fill(root, make("span", {class: "heard"}, t.last), last ? entryLine(bench, last, {undo, change}, "div") : make("p", {class: "quiet"}, t.none));
}
