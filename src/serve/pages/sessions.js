// SPDX-License-Identifier: GPL-3.0-or-later
// Sessions, newest first, by what one looks for; and the workbooks made of them.
import {get} from "./api.js";
import {button, fill, make, notice} from "./dom.js";
import {workbookButton} from "./download.js";
import {path} from "./figures.js";
import {openPage} from "./frame.js";
import {sessionTable} from "./session_list.js";
import {text} from "./text.js";

const t = text.sessions;
const DAY_MS = 24 * 3600 * 1000;
const FILTERS = ["trainee", "rubric", "assessor", "from", "until", "open"];

const list = make("div");
const said = make("div", {role: "status"});
const downloads = make("div", {class: "choices"});
let sessions = [];
let who;

// Filters ---------------------------------------------------------------------------------

const asked = new URLSearchParams(location.search);

// Midnight of a day of this place, as the server counts time.
const startOf = (day) => (day ? new Date(`${day}T00:00:00`).getTime() : null);

const wanted = () => ({trainee: asked.get("trainee"), rubric: asked.get("rubric"), assessor: asked.get("assessor"), open: asked.get("open"),
  from_ms: startOf(asked.get("from")), before_ms: asked.get("until") ? startOf(asked.get("until")) + DAY_MS : null});

function select(name, words, options) {
  return make("label", {}, words, make("select", {name}, make("option", {value: ""}, t.any),
    options.map(([value, title]) => make("option", {value, selected: asked.get(name) === value}, title))));
}

const date = (name, words) => make("label", {}, words, make("input", {type: "date", name, value: asked.get(name)}));

function apply(event) {
  event.preventDefault();
  const form = new FormData(event.currentTarget);
  for (const name of FILTERS) {
    if (form.get(name)) asked.set(name, form.get(name));
    else asked.delete(name);
  }
  history.replaceState(null, "", path(location.pathname, Object.fromEntries(asked)));
  return read();
}

function filterForm(people, rubrics) {
  const of = (role) => people.filter((one) => one.role === role).map((one) => [one.code, one.name ? `${one.name}, ${one.code}` : one.code]);
  const titles = new Map(rubrics.map((one) => [one.rubric, one.title]));
  return make("form", {class: "filters", onsubmit: apply},
    people.length ? select("trainee", t.trainee, of("trainee")) : null,
    select("rubric", t.exercise, [...titles]),
    of("assessor").length ? select("assessor", t.assessor, [...of("assessor"), ...of("director")]) : null,
    date("from", t.from), date("until", t.until),
    make("label", {class: "tick"}, make("input", {type: "checkbox", name: "open", value: "1", checked: asked.get("open") === "1"}), t.open),
    make("button", {class: "main"}, t.show));
}

// The list -----------------------------------------------------------------------------------

function drawDownloads() {
  const [trainee, rubric] = [asked.get("trainee"), asked.get("rubric")];
  if (who.role !== "director") return;
  const title = sessions.find((one) => one.rubric === rubric)?.title ?? rubric;
  fill(downloads,
    trainee ? workbookButton(t.workbookOf(trainee), `/exports/workbook/${encodeURIComponent(trainee)}.xlsx`, said) : null,
    rubric ? workbookButton(t.cohortOf(title), path("/exports/cohort.xlsx", {rubric}), said) : null,
    trainee && rubric ? null : make("p", {class: "quiet small"}, t.downloadHow));
}

function draw(next) {
  const filtered = [...asked.keys()].length > 0;
  fill(list,
    sessions.length ? sessionTable(sessions, who) : notice(filtered ? t.noneFit : t.none),
    next ? button(t.more, () => readMore(next), {"data-key": "sessions/more"}) : null);
  drawDownloads();
}

async function readMore(after) {
  try {
    const page = await get(path("/api/sessions", {...wanted(), after}));
    sessions.push(...page.sessions);
    draw(page.next);
  } catch (error) {
    fill(list, notice(error.message, "warns"), button(text.tryAgain, read));
  }
}

function read() {
  sessions = [];
  fill(list, make("p", {class: "quiet"}, text.reading));
  return readMore(null);
}

const page = await openPage("sessions", text.head.sessions);
who = page.who;
const [{people}, {rubrics}] = await Promise.all([
  who.role === "trainee" ? {people: []} : get("/api/people").catch(() => ({people: []})), get("/api/rubrics").catch(() => ({rubrics: []}))]);
fill(page.main, make("h1", {}, text.head.sessions), filterForm(people, rubrics), downloads, said, list);
await read();
