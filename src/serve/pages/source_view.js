// SPDX-License-Identifier: GPL-3.0-or-later
// A text with the numbers of its lines, and under a line that is at fault what is wrong there.
import {fill, make} from "./dom.js";
import {text} from "./text.js";

const t = text.rubrics;

const byPlace = (a, b) => a.line - b.line || a.column - b.column;

// The line, with a mark from the fault's column to the end of the word that stands there.
function markedLine(line, faults) {
  const at = Math.max(0, (faults[0]?.column ?? 1) - 1);
  const characters = [...line];
  if (!faults.length || at >= characters.length) return [line];
  const word = /^\s*[^\s:,\]}]+|^./su.exec(characters.slice(at).join(""))[0];
  return [characters.slice(0, at).join(""), make("mark", {}, word), characters.slice(at).join("").slice(word.length)];
}

export class SourceView {
  #notes = []; // the elements that tell of faults, in order
  #now = -1;

  faults = [];
  root = make("div", {class: "source-box"});

  // `mild`: these are warnings.
  show(words, faults, mild) {
    this.faults = [...faults].sort(byPlace);
    this.#notes = [];
    this.#now = -1;
    const lines = words.replace(/\n$/, "").split("\n");
    const of = this.#byLine();
    const beyond = this.faults.filter((fault) => fault.line < 1 || fault.line > lines.length);
    fill(this.root,
      make("ol", {class: "source", "aria-label": t.lines}, lines.map((line, i) => this.#line(line, of.get(i + 1) ?? [], mild))),
      beyond.map((fault) => this.#note(fault, mild)));
  }

  #byLine() {
    const lines = new Map();
    for (const fault of this.faults) lines.set(fault.line, [...(lines.get(fault.line) ?? []), fault]);
    return lines;
  }

  #line(line, faults, mild) {
    return make("li", {class: faults.length ? (mild ? "warned" : "faulty") : null},
      make("code", {}, markedLine(line.replace(/\r$/, ""), faults)), faults.map((fault) => this.#note(fault, mild)));
  }

  #note({line, column, wrong, expected}, mild) {
    const place = line > 0 ? t.place(line, column) : t.whole;
    const note = make("p", {class: `notice ${mild ? "warns" : "stops"}`, tabindex: "-1"},
      make("b", {}, mild ? t.warning : t.fault), ` ${place}: ${wrong}`, expected ? make("span", {}, `; ${expected}`) : null);
    this.#notes.push(note);
    return note;
  }

  // Goes to the next fault (1) or the one before (-1), round the ends.
  step(by) {
    const n = this.#notes.length;
    if (n === 0) return;
    this.#now = this.#now < 0 && by < 0 ? n - 1 : (this.#now + by + n) % n;
    this.#notes[this.#now].focus({preventScroll: true});
    this.#notes[this.#now].scrollIntoView({block: "center"});
  }
}
