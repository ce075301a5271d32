// SPDX-License-Identifier: GPL-3.0-or-later
// People and who of them may log in.
import {get, post} from "./api.js";
import {button, fill, make, notice} from "./dom.js";
import {openPage} from "./frame.js";
import {text} from "./text.js";

const t = text.people;
const ROLES = ["trainee", "assessor", "director"];
const PIN_DIGITS = 8;

const list = make("div");
const said = make("div", {"aria-live": "polite"});
let people = [];
let wanted = "";

// The list ------------------------------------------------------------------------------

const cell = (label, ...what) => make("td", {"data-label": label}, what);

function row(person) {
  const {code, name, role, level, cohort, account} = person;
  return make("tr", {"data-code": code},
    make("th", {scope: "row"}, code), cell(t.name, name ?? ""), cell(t.role, text.head.roles[role]), cell(t.level, level ?? ""), cell(t.cohort, cohort ?? ""),
    cell(t.account, make("div", {class: "apart"}, make("span", {class: account ? "" : "quiet"}, account ? t.has : t.hasNot),
      button(account ? t.reset : t.give, () => askSecret(person), {"aria-label": t.ofPerson(account ? t.reset : t.give, code), "data-key": `secret/${code}`}),
      account ? button(t.remove, () => askRemove(person), {"aria-label": t.ofPerson(t.remove, code), "data-key": `remove/${code}`}) : null)));
}

const fits = ({code, name, cohort}) => [code, name, cohort].some((one) => (one ?? "").toLowerCase().includes(wanted));

function draw() {
  const shown = people.filter(fits);
  const heads = [t.code, t.name, t.role, t.level, t.cohort, t.account];
  fill(list,
    make("p", {class: "quiet"}, wanted ? t.someOf(shown.length, people.length) : t.all(people.length)),
    shown.length
      ? make("table", {class: "cells"}, make("caption", {class: "heard"}, text.head.people),
          make("thead", {}, make("tr", {}, heads.map((head) => make("th", {scope: "col"}, head)))), make("tbody", {}, shown.map(row)))
      : notice(people.length ? t.noneFit : t.nobody));
}

async function read() {
  people = (await get("/api/people")).people;
  draw();
}

// Questions in a dialog ---------------------------------------------------------------------

// Shows a form over the page; send() may throw what the server says, and the form stays with it.
function ask(title, fields, go, send) {
  const wrong = make("div", {role: "alert"});
  const dialog = make("dialog", {"aria-label": title, onclose: () => dialog.remove()});
  const submit = async (event) => {
    event.preventDefault();
    try {
      await send(event.currentTarget.elements);
      dialog.close();
      await read();
    } catch (error) {
      fill(wrong, make("p", {class: "notice stops"}, error.message));
    }
  };
  dialog.append(make("form", {onsubmit: submit}, make("h2", {}, title), fields, wrong,
    make("div", {class: "apart"}, make("button", {class: "main"}, go), button(text.close, () => dialog.close()))));
  document.body.append(dialog);
  dialog.showModal();
}

function newPin() {
  const digits = [...crypto.getRandomValues(new Uint32Array(PIN_DIGITS))].map((one) => one % 10);
  return digits.join("");
}

function askSecret(person) {
  const {code, name, role} = person;
  const input = make("input", {name: "secret", required: true, autocomplete: "off", spellcheck: "false", autocapitalize: "none", minlength: role === "director" ? "10" : "6"});
  ask(t.secretTitle(name ?? code),
    [make("p", {}, role === "director" ? t.secretDirector : t.secretHint), make("label", {}, t.secret, input),
      role === "director" ? null : button(t.propose, () => (input.value = newPin()))],
    t.secretGo,
    async ({secret}) => {
      await post(`/api/people/${encodeURIComponent(code)}/account`, {secret: secret.value});
      fill(said, notice(t.secretDone(code)));
    });
}

function askRemove({code, name}) {
  ask(t.removeTitle(name ?? code), [make("p", {}, t.removeWhy)], t.removeGo, async () => {
    await post(`/api/people/${encodeURIComponent(code)}/account`, {remove: true});
    fill(said, notice(t.removeDone(code)));
  });
}

function askNew() {
  const field = (name, words, about = {}) => make("label", {}, words, make("input", {name, autocomplete: "off", ...about}));
  ask(t.addTitle,
    [field("code", t.code, {required: true, maxlength: "40", spellcheck: "false", autocapitalize: "characters"}), field("name", t.name, {maxlength: "200"}),
      make("label", {}, t.role, make("select", {name: "role"}, ROLES.map((role) => make("option", {value: role}, text.head.roles[role])))),
      field("level", t.level, {maxlength: "40"}), field("cohort", t.cohort, {maxlength: "40"})],
    t.addGo,
    async ({code, name, role, level, cohort}) => {
      const told = (one) => one.value.trim() || null;
      await post("/api/people", {code: code.value.trim(), name: told(name), role: role.value, level: told(level), cohort: told(cohort)});
      fill(said, notice(t.addDone(code.value.trim())));
    });
}

// The page -------------------------------------------------------------------------------------

const {main} = await openPage("people", text.head.people);
const search = make("input", {type: "search", autocomplete: "off", oninput: () => ((wanted = search.value.trim().toLowerCase()), draw())});
fill(main,
  make("div", {class: "apart"}, make("h1", {}, text.head.people), button(t.add, askNew, {class: "main push"})),
  make("label", {}, t.search, search), said, list);
fill(list, make("p", {class: "quiet"}, text.reading));
await read().catch((error) => fill(list, notice(error.message, "warns"), button(text.tryAgain, () => location.reload())));
