// SPDX-License-Identifier: GPL-3.0-or-later
// Fingers, foot switches and bar-code readers; and which values are offered for a detail.
import assert from "node:assert/strict";
import test from "node:test";
import {Keys} from "../../src/serve/pages/keys.js";
import {asLastTime, fieldsOf, missing, offers} from "../../src/serve/pages/panel.js";
import {form} from "./form.mjs";

function listen(context) {
  context.mock.timers.enable({apis: ["setTimeout"]});
  const heard = [];
  const keys = new Keys({press: (key, at) => (heard.push(["key", key, at]), true), word: (word, at) => heard.push(["word", word, at])});
  return {heard, keys, rest: () => context.mock.timers.tick(100)};
}

test("a letter alone is a key, at its moment", (context) => {
  const {heard, keys, rest} = listen(context);
  keys.key("d", 1000);
  rest();
  keys.key(" ", 2000);
  rest();
  assert.deepEqual(heard, [["key", "d", 1000], ["key", " ", 2000]]);
});

test("letters close together with Enter are one word, at its first letter", (context) => {
  const {heard, keys, rest} = listen(context);
  [..."wall-left"].forEach((letter, i) => keys.key(letter, 1000 + i * 8));
  assert.equal(keys.key("Enter", 1080), true);
  rest();
  assert.deepEqual(heard, [["word", "wall-left", 1000]]);
});

test("two fingers are two keys; Enter alone is left to the page", (context) => {
  const {heard, keys, rest} = listen(context);
  keys.key("d", 1000);
  keys.key("s", 1030);
  rest();
  assert.equal(keys.key("Enter", 5000), false);
  assert.deepEqual(heard.map(([, key]) => key), ["d", "s"]);
});

test("a reader that does not end with Enter presses no keys", (context) => {
  const {heard, keys, rest} = listen(context);
  [..."drill"].forEach((letter, i) => keys.key(letter, 1000 + i * 8));
  rest();
  assert.deepEqual(heard, [["word", "drill", 1000]]);
});

test("values offered: all of a short range, what the rubric names and a step beside it, those used", () => {
  const detail = (kind, low, high) => ({kind, low, high, words: ["a", "b"]});
  assert.deepEqual(offers(detail("word"), "a", []), ["a", "b"]);
  assert.deepEqual(offers(detail("whole", "1", "4"), undefined, []), ["1", "2", "3", "4"]);
  assert.deepEqual(offers(detail("measured", "8", "60"), "12..16 mm", ["30"]), ["11", "12", "13", "14", "15", "16", "17", "30"]);
  assert.deepEqual(offers(detail("measured", "8", "60"), "10..12 mm", []), ["9.5", "10", "10.5", "11", "11.5", "12", "12.5"]);
  assert.deepEqual(offers(detail("measured", "0", "90"), "..20 deg", []), ["0", "5", "10", "15", "20", "25"]);
  assert.deepEqual(offers(detail("measured", "1.5", "5"), undefined, []), ["1.5", "2", "2.5", "3", "3.5", "4", "4.5", "5"]);
});

test("what is missing, and as last time", () => {
  const event = (id, details, site = "left") => ({id, at_ms: 0, action: "screw", site, item: "", details});
  const first = event("1", {use: "wood", hole: "2"});
  const now = event("2", {use: "wall"});
  const fields = fieldsOf(form, [first, now], now);
  assert.deepEqual(fields.map((field) => field.name), ["site", "use", "hole"]);
  assert.deepEqual(missing(fields, now, {}).map((field) => field.name), ["hole"]);
  assert.deepEqual(missing(fields, now, {details: {hole: "1"}}), []);
  assert.deepEqual(asLastTime(form, [first, now], now, fields), {details: {hole: "2"}});
  assert.equal(asLastTime(form, [now], now, fields), null);
});
