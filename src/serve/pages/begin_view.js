// SPDX-License-Identifier: GPL-3.0-or-later
// Beginning at a bench: who, what, which variant, where; the cautions; and the start of the clock.
import {get} from "./api.js";
import {Bench} from "./bench.js";
import {button, fill, make, notice} from "./dom.js";
import {text} from "./text.js";
import {momentOf} from "./touch.js";

const t = text.begin;

// Asks the server and remembers the answer; while it is away, what was remembered.
export async function asked(store, path) {
  try {
    const answer = await get(path);
    await store.remember(path, answer);
    return {answer, remembered: false};
  } catch (error) {
    const answer = error.status === 0 ? await store.recall(path) : undefined;
    if (answer === undefined) throw error;
    return {answer, remembered: true};
  }
}

export const formPath = (rubric, edition) => `/api/rubrics/${encodeURIComponent(rubric)}/${edition}`;

// Station and model in the record, in the words of the contract, whatever the page's language.
const placeNote = (station, model) => [station && `Station ${station}.`, model && `Model ${model}.`].filter(Boolean).join(" ");

export class BeginView {
  #store;
  #who;
  #begun;
  #people = [];
  #rubrics = [];
  #form = null;
  #more = make("div", {class: "stack"});
  #said = make("div", {role: "alert"});
  #open = make("section", {});
  #fields = {};

  root = make("section", {class: "begin stack"});

  // begun(bench): the clock runs.
  constructor(store, who, begun) {
    this.#store = store;
    this.#who = who;
    this.#begun = begun;
  }

  // Reads the lists and draws the form. `held`: ids of observations that this tablet holds already.
  async load(held) {
    try {
      const [people, rubrics] = await Promise.all([asked(this.#store, "/api/people"), asked(this.#store, "/api/rubrics")]);
      this.#people = people.answer.people.filter((one) => one.role === "trainee");
      this.#rubrics = rubrics.answer.rubrics.filter((one) => one.latest !== false);
      this.#draw(people.remembered || rubrics.remembered);
      if (!people.remembered) await this.#listOpen(held);
    } catch (error) {
      fill(this.root, make("h1", {}, t.title), notice(error.message, "warns"), button(text.tryAgain, () => this.load(held)));
    }
  }

  #draw(remembered) {
    const {trainee, rubric} = (this.#fields = {
      trainee: this.#select("trainee", this.#people.map((one) => [one.code, `${one.name} (${one.code})`])),
      rubric: this.#select("rubric", this.#rubrics.map((one) => [`${one.rubric}/${one.edition}`, t.edition(one.title, one.edition)])),
      station: make("input", {name: "station", maxlength: "20", autocomplete: "off"}),
      model: make("input", {name: "model", maxlength: "20", autocomplete: "off"}),
    });
    rubric.onchange = () => this.#chooseRubric(rubric.value);
    fill(this.root,
      make("h1", {}, t.title), this.#open,
      remembered ? notice(t.unreachable, "warns") : null,
      this.#people.length ? null : notice(t.noPeople, "warns"), this.#rubrics.length ? null : notice(t.noRubrics, "warns"),
      make("div", {class: "pick"}, make("label", {}, t.trainee, trainee), make("label", {}, t.exercise, rubric),
        make("label", {}, t.station, this.#fields.station), make("label", {}, t.model, this.#fields.model)),
      this.#more);
  }

  #select(name, options) {
    return make("select", {name}, make("option", {value: ""}, t.choose), options.map(([value, words]) => make("option", {value}, words)));
  }

  async #chooseRubric(name) {
    fill(this.#said);
    fill(this.#more);
    this.#form = null;
    if (!name) return;
    const [rubric, edition] = name.split("/");
    try {
      this.#form = (await asked(this.#store, formPath(rubric, edition))).answer;
      this.#drawForm();
    } catch (error) {
      fill(this.#more, notice(error.message, "warns"), button(text.tryAgain, () => this.#chooseRubric(name)));
    }
  }

  #drawForm() {
    const {injects, cautions} = this.#form;
    const variant = (one) => make("label", {class: "tick"}, make("input", {type: "checkbox", name: "variant", value: one.id}), one.title);
    fill(this.#more,
      injects.length ? make("fieldset", {}, make("legend", {}, t.variant), make("p", {class: "quiet"}, t.variantHint), injects.map(variant)) : null,
      make("section", {class: "notice warns"}, make("h2", {}, t.cautions), make("ul", {}, cautions.map((words) => make("li", {}, words))),
        make("label", {class: "tick"}, make("input", {type: "checkbox", name: "read"}), t.read)),
      button(t.start, (event) => this.#start(momentOf(event)), {class: "main large", "data-key": "begin/start"}),
      this.#said);
  }

  async #start(moment) {
    const {trainee, station, model} = this.#fields;
    const person = this.#people.find((one) => one.code === trainee.value);
    if (!person || !this.#form || !this.#more.querySelector("[name=read]").checked) {
      fill(this.#said, notice(t.missing, "warns"));
      return;
    }
    const {rubric, edition, title} = this.#form;
    const about = {person: this.#who.code, trainee: person.code, name: person.name, rubric, edition, title,
      station: station.value.trim(), model: model.value.trim()};
    const place = placeNote(about.station, about.model);
    const variants = [...this.#more.querySelectorAll("[name=variant]:checked")].map((one) => ({action: "inject", item: one.value}));
    this.#begun(await Bench.begin(this.#store, about, this.#form, moment, [...(place ? [{action: "note", note: place}] : []), ...variants]));
  }

  // Own observations that are open in the book and not on this tablet: begun on another one.
  async #listOpen(held) {
    const {sessions} = await get(`/api/sessions?assessor=${encodeURIComponent(this.#who.code)}&open=1`);
    const open = sessions.flatMap((session) => session.observations
      .filter((one) => one.assessor === this.#who.code && one.mode === "live" && !one.closed && !held.has(one.id))
      .map((one) => ({...session, id: one.id})));
    const one = (row) => make("li", {}, button(t.resume(row.name, row.title), () => this.#adopt(row), {class: "large"}));
    fill(this.#open, open.length ? [make("h2", {}, t.open), make("ul", {class: "list cards"}, open.map(one))] : []);
  }

  async #adopt(row) {
    const form = (await asked(this.#store, formPath(row.rubric, row.edition))).answer;
    const whole = await get(`/api/observations/${row.id}`);
    const {trainee, name, rubric, edition, title, session, id} = row;
    this.#begun(await Bench.adopt(this.#store, {person: this.#who.code, trainee, name, rubric, edition, title, session, id,
      station: whole.station ?? "", model: "", mode: whole.mode, started_ms: whole.started_ms}, form, whole.entries));
  }
}
