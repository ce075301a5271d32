// SPDX-License-Identifier: GPL-3.0-or-later
// A player: a video file of this machine, or a bare clock, with the keys for slower, a frame, five seconds back.
import {clockWords} from "./clock.js";
import {button, fill, make, notice} from "./dom.js";
import {BareHead, VideoHead} from "./playhead.js";
import {text} from "./text.js";

const t = text.player;
const FRAME_MS = 40; // 25 frames a second, the slowest that cameras usually make
const LEAP_MS = 5000;
const TICK_MS = 100;
const RATES = [0.25, 0.5, 0.75, 1, 1.5, 2];

// What a key does: name of the method, and what it is called with.
const KEYS = {
  " ": ["turn"],
  ArrowLeft: ["leap", -LEAP_MS],
  ArrowRight: ["leap", LEAP_MS],
  "Shift+ArrowLeft": ["frame", -FRAME_MS],
  "Shift+ArrowRight": ["frame", FRAME_MS],
  "Shift+ArrowDown": ["pace", -1],
  "Shift+ArrowUp": ["pace", 1],
};

export class Player {
  #video = make("video", {playsinline: "", preload: "auto", "aria-label": t.title, hidden: true});
  #said = make("div", {"aria-live": "polite"});
  #place = make("input", {type: "range", min: "0", step: "100", class: "place", "aria-label": t.place});
  #clock = make("output", {class: "head-clock"});
  #turn = button("", () => this.turn(), {class: "main turn", "data-key": "player/turn"});
  #rate = make("span", {class: "rate"});
  #choice = make("div", {class: "choices"});
  #more = make("details");
  #controls = make("div", {class: "controls", hidden: true});
  #opened;
  #bare;

  head = new VideoHead(this.#video);
  root = make("section", {class: "player", "aria-label": t.title});

  // opened(head) is called when there is something to play. `bare`: it may also be a clock without a video.
  constructor({opened = () => {}, bare = false} = {}) {
    this.#opened = opened;
    this.#bare = bare;
    this.#place.oninput = () => this.head.seek(Number(this.#place.value));
    this.#drawChoice();
    this.#drawControls();
    this.root.append(this.#choice, this.#said, this.#video, this.#controls);
    this.head.onChange(() => this.#tick());
    setInterval(() => this.head.playing && this.#tick(), TICK_MS);
  }

  get ready() {
    return !this.#controls.hidden;
  }

  // The file --------------------------------------------------------------------

  #drawChoice() {
    const file = make("input", {type: "file", accept: "video/*", "data-key": "player/file", onchange: () => file.files[0] && this.open(file.files[0])});
    fill(this.#choice,
      make("label", {class: "file"}, t.file, file),
      this.#bare ? button(t.without, () => this.#openBare(), {"data-key": "player/bare"}) : null,
      make("p", {class: "quiet small"}, t.stays));
  }

  async open(file) {
    fill(this.#said);
    try {
      await this.head.open(file);
    } catch {
      fill(this.#said, notice(t.unreadable(file.name), "stops"));
      return;
    }
    this.#video.hidden = false;
    this.#show();
  }

  #openBare() {
    this.head = new BareHead();
    this.head.onChange(() => this.#tick());
    this.#show();
  }

  // The choice of a file gives its room to what was chosen.
  #show() {
    if (!this.ready) {
      this.#choice.replaceWith(this.#video, this.#controls);
      this.#more.append(this.#choice);
    }
    this.#controls.hidden = false;
    this.#turn.focus();
    this.head.changed();
    this.#opened(this.head);
  }

  // Controls --------------------------------------------------------------------

  #drawControls() {
    const one = ([words, whole], name, by) => button(words, () => this[name](by), {"aria-label": whole, "data-key": `player/${name}/${by}`});
    this.#controls.append(
      make("div", {class: "apart clock-row"}, this.#clock, this.#place),
      make("div", {class: "choices"}, this.#turn,
        one(t.back, "leap", -LEAP_MS), one(t.on, "leap", LEAP_MS), one(t.frameBack, "frame", -FRAME_MS), one(t.frameOn, "frame", FRAME_MS),
        one(t.slower, "pace", -1), this.#rate, one(t.faster, "pace", 1)),
      this.#more);
    this.#more.append(make("summary", {}, t.more),
      make("dl", {class: "keys"}, t.keyList.flatMap(([key, words]) => [make("dt", {}, make("kbd", {}, key)), make("dd", {}, words)])));
  }

  #tick() {
    const {at_ms, length_ms, playing, rate} = this.head;
    const most = length_ms ?? Math.max(Number(this.#place.max), at_ms + 60000);
    this.#place.max = String(most);
    if (document.activeElement !== this.#place || playing) this.#place.value = String(at_ms);
    this.#place.setAttribute("aria-valuetext", clockWords(at_ms));
    this.#clock.textContent = `${clockWords(at_ms)}.${String(Math.floor((at_ms % 1000) / 10)).padStart(2, "0")}${length_ms ? t.of(clockWords(length_ms)) : ""}`;
    this.#turn.textContent = playing ? t.stop : t.play;
    this.#rate.textContent = t.rate(rate);
  }

  // What keys and buttons do ----------------------------------------------------

  turn() {
    if (this.head.playing) this.head.stop();
    else this.head.play();
  }

  leap(by_ms) {
    this.head.seek(this.head.at_ms + by_ms);
  }

  frame(by_ms) {
    this.head.stop();
    this.head.seek(this.head.at_ms + by_ms);
  }

  pace(by) {
    const now = RATES.findIndex((rate) => rate >= this.head.rate);
    this.head.rate = RATES[Math.max(0, Math.min(RATES.length - 1, now + by))];
  }

  // Jumps there and stands still a moment before it happens, so that one sees it come.
  show(at_ms) {
    this.head.seek(Math.max(0, at_ms));
    this.root.scrollIntoView({block: "nearest"});
  }

  // A key pressed outside of fields; false: it means nothing here.
  key(event) {
    const does = this.ready && !event.ctrlKey && !event.altKey && !event.metaKey && KEYS[`${event.shiftKey ? "Shift+" : ""}${event.key}`];
    if (does) this[does[0]](does[1]);
    return Boolean(does);
  }
}

// Whether a key belongs to what has the focus: a field one writes in, or a button reached by keyboard and Space.
export function isTaken(event) {
  const on = event.target;
  if (on.matches("input:not([type=checkbox]), textarea, select, dialog, dialog *")) return true;
  return event.key === " " && on.matches("button:focus-visible, summary, a, input");
}
