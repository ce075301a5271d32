// SPDX-License-Identifier: GPL-3.0-or-later
// A trainee's own sessions, and progress in each exercise.
import {get} from "./api.js";
import {button, fill, make, notice} from "./dom.js";
import {workbookButton} from "./download.js";
import {path} from "./figures.js";
import {openPage} from "./frame.js";
import {outcomeMark} from "./outcome.js";
import {picture} from "./picture.js";
import {sessionTable} from "./session_list.js";
import {text} from "./text.js";

const t = text.mine;

// The latest session of which a result may be seen, in a sentence.
function latest(sessions) {
  for (const session of sessions) {
    const seen = session.observations.find((one) => one.of_record && one.outcome);
    if (seen) return make("p", {class: "answer"}, t.latest(session.title), " ", outcomeMark(seen.outcome, seen.total));
  }
  return null;
}

// Sessions whose record waits for the trainee's own word.
function waiting(sessions) {
  const n = sessions.filter((one) => one.observations.some((seen) => seen.closed && !seen.outcome)).length;
  return n ? notice(t.waiting(n)) : null;
}

function progress(sessions, code) {
  const titles = new Map(sessions.filter((one) => one.observations.some((seen) => seen.outcome)).map((one) => [one.rubric, one.title]));
  return [...titles].map(([rubric, title]) =>
    make("section", {}, make("h2", {}, t.progress(title)),
      picture(path(`/api/trainees/${encodeURIComponent(code)}/progress.svg`, {rubric}), t.progressOf(title))));
}

async function allSessions() {
  const all = [];
  for (let after = null; ; ) {
    const {sessions, next} = await get(path("/api/sessions", {after}));
    all.push(...sessions);
    if (!next) return all;
    after = next;
  }
}

const {who, main} = await openPage("mine", text.head.mine);
const said = make("div", {role: "status"});
fill(main, make("h1", {}, text.head.mine), make("p", {class: "quiet"}, text.reading));
try {
  const sessions = await allSessions();
  fill(main, make("h1", {}, text.head.mine),
    sessions.length
      ? [latest(sessions), waiting(sessions), sessionTable(sessions, who), workbookButton(t.workbook, `/exports/workbook/${encodeURIComponent(who.code)}.xlsx`, said), said, progress(sessions, who.code)]
      : notice(t.none));
} catch (error) {
  fill(main, make("h1", {}, text.head.mine), notice(error.message, "warns"), button(text.tryAgain, () => location.reload()));
}
