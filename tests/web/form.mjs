// SPDX-License-Identifier: GPL-3.0-or-later
// A small invented exercise, in the shape in which the server gives a rubric's form.
const word = (name, words, always = true) => ({name, title: name, kind: "word", unit: null, words, low: null, high: null, always, tells_apart: false});
const number = (name, kind, unit, low, high) => ({name, title: name, kind, unit, words: [], low, high, always: true, tells_apart: false});

const checkpoint = (id, phase, action, about = {}) =>
  ({id, title: `Step ${id}`, phase, action, sites: [], details: {}, least: 1, most: 1, expect: {}, critical: null, choice: null, option: null, ...about});

export const form = {
  rubric: "shelf", edition: 1, title: "A shelf on two brackets", cautions: ["Eyes."],
  clock: {target_ms: 600000, limit_ms: 900000, quiet_ms: 0},
  sites: [{id: "left", title: "Left"}, {id: "right", title: "Right"}],
  actions: [
    {id: "drill", title: "Hole drilled", key: "d", sites: ["left", "right"], details: [number("bit", "measured", "mm", "1", "12")]},
    {id: "screw", title: "Screw placed", key: "s", sites: ["left", "right"], details: [word("use", ["wood", "wall"]), number("hole", "whole", null, "1", "4")]},
    {id: "level", title: "Level looked at", key: "l", sites: [], details: []},
    {id: "glue", title: "Glued", key: "g", sites: ["left"], details: []},
  ],
  phases: [
    {id: "brackets", title: "Brackets", target_ms: 300000, limit_ms: 600000, checkpoints: ["holes", "fixed", "wall-left"]},
    {id: "board", title: "Board", target_ms: 0, limit_ms: 0, checkpoints: ["levelled", "glued", "screwed", "patched"]},
  ],
  checkpoints: [
    checkpoint("holes", "brackets", "drill", {least: 2, most: 4, expect: {bit: "6..8 mm"}}),
    checkpoint("fixed", "brackets", "screw", {least: 2, most: 2, details: {use: ["wall"]}, sites: ["right"]}),
    checkpoint("wall-left", "brackets", "screw", {details: {use: ["wall"], hole: ["1..2"]}, sites: ["left"]}),
    checkpoint("levelled", "board", "level", {least: 1, most: 3}),
    checkpoint("glued", "board", "glue", {choice: "way", option: 0}),
    checkpoint("screwed", "board", "screw", {details: {use: ["wood"]}, choice: "way", option: 1}),
    checkpoint("patched", "board", "glue", {sites: ["left"]}),
  ],
  order: [
    {id: "drill-first", first: ["holes"], then: ["fixed"], why: "A screw needs its hole."},
    {id: "level-first", first: ["fixed", "wall-left"], then: ["levelled"], why: "A loose bracket shows nothing."},
  ],
  choices: [{id: "way", title: "Glue or screws", options: [["glued"], ["screwed"]]}],
  injects: [{id: "crack", title: "A crack", adds: ["patched"], drops: ["wall-left"]}],
  errors: [{id: "slip", title: "Drill slips", severity: "minor", key: "x", by_hand: true, coach: null}],
  measures: [{id: "tilt", title: "Tilt", unit: "mm"}],
  ratings: [{id: "care", title: "Care", anchors: ["None", null, "Much"]}],
};
