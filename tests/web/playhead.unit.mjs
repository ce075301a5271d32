// SPDX-License-Identifier: GPL-3.0-or-later
// Where a video stood at the moment of a touch; times as they are typed; figures as they are cut.
import assert from "node:assert/strict";
import test from "node:test";
import {apartWords, path, percent, points} from "../../src/serve/pages/figures.js";
import {BareHead, Trace} from "../../src/serve/pages/playhead.js";

test("a head that plays is where it was at the touch, at its rate", () => {
  const trace = new Trace();
  trace.mark(1000, 5000, 1);
  trace.mark(2000, 6000, 0.5);
  assert.equal(trace.at(1400), 5400);
  assert.equal(trace.at(2400), 6200);
});

test("a touch before a jump belongs before the jump", () => {
  const trace = new Trace();
  trace.mark(1000, 5000, 0);
  trace.mark(1500, 900, 0);
  assert.equal(trace.at(1499), 5000);
  assert.equal(trace.at(1500), 900);
});

test("before all that is remembered stands the first of it", () => {
  const trace = new Trace();
  assert.equal(trace.at(7), 0);
  for (let i = 0; i < 100; i++) trace.mark(i * 1000, i, 0);
  assert.equal(trace.at(0), 36); // the last 64 of 100 are kept
});

test("a clock without a video runs, stands and is moved", (t) => {
  let now = 0;
  t.mock.method(performance, "now", () => now);
  const head = new BareHead();
  head.play();
  now = 2000;
  assert.equal(head.at_ms, 2000);
  head.rate = 0.5;
  now = 4000;
  assert.equal(head.at_ms, 3000);
  head.seek(10000);
  now = 4200;
  assert.equal(head.at_ms, 10100);
  head.stop();
  now = 9000;
  assert.equal(head.at_ms, 10100);
  head.seek(-5);
  assert.equal(head.at_ms, 0);
  assert.equal(head.read(4100), 10050);
});

test("figures are cut, not rounded", () => {
  assert.equal(percent(69999), "69.9 %");
  assert.equal(percent(null), "");
  assert.equal(points(1990), "1.9");
  assert.equal(points(-1990), "-1.9");
});

test("how far two entries are apart has its sign", () => {
  assert.equal(apartWords(2049), "+0:02.0");
  assert.equal(apartWords(-61500), "\u22121:01.5");
});

test("an address has only what was said", () => {
  assert.equal(path("/sessions", {trainee: "LK 1", rubric: null, open: ""}), "/sessions?trainee=LK+1");
  assert.equal(path("/sessions", {}), "/sessions");
});
