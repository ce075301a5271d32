// SPDX-License-Identifier: GPL-3.0-or-later
// A second observation from a video: which session, the cautions, then the recorder. What the first assessor logged is not
// shown, and the server would not give it, until this one is closed.
import {get} from "./api.js";
import {asked, formPath} from "./begin_view.js";
import {button, fill, make, notice} from "./dom.js";
import {path, whenWords} from "./figures.js";
import {openPage} from "./frame.js";
import {newObservation, openObservations, Recorder} from "./recorder.js";
import {openStore} from "./store.js";
import {text} from "./text.js";

const t = text.video;

let who, main, store;

// Recording -------------------------------------------------------------------------------

async function record(observation) {
  const {answer: form} = await asked(store, formPath(observation.rubric, observation.edition));
  const compare = ({observation: {session}}) => make("p", {}, make("a", {href: path("/compare", {session}), class: "button main large"}, t.compare));
  const recorder = new Recorder(store, observation, form, {after: compare, leave: choose, bare: false});
  main.classList.add("wide");
  fill(main, recorder.root);
}

// Choosing ----------------------------------------------------------------------------------

const option = (value, words) => make("option", {value}, words);
const sessionWords = ({started_ms, name, trainee, title, session}) => `${whenWords(started_ms)}: ${name ?? trainee}, ${title} (${session})`;

// Sessions that this person has no observation of.
const isFresh = (session) => session.observations.every((one) => one.assessor !== who.code);

function cautionsPart(form) {
  return make("section", {class: "notice warns"}, make("h2", {}, text.begin.cautions),
    make("ul", {}, form.cautions.map((words) => make("li", {}, words))),
    make("label", {class: "tick"}, make("input", {type: "checkbox", name: "read", required: true}), t.read));
}

// The form for a session that is in the book, or for a video of one that is not.
function beginForm(sessions, people, rubrics) {
  const fresh = sessions.filter(isFresh);
  const byCode = new Map(fresh.map((one) => [one.session, one]));
  const more = make("div", {class: "stack"});
  const said = make("div", {role: "alert"});
  let form = null;
  const readForm = async (rubric, edition) => {
    form = null;
    fill(said);
    try {
      form = (await asked(store, formPath(rubric, edition))).answer;
      fill(more, cautionsPart(form));
    } catch (error) {
      fill(more, notice(error.message, "warns"));
    }
  };
  const trainee = make("select", {name: "trainee", required: true}, option("", text.begin.choose), people.map((one) => option(one.code, one.name ? `${one.name} (${one.code})` : one.code)));
  const rubric = make("select", {name: "rubric", required: true}, option("", text.begin.choose), rubrics.map((one) => option(`${one.rubric}/${one.edition}`, text.begin.edition(one.title, one.edition))));
  const when = make("input", {type: "datetime-local", name: "when", required: true});
  const own = make("div", {class: "pick", hidden: true}, make("label", {}, text.begin.trainee, trainee), make("label", {}, text.begin.exercise, rubric), make("label", {}, t.recorded, when));
  const session = make("select", {name: "session", required: true}, option("", text.begin.choose), fresh.map((one) => option(one.session, sessionWords(one))), option("new", t.notInBook));
  session.onchange = () => {
    const known = byCode.get(session.value);
    own.hidden = session.value !== "new";
    for (const field of [trainee, rubric, when]) field.disabled = own.hidden;
    fill(more);
    if (known) readForm(known.rubric, known.edition);
    else if (rubric.value && !own.hidden) rubric.onchange();
  };
  rubric.onchange = () => rubric.value && readForm(...rubric.value.split("/"));
  for (const field of [trainee, rubric, when]) field.disabled = true;
  const submit = async (event) => {
    event.preventDefault();
    if (!form) return;
    const known = byCode.get(session.value);
    const person = known ?? people.find((one) => one.code === trainee.value);
    const about = {person: who.code, trainee: known?.trainee ?? person.code, name: person.name ?? null, rubric: form.rubric, edition: form.edition, title: form.title,
      mode: "video", started_ms: known?.started_ms ?? new Date(when.value).getTime(), wanted_session: known?.session ?? null};
    try {
      await record(await newObservation(store, about));
    } catch (error) {
      fill(said, notice(error.message, "stops"));
    }
  };
  return make("form", {class: "begin", onsubmit: submit},
    make("div", {class: "pick"}, make("label", {}, t.session, session)), own, more, said, make("button", {class: "main large"}, t.go));
}

async function openPart() {
  const open = await openObservations(store, who.code, "video");
  const one = (observation) => make("li", {}, button(text.begin.resume(observation.name ?? observation.trainee, observation.title), () => record(observation), {class: "large"}));
  return open.length ? make("section", {}, make("h2", {}, text.begin.open), make("ul", {class: "list cards"}, open.map(one))) : null;
}

async function choose() {
  main.classList.remove("wide");
  fill(main, make("h1", {}, text.head.video), make("p", {class: "quiet"}, text.reading));
  try {
    const [{sessions}, {people}, {rubrics}, open] = await Promise.all([get("/api/sessions"), get("/api/people"), get("/api/rubrics"), openPart()]);
    const asked = new URLSearchParams(location.search).get("session");
    const form = beginForm(sessions, people.filter((one) => one.role === "trainee"), rubrics.filter((one) => one.latest));
    fill(main, make("h1", {}, text.head.video), make("p", {}, t.why), make("p", {}, text.player.stays), open, form);
    if (asked) {
      form.elements.session.value = asked;
      form.elements.session.onchange();
    }
  } catch (error) {
    fill(main, make("h1", {}, text.head.video), notice(error.message, "warns"), button(text.tryAgain, choose));
  }
}

if (!globalThis.indexedDB) fill(document.getElementById("content"), notice(text.oldBrowser, "stops"));
else {
  ({who, main} = await openPage("video", text.head.video));
  store = await openStore();
  await choose();
}
