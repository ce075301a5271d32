// SPDX-License-Identifier: GPL-3.0-or-later
// All English is in text.js: every word that a page asks for is there, every word there is asked for, and no page has
// words of its own.
import assert from "node:assert/strict";
import fs from "node:fs";
import test from "node:test";
import {text} from "../../src/serve/pages/text.js";

const folder = new URL("../../src/serve/pages/", import.meta.url);
const sources = fs.readdirSync(folder).filter((name) => name.endsWith(".js") && name !== "text.js")
  .map((name) => ({name, code: fs.readFileSync(new URL(name, folder), "utf8").replace(/^\s*\/\/.*$|^import .*$/gm, "")}));

// Groups that are asked for by a name that the program computes.
const byName = ["about", "roles", "states", "actions", "components", "severity", "outcome", "commands", "reasons"];

// The names asked for in a file, as paths: text.a.b, and t.b where t is text.a.
function asked({code}) {
  const prefix = /const t = text\.(\w+);/.exec(code)?.[1];
  const own = [...code.matchAll(/\btext\.([a-zA-Z]+(?:\.[a-zA-Z]+)*)/g)].map((found) => found[1].split("."));
  const short = prefix ? [...code.matchAll(/(?<![\w.$])t\.([a-zA-Z]+(?:\.[a-zA-Z]+)*)/g)].map((found) => [prefix, ...found[1].split(".")]) : [];
  return [...own, ...short];
}

function leaves(group, path = []) {
  return Object.entries(group).flatMap(([name, value]) =>
    typeof value === "object" && !Array.isArray(value) ? leaves(value, [...path, name]) : [[...path, name]]);
}

test("every word that is asked for is there", () => {
  let seen = 0;
  for (const source of sources) {
    for (const path of asked(source)) {
      let at = text;
      for (const name of path) {
        if (typeof at !== "object") break;
        at = at[name];
        assert.notEqual(at, undefined, `${source.name}: text.${path.join(".")}`);
      }
      seen++;
    }
  }
  assert.ok(seen > 100, `only ${seen} words were looked for`);
});

test("every word that is there is asked for", () => {
  const all = sources.map((source) => source.code).join("\n");
  const unasked = leaves(text).filter((path) => !path.some((name) => byName.includes(name)) && !new RegExp(`\\b${path.at(-1)}\\b`).test(all));
  assert.deepEqual(unasked.map((path) => path.join(".")), []);
});

test("no page has English of its own", () => {
  // A text of two words or more, between quotes, that is neither a class, a selector nor an attribute's value.
  const known = [/the server acknowledged nothing/, /use strict/];
  for (const {name, code} of sources) {
    for (const [, words] of code.matchAll(/"([A-Z][a-z]+ [a-z]+ [^"]*)"/g))
      assert.ok(known.some((one) => one.test(words)), `${name}: "${words}"`);
  }
});
