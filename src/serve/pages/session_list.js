// SPDX-License-Identifier: GPL-3.0-or-later
// Sessions as a table: when, who, what, and how each observation of it came out.
import {make} from "./dom.js";
import {path, whenWords} from "./figures.js";
import {outcomeMark} from "./outcome.js";
import {text} from "./text.js";

const t = text.sessions;

const cell = (label, ...what) => make("td", {"data-label": label}, what);

// "Live by AS-1".
export const observerWords = ({mode, assessor}) => t.by(text.modes[mode], assessor);

// "Live by AS-1: Not yet 61.2 %"; what may not be seen has neither outcome nor total.
export function observationWords(one) {
  const state = one.closed ? (one.outcome ? outcomeMark(one.outcome, one.total) : make("span", {class: "quiet"}, t.notShown)) : make("span", {class: "attention"}, t.isOpen);
  return make("span", {}, `${observerWords(one)}: `, state, one.of_record ? null : make("span", {class: "quiet small"}, ` ${t.second}`));
}

function row(session, who) {
  const {session: code, trainee, name, title, edition, started_ms, attempt, observations} = session;
  const closed = observations.filter((one) => one.closed);
  return make("tr", {"data-session": code},
    make("th", {scope: "row"}, make("a", {href: path("/session", {code})}, whenWords(started_ms)), make("small", {class: "quiet"}, make("br"), code)),
    who.role === "trainee" ? null : cell(t.trainee, name ? `${name}, ${trainee}` : trainee),
    cell(t.exercise, t.edition(title ?? session.rubric, edition), attempt ? ` ${t.attempt(attempt)}` : ""),
    cell(t.result, make("div", {class: "observations"}, observations.map(observationWords)),
      closed.length > 1 && who.role !== "trainee" ? make("a", {href: path("/compare", {session: code})}, t.compare) : null));
}

export function sessionTable(sessions, who) {
  const heads = [t.when, who.role === "trainee" ? null : t.trainee, t.exercise, t.result].filter(Boolean);
  return make("table", {class: "cells"}, make("caption", {class: "heard"}, text.head.sessions),
    make("thead", {}, make("tr", {}, heads.map((head) => make("th", {scope: "col"}, head)))),
    make("tbody", {}, sessions.map((session) => row(session, who))));
}
