// SPDX-License-Identifier: GPL-3.0-or-later
// Two observations of one session side by side: where they differ first, then entry by entry, each a step from its moment.
import {get} from "./api.js";
import {formPath} from "./begin_view.js";
import {button, fill, make, notice} from "./dom.js";
import {apartWords, path, whenWords} from "./figures.js";
import {openPage} from "./frame.js";
import {observerWords} from "./session_list.js";
import {text} from "./text.js";
import {logOf, startOf, Watching} from "./watching.js";
import {eventWords} from "./words.js";

const t = text.compare;
const code = new URLSearchParams(location.search).get("session") ?? "";
const LATE_MS = 2000; // entries this close are as good as at the same time

let main, session, form, watching;
let onlyApart = false;

const cell = (label, ...what) => make("td", {"data-label": label}, what);

// Where they differ ------------------------------------------------------------------------------

function statesPart(states, a, b) {
  const row = ({title, a: ofA, b: ofB}) => make("tr", {}, make("th", {scope: "row"}, title), cell(observerWords(a), t.states[ofA] ?? ofA), cell(observerWords(b), t.states[ofB] ?? ofB));
  return states.length === 0 ? null : make("table", {class: "cells"}, make("caption", {}, t.differ),
    make("thead", {}, make("tr", {}, [t.checkpoint, observerWords(a), observerWords(b)].map((head) => make("th", {scope: "col"}, head)))),
    make("tbody", {}, states.map(row)));
}

// Entry by entry -----------------------------------------------------------------------------------

const timeOf = ({a, b}, start) => (a ? a.at_ms - start.a : b.at_ms - start.b);

function entryCell(label, entry, start_ms) {
  const words = entry ? eventWords(form, entry) : null;
  return cell(label, entry ? make("div", {class: "pair-entry"}, watching.timeButton(entry.at_ms, start_ms, words), make("span", {}, words)) : make("span", {class: "quiet"}, t.notLogged));
}

const isApart = ({a, b, apart_ms}) => !a || !b || Math.abs(apart_ms) > LATE_MS;

function apartOf({apart_ms}) {
  if (apart_ms === null) return t.oneOnly;
  return Math.abs(apart_ms) < 100 ? t.same : apartWords(apart_ms);
}

function pairRow(pair, start, a, b) {
  return make("tr", {class: isApart(pair) ? "alone" : null}, entryCell(observerWords(a), pair.a, start.a), entryCell(observerWords(b), pair.b, start.b),
    make("td", {class: "apart-by", "data-label": t.apart}, apartOf(pair)));
}

function pairsPart(pairs, start, a, b, again) {
  const sorted = [...pairs].sort((x, y) => timeOf(x, start) - timeOf(y, start));
  const shown = sorted.filter((pair) => !onlyApart || isApart(pair));
  return make("section", {},
    make("div", {class: "apart"}, make("h2", {}, t.entries),
      button(t.onlyApart, () => ((onlyApart = !onlyApart), again()), {"aria-pressed": String(onlyApart), "data-key": "compare/only"})),
    shown.length
      ? make("table", {class: "cells pairs"}, make("caption", {class: "heard"}, t.entries),
          make("thead", {}, make("tr", {}, [observerWords(a), observerWords(b), t.apart].map((head) => make("th", {scope: "col"}, head)))), make("tbody", {}, shown.map((pair) => pairRow(pair, start, a, b))))
      : notice(t.noneApart));
}

// The page -----------------------------------------------------------------------------------------

function pick(label, chosen, other, set) {
  const closed = session.observations.filter((one) => one.closed && one.id !== other.id);
  const select = make("select", {onchange: () => set(closed.find((one) => one.id === Number(select.value)))},
    closed.map((one) => make("option", {value: one.id, selected: one.id === chosen.id}, observerWords(one))));
  return make("label", {}, label, select);
}

async function show(a, b) {
  const [{pairs, states, words}, ofA, ofB] = await Promise.all([
    get(path("/api/compare", {a: a.id, b: b.id})), get(`/api/observations/${a.id}`), get(`/api/observations/${b.id}`)]);
  const start = {a: startOf(logOf(ofA.entries)), b: startOf(logOf(ofB.entries))};
  const recorded = a.mode === "video" ? start.a : b.mode === "video" ? start.b : 0;
  watching ??= new Watching(code, recorded);
  const entries = make("div", {});
  const draw = () => fill(entries, pairsPart(pairs, start, a, b, draw));
  fill(main,
    make("h1", {}, t.title(session.name ?? session.trainee, session.title)),
    make("p", {class: "quiet"}, make("a", {href: path("/session", {code})}, whenWords(session.started_ms)), ` ${session.session}`),
    make("p", {class: "answer"}, words.join(" ")),
    session.observations.filter((one) => one.closed).length > 2
      ? make("div", {class: "filters"}, pick(t.first, a, b, (one) => show(one, b).catch(tell)), pick(t.secondOne, b, a, (one) => show(a, one).catch(tell))) : null,
    make("div", {class: "two"}, watching.root, make("div", {}, statesPart(states, a, b), entries)));
  draw();
}

async function open() {
  const {sessions} = await get(path("/api/sessions", {session: code}));
  session = sessions.find((one) => one.session === code) ?? null;
  const closed = session?.observations.filter((one) => one.closed) ?? [];
  const own = session?.observations.some((one) => one.assessor === who.code && !one.closed);
  if (!session) fill(main, make("h1", {}, text.session.none), notice(text.session.noneWhy));
  else if (own) fill(main, make("h1", {}, t.name), notice(t.ownOpen, "warns"));
  else if (closed.length < 2) fill(main, make("h1", {}, t.name), notice(t.needsTwo), make("p", {}, make("a", {href: path("/video", {session: code}), class: "button"}, text.session.second)));
  else {
    form = await get(formPath(session.rubric, session.edition));
    const first = closed.find((one) => one.of_record) ?? closed[0];
    await show(first, closed.find((one) => one.id !== first.id));
  }
}

function tell(error) {
  fill(main, make("h1", {}, t.name), notice(error.message, "warns"), button(text.tryAgain, () => location.reload()));
}

const page = await openPage("compare", t.name);
const {who} = page;
({main} = page);
main.classList.add("wide");
fill(main, make("p", {class: "quiet"}, text.reading));
await open().catch(tell);
