// SPDX-License-Identifier: GPL-3.0-or-later
// The form that stands at every page as long as nobody is logged in.
import {logIn} from "./api.js";
import {fill, make, notice} from "./dom.js";
import {openStore} from "./store.js";
import {text} from "./text.js";

const answer = make("div", {role: "alert"});
const held = make("div");

function field(name, label, about) {
  return make("label", {}, label, make("input", {name, required: true, ...about}));
}

async function send(event) {
  event.preventDefault();
  const form = event.currentTarget;
  try {
    await logIn(form.elements.code.value.trim(), form.elements.secret.value);
    location.reload();
  } catch (error) {
    fill(answer, make("p", {class: "notice stops"}, error.message));
    form.elements.secret.select();
  }
}

// What lies on this tablet unsent, and whose it is.
async function tellHeld() {
  const unsent = await (await openStore()).unsentByPerson();
  const words = [...unsent].map(([code, n]) => text.login.heldBy(code, n)).join(", ");
  if (words) fill(held, notice(text.login.held(words), "warns"));
}

document.title = `${text.login.title} - ${text.product}`;
fill(document.getElementById("content"),
  make("h1", {}, text.product),
  make("form", {onsubmit: send, class: "login"},
    field("code", text.login.code, {autocomplete: "username", autocapitalize: "characters", spellcheck: "false", autofocus: ""}),
    field("secret", text.login.secret, {type: "password", autocomplete: "current-password"}),
    make("button", {class: "main large"}, text.login.go)),
  answer, held,
  make("p", {class: "quiet"}, text.login.why),
  make("p", {class: "quiet"}, text.caution));
tellHeld().catch(() => {}); // a browser without IndexedDB can still show results
