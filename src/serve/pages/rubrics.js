// SPDX-License-Identifier: GPL-3.0-or-later
// Rubric editions, and the check of a new one: the same as `rubric check`, its faults at their lines.
import {get, post} from "./api.js";
import {button, fill, make, notice} from "./dom.js";
import {openPage} from "./frame.js";
import {SourceView} from "./source_view.js";
import {text} from "./text.js";

const t = text.rubrics;
const MOST_BYTES = 1000000; // the server takes 1 MiB, with what is round the text

const list = make("div");
const answer = make("div", {role: "status", tabindex: "-1", class: "answer-box"});
const source = new SourceView();
const area = make("textarea", {rows: "12", spellcheck: "false", autocapitalize: "none", class: "source-text", "aria-label": t.text, "data-key": "rubric/text"});
const check = button(t.check, () => ask(true), {"data-key": "rubric/check"});
const add = button(t.addGo, () => ask(false), {class: "main", hidden: true, "data-key": "rubric/add"});
let name = t.pasted;

// The list ------------------------------------------------------------------------------

const cell = (label, words, about = {}) => make("td", {"data-label": label, ...about}, words);

const row = ({rubric, edition, title, sessions, latest}) =>
  make("tr", {}, make("th", {scope: "row"}, title), cell(t.id, rubric), cell(t.edition, `${edition}${latest ? ` ${t.latest}` : ""}`),
    cell(t.sessions, sessions ? t.frozen(sessions) : t.unused));

async function read() {
  const {rubrics} = await get("/api/rubrics");
  const heads = [t.title, t.id, t.edition, t.sessions];
  fill(list, rubrics.length
    ? make("table", {class: "cells"}, make("caption", {class: "heard"}, text.head.rubrics),
        make("thead", {}, make("tr", {}, heads.map((head) => make("th", {scope: "col"}, head)))), make("tbody", {}, rubrics.map(row)))
    : notice(t.none));
}

// The check -----------------------------------------------------------------------------

function fits(words) {
  const bytes = new TextEncoder().encode(words).length;
  if (bytes <= MOST_BYTES) return true;
  fill(answer, notice(t.tooLong(Math.ceil(bytes / 1000)), "stops"));
  return false;
}

async function ask(check_only) {
  const words = area.value;
  add.hidden = true;
  if (!words.trim() || !fits(words)) return;
  try {
    const {rubric, edition, added, warnings} = await post("/api/rubrics", {name, text: words, check_only});
    source.show(words, warnings, true);
    tellGood(rubric, edition, warnings.length, check_only, added);
    if (!check_only) await read();
  } catch (error) {
    source.show(words, error.faults, false);
    tellBad(error);
  }
}

function tellGood(rubric, edition, warnings, check_only, added) {
  const what = check_only ? t.good(rubric, edition) : added ? t.added(rubric, edition) : t.there(rubric, edition);
  fill(answer, notice(warnings ? `${what} ${t.warnings(warnings)}` : what, warnings ? "warns" : ""), warnings ? steps() : null);
  add.hidden = !check_only;
}

function tellBad(error) {
  const n = error.faults.length;
  fill(answer, notice(n ? t.faults(n) : error.message, "stops"), n ? steps() : null);
  if (n) source.step(1);
}

const steps = () => make("div", {class: "choices"},
  button(t.previous, () => source.step(-1), {"data-key": "fault/previous"}), button(t.next, () => source.step(1), {"data-key": "fault/next"}),
  make("span", {class: "quiet small"}, t.stepKeys));

async function takeFile(file) {
  name = file.name;
  if (file.size > MOST_BYTES) {
    fill(answer, notice(t.tooLong(Math.ceil(file.size / 1000)), "stops"));
    return;
  }
  area.value = await file.text();
  await ask(true);
}

// The page --------------------------------------------------------------------------------

const file = make("input", {type: "file", accept: ".yaml,.yml,text/plain", onchange: () => file.files[0] && takeFile(file.files[0]), "data-key": "rubric/file"});
const {main} = await openPage("rubrics", text.head.rubrics);
area.oninput = () => (add.hidden = true);
addEventListener("keydown", (event) => {
  if (event.key !== "F8" || !source.faults.length) return;
  event.preventDefault();
  source.step(event.shiftKey ? -1 : 1);
});
fill(main,
  make("h1", {}, text.head.rubrics), list,
  make("h2", {}, t.newTitle), make("p", {class: "quiet"}, t.newWhy),
  make("div", {class: "two checking"},
    make("div", {class: "stack beside"}, make("label", {class: "file"}, t.file, file), make("label", {}, t.text, area), make("div", {class: "choices"}, check, add)),
    make("div", {}, answer, source.root)));
fill(list, make("p", {class: "quiet"}, text.reading));
await read().catch((error) => fill(list, notice(error.message, "warns"), button(text.tryAgain, () => location.reload())));
