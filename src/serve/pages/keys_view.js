// SPDX-License-Identifier: GPL-3.0-or-later
// What the keys do, and their switch: single letters as commands must be possible to turn off.
import {button, fill, make} from "./dom.js";
import {text} from "./text.js";

const t = text.keys;

function table(form) {
  const row = ([key, words]) => make("tr", {}, make("td", {}, make("kbd", {}, key)), make("td", {}, words));
  const own = (form?.actions ?? []).filter((one) => one.key).map((one) => [one.key, one.title]);
  return make("table", {}, make("caption", {}, t.title), make("tbody", {}, Object.values(t.commands).map(row), own.map(row)));
}

// `toggle()` gives whether they are on now; `form()` the form whose keys count, or nothing.
export function keysPart({on, toggle, form}) {
  const list = make("div", {class: "sheet"});
  const words = (now) => (now ? t.on : t.off);
  const turn = button(words(on), () => {
    const now = toggle();
    turn.textContent = words(now);
    turn.setAttribute("aria-pressed", String(now));
  }, {"aria-pressed": String(on)});
  return make("details", {class: "keys", ontoggle: (event) => event.target.open && fill(list, table(form()))},
    make("summary", {}, t.title), turn, make("p", {class: "quiet"}, t.reader), list);
}
