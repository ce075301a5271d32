// SPDX-License-Identifier: GPL-3.0-or-later
// A session's video beside its record: a touch on a time shows that moment. Records count from the start of the work, a
// file from where somebody pressed its button; the place of the start in the file is set once, and kept on this machine.
import {clockWords} from "./clock.js";
import {button, fill, make} from "./dom.js";
import {effective, eventsOf} from "./log.js";
import {isTaken, Player} from "./player.js";
import {text} from "./text.js";

const t = text.watching;

// "1:05", "65", "0:01:05" as milliseconds; null: no time.
export function readClock(words) {
  if (!/^\d+(:[0-5]?\d){0,2}([.,]\d+)?$/.test(words.trim())) return null;
  const parts = words.trim().replace(",", ".").split(":").map(Number);
  return Math.round(parts.reduce((sum, part) => sum * 60 + part, 0) * 1000);
}

// The log that counts, from an observation's entries as they were sent.
export const logOf = (entries) => effective(eventsOf(entries.map((entry, place) => ({entry, place, state: "safe", seq: entry.seq ?? null}))));

// Where an observation's own clock has the start of the work.
export const startOf = (log) => log.find((event) => event.action === "start")?.at_ms ?? 0;

export class Watching {
  #player = new Player({opened: () => this.#opened()});
  #shift = make("div", {hidden: true});
  #field = make("input", {size: "7", autocomplete: "off", inputmode: "text", "aria-describedby": "shift-why"});
  #name;
  #start_ms;

  root = make("section", {class: "beside", "aria-label": t.title});

  // `session`: its code; `start_ms`: where the file has the start, as long as nobody has said so.
  constructor(session, start_ms) {
    this.#name = `video-start/${session}`;
    const kept = Number(localStorage.getItem(this.#name) ?? NaN);
    this.#start_ms = Number.isFinite(kept) ? kept : start_ms;
    fill(this.#shift,
      make("div", {class: "apart"}, make("label", {}, t.start, this.#field), button(t.here, () => this.#set(this.#player.head.at_ms), {"data-key": "watching/here"})),
      make("p", {class: "quiet small", id: "shift-why"}, t.startWhy));
    this.#field.onchange = () => this.#set(readClock(this.#field.value) ?? this.#start_ms);
    this.root.append(make("h2", {}, t.title), this.#player.root, this.#shift);
    addEventListener("keydown", (event) => !isTaken(event) && this.#player.key(event) && event.preventDefault());
  }

  #opened() {
    this.#shift.hidden = false;
    this.root.classList.add("plays"); // from now on it stays in sight
    this.#set(this.#start_ms);
  }

  #set(ms) {
    this.#start_ms = ms;
    this.#field.value = clockWords(ms);
    localStorage.setItem(this.#name, String(ms));
  }

  // Shows a moment so long after the start of the work.
  show(since_start_ms) {
    if (this.#player.ready) this.#player.show(this.#start_ms + since_start_ms);
    else this.#player.root.querySelector("input").focus();
  }

  // A time as a button that shows it; `start_ms` is where the record's own clock has the start.
  timeButton(at_ms, start_ms, words) {
    return button(clockWords(at_ms), () => this.show(at_ms - start_ms), {class: "when-button", "aria-label": t.show(clockWords(at_ms), words)});
  }
}
