// SPDX-License-Identifier: GPL-3.0-or-later
// The head and foot of every page, and who is looking at it.
import {ApiError, logOut, me} from "./api.js";
import {button, fill, make, notice} from "./dom.js";
import {text} from "./text.js";

const pages = {
  director: ["capture", "video", "board", "sessions", "people", "rubrics"],
  assessor: ["capture", "video", "board", "sessions"],
  trainee: ["mine", "sessions"],
};

// The pages that a role may open: [{name, path, title, about}].
export const pagesOf = (role) =>
  pages[role].map((name) => ({name, path: `/${name}`, title: text.head[name], about: text.home.about[name]}));

const wide = matchMedia("(min-width: 700px)");

function head(who, here) {
  const link = (page) => make("a", {href: page.path, "aria-current": page.name === here ? "page" : null}, page.title);
  const menu = make("details", {class: "menu", open: wide.matches}, make("summary", {}, text.head.pages),
    make("nav", {"aria-label": text.head.pages}, pagesOf(who.role).map(link)));
  wide.onchange = () => (menu.open = wide.matches); // a tablet that is turned
  return make("header", {class: "head"},
    make("a", {class: "skip", href: "#content"}, text.skip),
    make("a", {class: "brand", href: "/"}, text.product),
    menu,
    make("span", {class: "quiet push"}, text.head.who(who.name, text.head.roles[who.role])),
    button(text.head.logOut, logOut));
}

// Draws head and foot round <main id="content"> and returns {who, main}. Until the server answers the page says so and
// asks again; a login that has ended leads to the form.
export async function openPage(here, title) {
  const main = document.getElementById("content");
  document.title = `${title} - ${text.product}`;
  for (;;) {
    try {
      const who = await me();
      document.body.prepend(head(who, here));
      document.body.append(make("footer", {class: "foot"}, text.caution));
      return {who, main};
    } catch (error) {
      if (!(error instanceof ApiError)) throw error;
      if (error.isDoor) location.reload();
      fill(main, notice(error.message, "warns"));
      await new Promise((resolve) => setTimeout(resolve, 2000));
    }
  }
}
