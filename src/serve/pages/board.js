// SPDX-License-Identifier: GPL-3.0-or-later
// The board: who works at which bench, in which phase, how long against the target. It is read from across the room.
import {ApiError, get, lab} from "./api.js";
import {clockWords} from "./clock.js";
import {fill, make, notice} from "./dom.js";
import {hourWords, path} from "./figures.js";
import {openPage} from "./frame.js";
import {text} from "./text.js";

const t = text.board;
const TICK_MS = 1000;
const ASK_MS = 10000; // a Wi-Fi that is gone closes no connection; so the board is asked for now and then

const benches = new Map(); // id -> {bench, heard: moment of performance.now(), card}
const state = make("p", {class: "board-state", role: "status"});
const grid = make("div", {class: "benches"});
let lost = null; // wall time since when nothing is heard

// What a card says ---------------------------------------------------------------

const elapsed = ({bench, heard}) => bench.elapsed_ms + (bench.paused || lost ? 0 : performance.now() - heard);

function timeWords(bench, elapsed_ms) {
  const over = bench.target_ms > 0 && elapsed_ms > bench.target_ms;
  const limit = bench.limit_ms > 0 && elapsed_ms > bench.limit_ms;
  if (limit) return {words: t.overLimit(clockWords(elapsed_ms - bench.limit_ms)), kind: "critical"};
  if (over) return {words: t.over(clockWords(elapsed_ms - bench.target_ms)), kind: "attention"};
  return {words: bench.target_ms > 0 ? t.of(clockWords(bench.target_ms)) : "", kind: "quiet"};
}

function bar(bench, elapsed_ms) {
  if (!bench.target_ms) return null;
  const whole_ms = Math.max(bench.limit_ms, bench.target_ms, elapsed_ms);
  const done = make("div", {class: elapsed_ms > bench.target_ms ? "done late" : "done"});
  const target = make("div", {class: "target"});
  done.style.width = `${(100 * elapsed_ms) / whole_ms}%`;
  target.style.left = `${(100 * bench.target_ms) / whole_ms}%`;
  return make("div", {class: "bar", "aria-hidden": "true"}, done, target);
}

function lastWords({last}) {
  if (!last) return t.noEntry;
  const ago_ms = lab.known ? Math.max(0, lab.at(performance.now()) - last.wall_ms) : 0;
  return t.last(last.words, lost ? null : clockWords(ago_ms));
}

function drawCard(kept) {
  const {bench, card} = kept;
  const elapsed_ms = elapsed(kept);
  const name = bench.name ?? bench.trainee;
  const {words, kind} = timeWords(bench, elapsed_ms);
  card.className = `card ${kind === "quiet" ? "" : "late"} ${bench.paused ? "paused" : ""}`;
  fill(card,
    make("h2", {}, make("a", {href: path("/session", {code: bench.session}), "data-key": `bench/${bench.id}`, "aria-label": t.bench(bench.station, name)},
      bench.station ? make("span", {class: "station"}, bench.station) : null, make("span", {class: "who"}, name))),
    make("p", {class: "time"}, make("b", {class: "big"}, clockWords(elapsed_ms)),
      bench.paused ? make("b", {class: "attention"}, t.paused) : null, make("span", {class: kind}, words)),
    bar(bench, elapsed_ms),
    make("p", {class: "phase"}, bench.phase_title ?? t.noPhase),
    make("p", {class: "last quiet"}, lastWords(bench)),
    make("p", {class: "about quiet"}, t.about(bench.title, bench.assessor)));
}

// The page -------------------------------------------------------------------------

const order = new Intl.Collator(text.locale, {numeric: true});
const inOrder = (a, b) => order.compare(a.bench.station ?? "~", b.bench.station ?? "~") || a.bench.id - b.bench.id;

function drawState() {
  const words = lost ? t.lost(hourWords(lost)) : benches.size ? t.live(benches.size) : t.nobody;
  if (state.textContent !== words) fill(state, words);
  state.className = lost ? "board-state notice stops" : "board-state";
  grid.classList.toggle("stale", lost !== null);
}

// Cards stay where they are as long as the same benches are open: nobody has to look for one again.
function drawCards() {
  const shown = [...benches.values()].sort(inOrder);
  shown.forEach(drawCard);
  const cards = shown.map((kept) => kept.card);
  if (cards.length !== grid.children.length || cards.some((card, i) => card !== grid.children[i])) grid.replaceChildren(...cards);
  drawState();
}

function take(bench) {
  const card = benches.get(bench.id)?.card ?? make("article", {class: "card", "data-bench": bench.id});
  benches.set(bench.id, {bench, heard: performance.now(), card});
}

function takeAll(list) {
  const open = new Set(list.map((bench) => bench.id));
  for (const id of benches.keys()) if (!open.has(id)) benches.delete(id);
  list.forEach(take);
}

function setLost(is) {
  if (is && lost === null) lost = Date.now();
  if (!is) lost = null;
}

// Hearing ----------------------------------------------------------------------------

async function askAll() {
  try {
    takeAll((await get("/api/board")).benches);
    setLost(false);
  } catch (error) {
    if (!(error instanceof ApiError)) throw error;
    if (error.isDoor) location.reload();
    setLost(true);
  }
  drawCards();
}

function listen() {
  const live = new EventSource("/api/live");
  live.addEventListener("bench", ({data}) => (take(JSON.parse(data)), setLost(false), drawCards()));
  live.addEventListener("closed", ({data}) => (benches.delete(JSON.parse(data).id), setLost(false), drawCards()));
  live.onopen = askAll; // what happened while nobody listened
  live.onerror = () => {
    setLost(true);
    drawCards();
    if (live.readyState === EventSource.CLOSED) setTimeout(listen, ASK_MS); // refused, not cut: it does not try again itself
  };
}

const {main} = await openPage("board", text.head.board);
main.classList.add("board");
fill(main, make("h1", {class: "heard"}, text.head.board), state, grid);
fill(state, t.asking);
await askAll();
listen();
setInterval(askAll, ASK_MS);
setInterval(drawCards, TICK_MS);
