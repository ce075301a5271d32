// SPDX-License-Identifier: GPL-3.0-or-later
// Home: what this person can do, what is still unsent on this tablet, and the own secret.
import {post} from "./api.js";
import {fill, make, notice} from "./dom.js";
import {openPage, pagesOf} from "./frame.js";
import {sendOld} from "./old.js";
import {text} from "./text.js";

const told = make("div", {role: "status"});
const sent = make("div", {role: "status"});

async function changeSecret(event) {
  event.preventDefault();
  const form = event.currentTarget;
  try {
    await post("/api/secret", {old: form.elements.old.value, new: form.elements.new.value});
    form.reset();
    fill(told, notice(text.home.secretDone));
  } catch (error) {
    fill(told, notice(error.message, "stops"));
  }
}

function secretForm() {
  const field = (name, label, complete) =>
    make("label", {}, label, make("input", {name, type: "password", required: true, autocomplete: complete}));
  return make("details", {},
    make("summary", {}, text.home.secretTitle),
    make("form", {onsubmit: changeSecret},
      field("old", text.home.secretOld, "current-password"),
      field("new", text.home.secretNew, "new-password"),
      make("p", {class: "quiet"}, text.home.secretHint),
      make("button", {}, text.home.secretGo)),
    told);
}

const card = (page) =>
  make("li", {}, make("a", {href: page.path, class: "button large"}, page.title), make("span", {class: "quiet"}, page.about));

const {who, main} = await openPage("home", text.head.home);
fill(main,
  make("h1", {}, text.home.title),
  make("ul", {class: "list cards"}, pagesOf(who.role).map(card)),
  sent,
  secretForm());
const n = await sendOld(who.code).catch(() => 0);
if (n) fill(sent, notice(text.save.sentOld(n)));
