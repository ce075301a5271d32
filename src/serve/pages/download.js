// SPDX-License-Identifier: GPL-3.0-or-later
// Workbooks: made by the lab's computer when they are asked for. A refusal is told in the page, not kept as a file.
import {button, fill, make, notice} from "./dom.js";
import {text} from "./text.js";

const t = text.download;

async function fetchFile(address) {
  let answer;
  try {
    answer = await fetch(address, {credentials: "same-origin"});
  } catch {
    throw new Error(text.noAnswer);
  }
  if (answer.ok) return answer.blob();
  const body = await answer.json().catch(() => ({}));
  throw new Error(body.message ?? text.strangeAnswer(answer.status));
}

function keep(blob, name) {
  const url = URL.createObjectURL(blob);
  make("a", {href: url, download: name}).click();
  setTimeout(() => URL.revokeObjectURL(url), 60000);
}

// "/exports/cohort.xlsx?rubric=forearm" is kept as "cohort-forearm.xlsx".
function nameOf(address) {
  const {pathname, searchParams} = new URL(address, location.href);
  const name = decodeURIComponent(pathname.split("/").pop());
  const rubric = searchParams.get("rubric");
  return rubric ? name.replace(/\.xlsx$/, `-${rubric}.xlsx`) : name;
}

// A button that makes and keeps a workbook, and tells of it in `said`.
export function workbookButton(words, address, said) {
  const press = async (event) => {
    const {currentTarget: pressed} = event;
    pressed.disabled = true;
    fill(said, make("p", {class: "quiet"}, t.making));
    try {
      keep(await fetchFile(address), nameOf(address));
      fill(said, make("p", {class: "quiet"}, t.done(nameOf(address))));
    } catch (error) {
      fill(said, notice(error.message, "stops"));
    } finally {
      pressed.disabled = false;
    }
  };
  return button(words, press, {"data-key": `download/${address}`});
}
