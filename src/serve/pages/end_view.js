// SPDX-License-Identifier: GPL-3.0-or-later
// After the work: ratings, measures, closing, the receipt and the result.
import {get, post} from "./api.js";
import {button, fill, make, notice} from "./dom.js";
import {expected, unjudged} from "./expect.js";
import {text} from "./text.js";

const t = text.end;
const points = (mp) => (Math.trunc(mp / 100) / 10).toString(); // cut to one decimal

export class EndView {
  #bench;
  #back;
  #leave;
  #judged = make("div", {class: "stack"});
  #closing = make("div", {class: "stack"});
  #said = make("div", {role: "alert"});
  #result = null;
  #asked = false;

  root = make("section", {class: "end stack"});

  constructor(bench, {back, leave}) {
    this.#bench = bench;
    this.#back = back;
    this.#leave = leave;
    this.root.append(this.#judged, this.#said, this.#closing);
  }

  draw() {
    const {closed} = this.#bench.observation;
    if (closed) fill(this.#judged);
    else if (!this.#isWriting()) fill(this.#judged, this.#judging());
    fill(this.#closing, closed ? this.#closed() : this.#open());
    if (closed && !this.#asked) this.#ask();
  }

  // A value that is being typed is not drawn over; one that is logged is.
  #isWriting() {
    const field = document.activeElement;
    return this.#judged.contains(field) && field.tagName === "INPUT" && field.value !== field.defaultValue &&
      field.value !== this.#given("measure", field.name);
  }

  // Judging -------------------------------------------------------------------

  #given(action, id) {
    return [...this.#bench.log].reverse().find((event) => event.action === action && event.item === id)?.value ?? "";
  }

  #give(action, id, value) {
    return this.#bench.add([{action, item: id, value, at_ms: this.#bench.entryTime(performance.now(), 0)}]);
  }

  #judging() {
    const {form, log} = this.#bench;
    return [
      make("div", {class: "apart"}, make("h2", {class: "title"}, t.title), button(text.bench.backToWork, this.#back, {"data-key": "end/back"})),
      form.ratings.length ? make("h3", {}, t.rating) : null, form.ratings.map((one) => this.#rating(one)),
      form.measures.length ? make("h3", {}, t.measure) : null, form.measures.map((one) => this.#measure(one)),
      make("p", {}, t.owed(unjudged(form, log).length)), this.#owedSteps(),
    ];
  }

  #owedSteps() {
    const {owed} = expected(this.#bench.form, this.#bench.log);
    const row = (one) => make("li", {}, one.title, one.critical ? make("span", {class: "critical"}, ` ${text.bench.critical}`) : null);
    return owed.length ? make("section", {}, make("h2", {}, text.bench.owedTitle), make("ul", {}, owed.map(row))) : null;
  }

  #rating({id, title, anchors}) {
    const given = this.#given("rate", id);
    const level = (anchor, i) => make("button", {type: "button", class: "large level", "aria-pressed": String(given === String(i + 1)), "data-key": `rate/${id}/${i + 1}`, onclick: () => this.#give("rate", id, String(i + 1))},
      make("b", {}, String(i + 1)), anchor ? make("small", {}, anchor) : null);
    return make("fieldset", {}, make("legend", {}, title), make("div", {class: "choices"}, anchors.map(level)));
  }

  #measure({id, title, unit}) {
    const given = this.#given("measure", id).replace(` ${unit}`, "");
    const input = make("input", {inputmode: "decimal", size: "6", autocomplete: "off", name: id, value: given, "data-key": `measure/${id}`});
    const send = () => {
      const value = input.value.trim().replace(",", ".");
      const fits = /^-?\d+(\.\d{1,3})?$/.test(value);
      input.setAttribute("aria-invalid", String(!fits && value !== ""));
      if (fits && value !== given) this.#give("measure", id, value);
    };
    return make("label", {class: "measure"}, `${title} (${unit})`, make("span", {class: "apart"},
      Object.assign(input, {onchange: send}), make("span", {class: "quiet"}, given ? "" : t.unsaid)));
  }

  // Closing -------------------------------------------------------------------

  #open() {
    const {unsent, clock} = this.#bench;
    return [
      make("h2", {}, t.closeTitle), make("p", {}, t.closeWhy),
      clock.finished ? null : notice(t.closeOpen, "warns"),
      unsent ? notice(t.closeWait(unsent), "warns") : null,
      button(t.closeGo, () => this.#close(), {class: "main large", disabled: unsent > 0 || this.#bench.observation.id === null, "data-key": "end/close"}),
    ];
  }

  async #close() {
    const {observation, known} = this.#bench;
    const path = `/api/observations/${observation.id}`;
    fill(this.#said);
    try {
      const {receipt} = await post(`${path}/close`, {entries: known});
      await this.#bench.closedWith(receipt);
    } catch (error) {
      fill(this.#said, notice(t.missing(error.message), "stops"));
      if (error.status === 409) await this.#reread(path);
    }
  }

  // The book has other entries than this tablet: they are read, and the person looks before closing again.
  async #reread(path) {
    const {entries, closed, receipt} = await get(path);
    await this.#bench.learn(entries);
    if (closed) await this.#bench.closedWith(receipt);
    else this.#said.append(notice(t.reread, "warns"));
  }

  #closed() {
    const {observation} = this.#bench;
    return [
      make("p", {class: "quiet"}, t.session(observation.session)),
      make("h2", {class: "title"}, t.receipt), make("p", {class: "receipt", "aria-label": t.receipt}, observation.receipt), make("p", {}, t.receiptWhy),
      button(t.leave, this.#leave, {class: "main large", "data-key": "end/leave"}), this.#result,
    ];
  }

  // The result, as far as this person may see it.
  async #ask() {
    this.#asked = true;
    try {
      this.#result = this.#resultPart(await get(`/api/observations/${this.#bench.observation.id}/result`));
    } catch (error) {
      this.#result = notice(t.resultNot(error.message), "warns");
      this.#asked = error.status !== 0;
    }
    fill(this.#closing, this.#closed());
  }

  #resultPart({outcome, words, reasons = [], ledger = []}) {
    const lost = ledger.filter((row) => row.given_mp < row.possible_mp);
    const row = (one) => make("tr", {}, make("td", {}, one.title, one.words ? make("p", {class: "quiet"}, one.words) : null),
      make("td", {class: "number"}, one.possible_mp ? t.of(points(one.given_mp), points(one.possible_mp)) : points(one.given_mp)));
    return make("section", {}, make("h2", {}, t.result),
      make("p", {class: `outcome ${outcome}`}, words ?? t.outcome[outcome]),
      reasons.length ? [make("h3", {}, t.reasons), make("ul", {}, reasons.map((one) => make("li", {}, one.words)))] : null,
      lost.length ? make("div", {class: "sheet"}, make("table", {}, make("caption", {}, t.points),
        make("thead", {}, make("tr", {}, make("th", {scope: "col"}, t.what), make("th", {scope: "col", class: "number"}, t.given))),
        make("tbody", {}, lost.map(row)))) : null,
      make("p", {}, make("a", {href: `/api/sessions/${encodeURIComponent(this.#bench.observation.session)}/review`}, t.review)));
  }
}
