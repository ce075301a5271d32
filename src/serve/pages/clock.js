// SPDX-License-Identifier: GPL-3.0-or-later
// Times of an observation. While a page lives they come from the browser's monotonic clock, which no setting of the wall
// clock moves. It starts anew with each page, and on some tablets it stands still while the tablet sleeps; then the
// lab's computer says how late it is.

export const APART_MS = 2000; // clocks that differ by less are of one mind

// The wall clock of the lab's computer, told by this page's monotonic clock.
export class LabClock {
  #ahead_ms = null;
  doubt_ms = Infinity; // how wrong it may be: half the time of the quickest request

  // The server said `now_ms` in answer to a request sent and answered at these moments of performance.now(). A slower
  // request than the quickest so far says something new only if it cannot be true together with that one.
  compare(now_ms, sent, answered) {
    const ahead_ms = now_ms - (sent + answered) / 2;
    const doubt_ms = (answered - sent) / 2;
    if (doubt_ms > this.doubt_ms && Math.abs(ahead_ms - this.#ahead_ms) <= doubt_ms + this.doubt_ms) return;
    this.#ahead_ms = ahead_ms;
    this.doubt_ms = doubt_ms;
  }

  get known() {
    return this.#ahead_ms !== null;
  }

  at(moment) {
    return Math.round(moment + this.#ahead_ms);
  }
}

// The middle one: of three clocks that one event has upset, two still agree.
export const agreed = (a, b, c) => Math.max(Math.min(a, b), Math.min(Math.max(a, b), c));

// The clock of one observation in one page.
export class BenchClock {
  #zero; // the moment of performance.now() at which the observation's time is 0
  #last_ms = 0;
  #check = null;

  constructor(zero) {
    this.#zero = zero;
  }

  // After a reload. `kept` is {started_ms, last_ms, wall_ms}: when it began by the lab's clock, and the last time that was
  // kept, with this tablet's wall clock then. Returns the clock and by how much the tablet's own clock differs (positive:
  // the tablet is ahead). Where they are of one mind the tablet's is the finer one; else the lab decides.
  static again(kept, moment, wall_ms, lab_ms) {
    const tablet = kept.last_ms + (wall_ms - kept.wall_ms);
    const agree = lab_ms === null || Math.abs(tablet - (lab_ms - kept.started_ms)) <= APART_MS;
    const elapsed = Math.max(agree ? tablet : lab_ms - kept.started_ms, kept.last_ms);
    const clock = new BenchClock(moment - elapsed);
    clock.#last_ms = kept.last_ms;
    return {clock, apart_ms: lab_ms === null ? 0 : Math.round(tablet - elapsed)};
  }

  // Whole milliseconds since the observation's zero; never less than what was told before.
  at(moment) {
    this.#last_ms = Math.max(this.#last_ms, this.read(moment));
    return this.#last_ms;
  }

  // The same, without holding later times to it; for moments before now.
  read(moment) {
    return Math.max(0, Math.round(moment - this.#zero));
  }

  // Compares the three clocks since the last comparison and returns by how much this one was put right (0: it was right).
  // Only a monotonic clock that stood still is put right; a wall clock that was set, here or there, changes nothing.
  check(moment, wall_ms, lab_ms) {
    const before = this.#check;
    this.#check = {moment, wall_ms, lab_ms};
    if (!before) return 0;
    const passed = moment - before.moment;
    const right = agreed(passed, wall_ms - before.wall_ms, lab_ms - before.lab_ms);
    if (right - passed < APART_MS) return 0;
    this.#zero -= right - passed;
    return Math.round(right - passed);
  }
}

// The clock's story as the log tells it: {started, start_ms, finished, end_ms, paused, active(at_ms)}. The engine judges
// it; here it only drives the display.
export function story(log) {
  const told = {started: false, start_ms: 0, finished: false, end_ms: Infinity, paused: false};
  const pauses = []; // [from, to], the last one open as long as `paused`
  for (const event of log) {
    if (event.action === "start" && !told.started) Object.assign(told, {started: true, start_ms: event.at_ms});
    else if (!told.started || told.finished) continue;
    else if (event.action === "finish") Object.assign(told, {finished: true, end_ms: event.at_ms});
    else if (event.action === "pause" && !told.paused) pauses.push([event.at_ms, Infinity]);
    else if (event.action === "resume" && told.paused) pauses.at(-1)[1] = event.at_ms;
    told.paused = pauses.length > 0 && pauses.at(-1)[1] === Infinity;
  }
  // Unpaused time from the start to a moment, which may be long ago.
  told.active = (at_ms) => {
    if (!told.started) return 0;
    const until = Math.min(at_ms, told.end_ms);
    const paused = pauses.reduce((sum, [from, to]) => sum + Math.max(0, Math.min(to, until) - from), 0);
    return Math.max(0, until - told.start_ms - paused);
  };
  return told;
}

// 12:41, 1:02:03; cut, not rounded.
export function clockWords(ms) {
  const s = Math.floor(ms / 1000);
  const two = (n) => String(n).padStart(2, "0");
  const [hours, minutes] = [Math.floor(s / 3600), Math.floor(s / 60) % 60];
  return hours ? `${hours}:${two(minutes)}:${two(s % 60)}` : `${minutes}:${two(s % 60)}`;
}
