// SPDX-License-Identifier: GPL-3.0-or-later
// The strip above the bench: one button for each bench, and whether all entries are safe.
import {clockWords} from "./clock.js";
import {button, fill, make} from "./dom.js";
import {text} from "./text.js";

export const BENCHES_MOST = 4;

function stateOf(bench) {
  const {clock} = bench;
  return clock.finished ? "finished" : clock.paused ? "paused" : "running";
}

function benchButton(bench, i, current, choose) {
  const {observation} = bench;
  return make("button", {type: "button", class: "large bench-button", "aria-current": String(bench === current), "data-key": `bench/${i}`, onclick: () => choose(bench)},
    make("span", {class: "small"}, text.bench.untitled(observation.station)), make("b", {}, observation.name),
    make("span", {class: "small bench-clock"}));
}

// The page's state in words: the worst of its benches'.
export function saveWords(benches) {
  const unsent = benches.reduce((sum, bench) => sum + bench.unsent, 0);
  const waiting = benches.find((bench) => bench.queue.held);
  if (waiting) {
    const why = waiting.queue.held === "wrong" ? text.save.wrong(waiting.queue.words) : text.save[waiting.queue.held];
    return {words: `${text.save.pageHere(unsent)}; ${why}`, kind: "attention"};
  }
  if (unsent === 0) return {words: text.save.pageSafe, kind: "quiet"};
  const way = benches.some((bench) => bench.queue.way.size > 0);
  return {words: way ? text.save.pageWay(unsent) : text.save.pageHere(unsent), kind: "attention"};
}

export class Strip {
  #benches = [];
  #list = make("div", {class: "choices", role: "group", "aria-label": text.bench.benches});
  #save = make("span", {class: "save", role: "status"});

  root = make("div", {class: "strip"}, this.#list, this.#save);

  draw(benches, current, choose, begin) {
    this.#benches = benches;
    fill(this.#list, benches.map((bench, i) => benchButton(bench, i, current, choose)),
      benches.length < BENCHES_MOST ? button(text.bench.another, begin, {class: "large", "aria-current": String(current === null), "data-key": "bench/new"}) : null);
    this.tick();
  }

  tick() {
    this.#benches.forEach((bench, i) => {
      this.#list.children[i].lastChild.textContent = `${clockWords(bench.active())} ${text.bench.states[stateOf(bench)]}`;
    });
    const {words, kind} = saveWords(this.#benches);
    if (this.#save.textContent !== words) this.#save.textContent = words;
    this.#save.className = `save ${kind}`;
  }
}
