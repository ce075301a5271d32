// SPDX-License-Identifier: GPL-3.0-or-later
// What is expected next, from the form and the log. The expected answers are read off the scoring law, sections 3, 4, 6.
import assert from "node:assert/strict";
import test from "node:test";
import {allows, certain, expected, follow, unjudged} from "../../src/serve/pages/expect.js";
import {form} from "./form.mjs";

let n = 0;
const event = (at_s, action, about = {}) => ({id: `e${++n}`, place: n, at_ms: at_s * 1000, action, site: "", item: "", details: {}, ...about});
const drill = (at_s, site = "left") => event(at_s, "drill", {site, details: {bit: "6"}});
const screw = (at_s, site, use, hole = "1") => event(at_s, "screw", {site, details: {use, hole}});
const start = event(0, "start");
const ids = (items) => items.map((item) => item.checkpoint.id);

test("a value is allowed as a word, a number or within a range", () => {
  assert.ok(allows(["neutral", "lag"], "lag"));
  assert.ok(!allows(["neutral"], "lag"));
  assert.ok(allows(["14..18"], "18") && allows(["14..18"], "14 mm") && !allows(["14..18"], "18.001"));
  assert.ok(allows(["..20"], "0") && allows(["40.."], "40") && !allows(["40.."], "39.9"));
  assert.ok(allows(["2.5"], "2.50") && allows(["2"], "2") && !allows(["2"], "25"));
  assert.ok(!allows(["1..2"], "no"));
});

test("before anything: the first phase, what waits for nothing before what waits", () => {
  const {phases, next, owed} = expected(form, [start]);
  assert.deepEqual(phases.map((phase) => phase.id), ["brackets", "board"]);
  assert.deepEqual(ids(phases[0].items), ["holes", "wall-left", "fixed"]);
  assert.equal(phases[0].items[2].waits, "holes");
  assert.equal(next.checkpoint.id, "holes");
  assert.ok(!ids(phases[1].items).includes("patched"), "added by an inject that has not happened");
  assert.deepEqual(owed.map((one) => one.id), ["holes", "fixed", "wall-left", "levelled", "glued", "screwed"]);
});

test("an order rule is met only when its first side has as many as it needs", () => {
  const once = expected(form, [start, drill(1)]);
  assert.equal(once.phases[0].items.find((item) => item.checkpoint.id === "fixed").waits, "holes");
  const twice = expected(form, [start, drill(1), drill(2)]);
  assert.equal(twice.phases[0].items.find((item) => item.checkpoint.id === "fixed").waits, null);
  assert.deepEqual(ids(twice.phases[0].done), ["holes"]);
});

test("the phase last worked on comes first as long as it owes something", () => {
  const log = [start, event(5, "level")];
  assert.deepEqual(expected(form, log).phases.map((phase) => phase.id), ["board", "brackets"]);
  const done = [...log, event(6, "glue", {site: "left"})];
  assert.deepEqual(expected(form, done).phases.map((phase) => phase.id), ["brackets", "board"]);
});

test("details tell checkpoints of one action apart; a detail that is missing matches none that needs it", () => {
  assert.equal(follow(form, [start, screw(1, "right", "wall")]).done.get("fixed"), 1);
  assert.equal(follow(form, [start, screw(1, "left", "wall", "2")]).done.get("wall-left"), 1);
  const {done, of} = follow(form, [start, screw(1, "left", "wall", "3")]);
  assert.equal([...done.values()].reduce((a, b) => a + b), 0);
  assert.equal(of.size, 0);
});

test("a redo adds nothing to the count, unless there is nothing to redo", () => {
  const redo = (at_s) => event(at_s, "drill", {site: "left", redo: "yes", details: {bit: "6"}});
  assert.equal(follow(form, [start, drill(1), redo(2)]).done.get("holes"), 1);
  assert.equal(follow(form, [start, redo(2)]).done.get("holes"), 1);
});

test("the option begun is expected, the other one is left and no longer owed", () => {
  const {phases, owed} = expected(form, [start, event(1, "glue", {site: "left"})]);
  const board = phases.find((phase) => phase.id === "board");
  assert.equal(board.items.at(-1).checkpoint.id, "screwed");
  assert.ok(board.items.at(-1).left);
  assert.ok(!owed.some((one) => one.id === "screwed"));
});

test("an inject adds and drops, from its place on; what was not seen is not owed", () => {
  const {phases, owed} = expected(form, [start, event(1, "inject", {item: "crack"}), event(2, "unseen", {item: "fixed"})]);
  const all = phases.flatMap((phase) => ids(phase.items));
  assert.ok(all.includes("patched") && !all.includes("wall-left") && !all.includes("fixed"));
  assert.deepEqual(owed.map((one) => one.id), ["holes", "levelled", "glued", "screwed", "patched"]);
  const levelled = phases.flatMap((phase) => phase.items).find((item) => item.checkpoint.id === "levelled");
  assert.equal(levelled.waits, null, "dropped and unseen ones are not waited for");
});

test("each work closes the stretch of unpaused time before it, for its phase", () => {
  const log = [start, drill(10), event(20, "pause"), event(50, "resume"), event(60, "level"), drill(61)];
  const {spent_ms, since_ms} = follow(form, log);
  assert.equal(spent_ms.get("brackets"), 11000);
  assert.equal(spent_ms.get("board"), 20000);
  assert.equal(since_ms, 31000);
});

test("a touch says only what is certain", () => {
  const of = (id) => certain(form, form.checkpoints.find((one) => one.id === id));
  assert.deepEqual(of("fixed"), {action: "screw", site: "right", details: {use: "wall"}});
  assert.deepEqual(of("wall-left"), {action: "screw", site: "left", details: {use: "wall"}}, "a range is not certain");
  assert.deepEqual(of("holes"), {action: "drill", site: "", details: {}}, "two sites are not certain");
  assert.equal(of("glued").site, "left", "the action's only site");
});

test("measures and ratings without a value", () => {
  assert.deepEqual(unjudged(form, [event(1, "rate", {item: "care", value: "2"})]).map((one) => one.id), ["tilt"]);
});
