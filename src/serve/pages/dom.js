// SPDX-License-Identifier: GPL-3.0-or-later
// Making and changing what stands on a page. Text is always text: nothing here reads HTML.

const kept = (children) => children.flat(Infinity).filter((child) => child !== null && child !== undefined && child !== false);

// make("button", {class: "main", onclick: f, disabled: true}, "Start", other): attributes by their names, properties of
// functions and booleans as they are; children that are null or false are left out.
export function make(tag, about = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(about)) {
    if (value === null || value === undefined) continue;
    if (name === "class") element.className = value;
    else if (typeof value === "function" || typeof value === "boolean") element[name] = value;
    else element.setAttribute(name, value);
  }
  element.append(...kept(children));
  return element;
}

// Puts children in place of what an element holds; the focus stays on what has the same data-key.
export function fill(element, ...children) {
  const key = element.contains(document.activeElement) ? document.activeElement.dataset.key : null;
  element.replaceChildren(...kept(children));
  if (key) [...element.querySelectorAll("[data-key]")].find((found) => found.dataset.key === key)?.focus();
  return element;
}

export const button = (words, press, about = {}) => make("button", {type: "button", onclick: press, ...about}, words);

export const notice = (words, kind = "") => make("p", {class: `notice ${kind}`, role: "status"}, words);

// One of several, as buttons of which one is pressed.
export function choices(label, options, chosen, choose) {
  const pressed = (option) => String(option.value === chosen);
  return make("div", {class: "choices", role: "group", "aria-label": label},
    options.map((option) => button(option.words, () => choose(option.value),
      {"aria-pressed": pressed(option), "data-key": `${label}/${option.value}`, class: option.class ?? ""})));
}
