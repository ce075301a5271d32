// SPDX-License-Identifier: GPL-3.0-or-later
// Times: of one page, across a reload, and when clocks disagree.
import assert from "node:assert/strict";
import test from "node:test";
import {agreed, BenchClock, clockWords, LabClock, story} from "../../src/serve/pages/clock.js";

test("the lab's time is that in the middle of the request", () => {
  const lab = new LabClock();
  assert.equal(lab.known, false);
  lab.compare(1_000_000, 100, 140);
  assert.equal(lab.at(120), 1_000_000);
  assert.equal(lab.at(1120), 1_001_000);
});

test("the quickest answer is believed, until a slower one cannot be true with it", () => {
  const lab = new LabClock();
  lab.compare(1_000_000, 0, 40);
  lab.compare(1_001_400, 1000, 3000);
  assert.equal(lab.at(20), 1_000_000, "1.4 s of 2 s on the way back");
  lab.compare(2_000_000, 5000, 5100);
  assert.equal(lab.at(5050), 2_000_000, "the page's clock stood still");
});

test("time never goes back, and is never below zero", () => {
  const clock = new BenchClock(1000);
  assert.equal(clock.at(900), 0);
  assert.equal(clock.at(3500.4), 2500);
  assert.equal(clock.at(3000), 2500);
  assert.equal(clock.read(3000), 2000, "a moment before now may be read");
});

const kept = {started_ms: 5_000_000, last_ms: 60_000, wall_ms: 5_060_000};

test("after a reload the lab says how late it is", () => {
  const {clock, apart_ms} = BenchClock.again(kept, 200, 5_070_000, 5_070_000);
  assert.equal(clock.at(200), 70_000);
  assert.equal(clock.at(1200), 71_000);
  assert.equal(apart_ms, 0);
});

test("a tablet whose wall clock was set while the page was away is told by how much", () => {
  const ahead = BenchClock.again(kept, 0, 5_070_000 + 3_600_000, 5_070_000);
  assert.equal(ahead.clock.at(0), 70_000);
  assert.equal(ahead.apart_ms, 3_600_000);
  assert.equal(BenchClock.again(kept, 0, 4_000_000, 5_070_000).apart_ms, 4_000_000 - 5_070_000);
});

test("nothing is logged before what was logged already, whatever the clocks say", () => {
  const {clock} = BenchClock.again(kept, 0, 1_000_000, 5_000_000);
  assert.equal(clock.at(0), 60_000);
});

test("without the lab the tablet's clock is taken", () => {
  const {clock, apart_ms} = BenchClock.again(kept, 0, 5_065_000, null);
  assert.equal(clock.at(0), 65_000);
  assert.equal(apart_ms, 0);
});

test("of three clocks the two that agree are believed", () => {
  for (const order of [[1, 2, 9], [9, 1, 2], [2, 9, 1], [1, 9, 2]]) assert.equal(agreed(...order), 2);
});

test("a wall clock that jumps, here or at the lab, changes nothing while the page lives", () => {
  const clock = new BenchClock(0);
  clock.check(1000, 10_000, 20_000);
  assert.equal(clock.check(31_000, 40_000 + 7_200_000, 50_000), 0);
  assert.equal(clock.check(61_000, 70_000 + 7_200_000, 80_000 - 3_600_000), 0);
  assert.equal(clock.at(61_000), 61_000);
});

test("a monotonic clock that stood still while the tablet slept is put right", () => {
  const clock = new BenchClock(0);
  clock.check(10_000, 10_000, 20_000);
  assert.equal(clock.check(11_000, 611_000, 621_000), 600_000);
  assert.equal(clock.at(11_000), 611_000);
  assert.equal(clock.check(12_000, 612_000, 622_000), 0);
});

test("the clock's story: pauses do not count, an open pause ends nothing, finish stops", () => {
  const at = (s, action) => ({action, at_ms: s * 1000});
  assert.equal(story([]).active(5000), 0);
  const paused = story([at(0, "start"), at(10, "pause"), at(20, "resume"), at(30, "pause")]);
  assert.ok(paused.paused);
  assert.equal(paused.active(90_000), 20_000);
  const finished = story([at(2, "start"), at(3, "start"), at(10, "pause"), at(20, "resume"), at(32, "finish"), at(40, "pause")]);
  assert.ok(finished.finished && !finished.paused);
  assert.equal(finished.active(90_000), 20_000);
});

test("times in words are cut, not rounded", () => {
  assert.equal(clockWords(0), "0:00");
  assert.equal(clockWords(761_999), "12:41");
  assert.equal(clockWords(3_723_000), "1:02:03");
});
