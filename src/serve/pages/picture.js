// SPDX-License-Identifier: GPL-3.0-or-later
// The server's pictures. One that may not be seen, or is not there yet, says so in its place.
import {fill, make} from "./dom.js";
import {text} from "./text.js";

async function whyNot(address) {
  try {
    const answer = await fetch(address, {credentials: "same-origin"});
    return (await answer.json()).message ?? text.noPicture;
  } catch {
    return text.noPicture;
  }
}

export function picture(address, words) {
  const box = make("figure", {class: "picture-box", tabindex: "0", role: "group", "aria-label": words});
  const image = make("img", {class: "picture", alt: words, src: address});
  image.onerror = async () => {
    box.removeAttribute("tabindex");
    fill(box, make("p", {class: "quiet"}, await whyNot(address)));
  };
  box.append(image);
  return box;
}
