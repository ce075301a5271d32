// SPDX-License-Identifier: GPL-3.0-or-later
// One session: its result with reasons, its timeline and log, the video beside it. A trainee first says what was seen with
// own eyes, or that no own record will be made.
import {get, post} from "./api.js";
import {formPath} from "./begin_view.js";
import {button, choices, fill, make, notice} from "./dom.js";
import {workbookButton} from "./download.js";
import {path, whenWords} from "./figures.js";
import {openPage} from "./frame.js";
import {picture} from "./picture.js";
import {newObservation, openObservations, Recorder} from "./recorder.js";
import * as parts from "./result_view.js";
import {observationWords, observerWords} from "./session_list.js";
import {openStore} from "./store.js";
import {text} from "./text.js";
import {logOf, startOf, Watching} from "./watching.js";

const t = text.session;
const code = new URLSearchParams(location.search).get("code") ?? "";

let who, main, session, form;

// Reading -----------------------------------------------------------------------------------

async function readSession() {
  const {sessions} = await get(path("/api/sessions", {session: code}));
  session = sessions.find((one) => one.session === code) ?? null;
  if (session) form = await get(formPath(session.rubric, session.edition));
}

const head = () => [
  make("h1", {}, t.title(session.name ?? session.trainee, session.title ?? session.rubric)),
  make("p", {class: "quiet"}, t.about(whenWords(session.started_ms), session.session, session.attempt)),
];

// A trainee's first word ------------------------------------------------------------------------

async function recordOwn() {
  const store = await openStore();
  const kept = (await openObservations(store, who.code, "self")).find((one) => (one.session ?? one.wanted_session) === code);
  const {session: wanted_session, trainee, name, rubric, edition, title, started_ms} = session;
  const observation = kept ?? await newObservation(store, {person: who.code, trainee, name, rubric, edition, title, started_ms, mode: "self", wanted_session});
  const after = () => make("p", {}, button(t.toRecord, () => location.reload(), {class: "main large"}));
  main.classList.add("wide");
  fill(main, new Recorder(store, observation, form, {after, leave: () => location.reload(), bare: true}).root);
}

function cautionsThenOwn() {
  const read = make("input", {type: "checkbox", required: true, name: "read"});
  const submit = (event) => (event.preventDefault(), recordOwn().catch(tell));
  fill(main, head(), make("form", {onsubmit: submit},
    make("p", {}, t.ownHow),
    make("section", {class: "notice warns"}, make("h2", {}, text.begin.cautions), make("ul", {}, form.cautions.map((words) => make("li", {}, words))),
      make("label", {class: "tick"}, read, t.cautionsRead)),
    make("div", {class: "choices"}, make("button", {class: "main large"}, t.ownGo), button(t.back, () => show().catch(tell), {class: "large"}))));
}

async function look() {
  await post(`/api/sessions/${encodeURIComponent(code)}/look`, {});
  await show();
}

function askLook() {
  fill(main, head(), notice(t.lookWarns, "warns"),
    make("div", {class: "choices"}, button(t.lookGo, () => look().catch(tell), {class: "large"}), button(t.back, () => show().catch(tell), {class: "main large"})));
  main.querySelector("button").focus();
}

const ownFirst = () => make("section", {class: "stack"},
  make("p", {}, t.ownFirst),
  make("div", {class: "choices"}, button(t.own, cautionsThenOwn, {class: "main large", "data-key": "own"}), button(t.look, askLook, {class: "large", "data-key": "look"})),
  make("p", {class: "quiet"}, t.lookWhy));

// One that is open: a trainee's own goes on here, an assessor's on its page.
const ownOpen = (own) => make("section", {class: "stack"}, notice(t.ownOpen, "warns"),
  own.mode === "self" ? button(t.ownOn, () => recordOwn().catch(tell), {class: "main large"}) : make("a", {href: own.mode === "video" ? "/video" : "/capture", class: "button main large"}, t.goOn));

// The record --------------------------------------------------------------------------------------

function links(said) {
  const seen = session.observations.filter((one) => one.closed);
  const trainee = who.role === "trainee";
  return make("div", {class: "choices"},
    make("a", {class: "button", href: `/api/sessions/${encodeURIComponent(code)}/review`}, t.review),
    seen.length > 1 && !trainee ? make("a", {class: "button", href: path("/compare", {session: code})}, text.sessions.compare) : null,
    trainee || session.observations.some((one) => one.assessor === who.code) ? null : make("a", {class: "button", href: path("/video", {session: code})}, t.second),
    who.role === "assessor" ? null : workbookButton(text.sessions.workbookOf(session.trainee), `/exports/workbook/${encodeURIComponent(session.trainee)}.xlsx`, said));
}

function observationChoice(shown) {
  const closed = session.observations.filter((one) => one.closed);
  if (closed.length < 2) return make("p", {class: "quiet"}, observerWords(shown));
  const options = closed.map((one) => ({value: one.id, words: observerWords(one)}));
  return choices(t.which, options, shown.id, (id) => show(id).catch(tell));
}

async function showRecord(shown) {
  const [result, {entries}] = await Promise.all([get(`/api/observations/${shown.id}/result`), get(`/api/observations/${shown.id}`)]);
  const log = logOf(entries);
  const start_ms = startOf(log);
  const watching = new Watching(code, shown.mode === "live" ? 0 : start_ms);
  const time = (at_ms, words) => watching.timeButton(at_ms, start_ms, words);
  const said = make("div", {role: "status"});
  const rows = [result, log, form, time];
  fill(main, head(), observationChoice(shown), parts.answerPart(...rows), links(said), said,
    make("div", {class: "two"}, watching.root,
      make("div", {}, make("h2", {}, t.timeline), picture(`/api/observations/${shown.id}/timeline.svg`, t.timelineOf),
        parts.partsPart(result), parts.ledgerPart(...rows), parts.logPart(log, form, time), progress())));
  main.classList.add("wide");
}

function progress() {
  const {trainee, rubric, title} = session;
  return make("section", {}, make("h2", {}, text.mine.progress(title)), picture(path(`/api/trainees/${encodeURIComponent(trainee)}/progress.svg`, {rubric}), text.mine.progressOf(title)));
}

// What this person may see now, the observation of record first.
async function show(id = null) {
  await readSession();
  if (!session) {
    fill(main, make("h1", {}, t.none), notice(t.noneWhy), make("p", {}, make("a", {href: "/sessions"}, text.head.sessions)));
    return;
  }
  document.title = `${t.title(session.name ?? session.trainee, session.title)} - ${text.product}`;
  const {observations} = session;
  const own = observations.find((one) => one.assessor === who.code && !one.closed);
  const seen = observations.filter((one) => one.closed && (one.outcome || who.role !== "trainee" || one.assessor === who.code));
  const shown = observations.find((one) => one.id === id) ?? seen.find((one) => one.of_record) ?? seen[0];
  if (own) fill(main, head(), ownOpen(own));
  else if (shown) await showRecord(shown);
  else if (who.role === "trainee") fill(main, head(), ownFirst());
  else fill(main, head(), notice(t.allOpen), make("ul", {class: "list"}, observations.map((one) => make("li", {}, observationWords(one)))));
}

function tell(error) {
  fill(main, session ? head() : make("h1", {}, text.head.sessions), notice(error.message, "warns"), button(text.tryAgain, () => location.reload()));
}

({who, main} = await openPage("session", text.head.sessions));
fill(main, make("p", {class: "quiet"}, text.reading));
await show().catch(tell);
