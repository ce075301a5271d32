// SPDX-License-Identifier: GPL-3.0-or-later
// One observation's result: the outcome in a sentence, why, the parts, the ledger with its seconds, the log.
import {button, fill, make} from "./dom.js";
import {percent, points} from "./figures.js";
import {outcomeSentence} from "./outcome.js";
import {text} from "./text.js";
import {eventWords} from "./words.js";

const t = text.result;

const cell = (label, ...what) => make("td", {"data-label": label}, what);
const numberCell = (label, words) => make("td", {class: "number", "data-label": label}, words);

// What the record tells of an event by its number.
function finder(entries) {
  const bySeq = new Map(entries.map((entry) => [entry.seq, entry]));
  return (seqs) => seqs.map((seq) => bySeq.get(seq)).filter(Boolean);
}

// Times of events as buttons that show the video there.
const times = (events, show, form) => events.map((event) => show(event.at_ms, eventWords(form, event)));

// The sentence that answers first; then the reasons that it does not say itself, or that have their moments.
export function answerPart(result, entries, form, show) {
  const events = finder(entries);
  const more = result.reasons.filter((one) => events(one.events).length || !result.words.includes(one.words));
  return make("section", {},
    outcomeSentence(result.outcome, result.words),
    more.length
      ? [make("h2", {}, t.reasons), make("ul", {class: "list moments"}, more.map((one) => make("li", {}, times(events(one.events), show, form), make("span", {}, one.words))))]
      : null);
}

export function partsPart(result) {
  const parts = Object.entries(text.panel.components).filter(([id]) => result[id]);
  const row = ([id, title]) => {
    const {assessed, given_mp, possible_mp} = result[id];
    return make("tr", {}, make("th", {scope: "row"}, title),
      assessed ? numberCell(t.points, t.of(points(given_mp), points(possible_mp))) : make("td", {class: "quiet", "data-label": t.points}, t.notAssessed),
      numberCell(t.share, assessed && possible_mp ? percent(Math.trunc((given_mp * 100000) / possible_mp)) : ""));
  };
  return make("table", {class: "cells"}, make("caption", {}, t.parts),
    make("thead", {}, make("tr", {}, make("th", {scope: "col"}, t.part), make("th", {scope: "col", class: "number"}, t.points), make("th", {scope: "col", class: "number"}, t.share))),
    make("tbody", {}, parts.map(row)));
}

const isLost = (line) => line.lost || line.given_mp < line.possible_mp;

// A line that no event made may still have its moment: where something was missing.
const lineTime = ({at_ms, title}, show) => (at_ms > 0 ? show(at_ms, title) : "");

function ledgerRow(line, events, show, form) {
  const found = events(line.events);
  return make("tr", {class: isLost(line) ? "lost" : null},
    cell(t.what, line.title, line.critical ? make("b", {class: "critical"}, ` ${text.bench.critical}`) : ""),
    cell(t.expected, line.expected ?? ""), cell(t.happened, line.happened ?? ""), cell(t.why, line.words ?? ""),
    cell(t.when, found.length ? times(found, show, form) : lineTime(line, show)), numberCell(t.points, t.of(points(line.given_mp), points(line.possible_mp))));
}

function ledgerTable(lines, events, show, form) {
  const heads = [t.what, t.expected, t.happened, t.why, t.when];
  return make("table", {class: "cells ledger"}, make("caption", {class: "heard"}, t.ledger),
    make("thead", {}, make("tr", {}, heads.map((head) => make("th", {scope: "col"}, head)), make("th", {scope: "col", class: "number"}, t.points))),
    make("tbody", {}, lines.map((line) => ledgerRow(line, events, show, form))));
}

// What lost points; all lines when they are asked for.
export function ledgerPart(result, entries, form, show) {
  const events = finder(entries);
  const lost = result.ledger.filter(isLost);
  const box = make("div");
  let all = false;
  const draw = () => {
    const lines = all ? result.ledger : lost;
    turn.setAttribute("aria-pressed", String(all));
    fill(box, lines.length ? ledgerTable(lines, events, show, form) : make("p", {}, t.noneLost));
  };
  const turn = button(t.allLines(result.ledger.length), () => ((all = !all), draw()));
  draw();
  return make("section", {}, make("div", {class: "apart"}, make("h2", {}, t.ledger), turn), box);
}

export const logPart = (entries, form, show) =>
  make("details", {class: "log", open: true}, make("summary", {}, t.log(entries.length)),
    make("ol", {class: "list moments"}, entries.map((entry) => make("li", {}, show(entry.at_ms, eventWords(form, entry)), make("span", {}, eventWords(form, entry))))));
