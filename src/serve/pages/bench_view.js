// SPDX-License-Identifier: GPL-3.0-or-later
// One bench on the page: clock, tools, targets, last entries, and what is asked.
import {clockWords} from "./clock.js";
import {button, choices, fill, make, notice} from "./dom.js";
import {EndView} from "./end_view.js";
import {certain, expected} from "./expect.js";
import {drawLast, drawLog} from "./log_view.js";
import * as panels from "./panel.js";
import {withValue} from "./panel.js";
import {text} from "./text.js";
import {momentOf, whenQuiet} from "./touch.js";
import {eventWords} from "./words.js";
import {drawWork} from "./work_view.js";

const t = text.bench;
const AGO_S = [0, 10, 30, 60];
const TWICE_MS = 400; // two touches on targets that are closer are one finger

export class BenchView {
  #bench;
  #leave;
  #ago_s = 0;
  #redo = false;
  #part = "work";
  #panel = null;
  #all = false;
  #unfolded = new Set();
  #touched = -Infinity;
  #end;
  #parts = Object.fromEntries(["clock", "phase", "tools", "said", "panel", "last", "log"].map((name) => [name, make("div", {class: `part-${name}`})]));
  #dock = make("div", {class: "dock"});
  #work = make("div", {class: "part-work"});

  root = make("div", {class: "bench"});

  // leave(): this bench is put away.
  constructor(bench, leave) {
    this.#bench = bench;
    this.#leave = leave;
    this.#end = new EndView(bench, {back: () => this.#show("work"), leave: () => this.#leave()});
    const {clock, phase, tools, said, panel, last, log} = this.#parts;
    this.#dock.append(panel, last);
    said.setAttribute("aria-live", "polite");
    this.root.append(
      make("div", {class: "right"},
        make("div", {class: "side"}, make("div", {class: "clock-card"}, this.#title(), clock, phase), this.#dock, said, tools), log),
      make("div", {class: "work"}, this.#work, this.#end.root));
    new ResizeObserver(() => document.documentElement.style.setProperty("--dock", `${this.#dock.offsetHeight}px`)).observe(this.#dock);
    const draw = () => this.draw();
    bench.onChange(() => whenQuiet(draw));
    if (bench.clock.finished || bench.observation.closed) this.#part = "end";
    this.#restore();
  }

  // After a reload: details that were being given.
  async #restore() {
    const draft = await this.#bench.draft();
    if (draft && this.#bench.event(draft.id)) this.#open({kind: "details", id: draft.id, changes: draft.changes, more: false});
    else this.draw();
  }

  #title() {
    const {name, title} = this.#bench.observation;
    return make("h1", {class: "bench-title"}, `${name}: ${title}`);
  }

  // Drawing -------------------------------------------------------------------

  draw() {
    const {bench} = {bench: this.#bench};
    this.#expectation = expected(bench.form, bench.log);
    this.tick();
    this.#drawTools();
    drawLast(this.#parts.last, {bench, ...this.#doing});
    drawLog(this.#parts.log, {bench, all: this.#all, showAll: (all) => ((this.#all = all), this.draw()), ...this.#doing});
    const working = this.#part === "work";
    this.#work.hidden = !working;
    this.#end.root.hidden = working;
    if (working)
      drawWork(this.#work, {bench, expectation: this.#expectation, open: this.#unfolded, redo: this.#redo,
        pressCheckpoint: (one, moment) => this.#touch(moment, () => this.logCheckpoint(one, moment)),
        pressAction: (one, moment) => this.#touch(moment, () => this.logAction(one, moment))});
    else this.#end.draw();
  }

  #expectation = null;
  #doing = {undo: (event) => this.undo(event), change: (event) => this.#open({kind: "change", id: event.id, changes: {}})};

  // What moves by itself.
  tick() {
    const {clock, form} = this.#bench;
    const active = this.#bench.active();
    const state = !clock.started ? "ready" : clock.finished ? "finished" : clock.paused ? "paused" : "running";
    const target = form.clock?.target_ms;
    const late = target && active > target;
    this.#parts.clock.className = `part-clock ${state} ${late ? "late" : ""}`;
    fill(this.#parts.clock, make("span", {class: "big", role: "timer", "aria-label": t.clock}, clockWords(active)),
      make("span", {class: "small"}, t.states[state], target ? `, ${t.ofTarget(clockWords(target))}` : "", late ? make("b", {class: "attention"}, ` ${t.late}`) : ""));
    fill(this.#parts.phase, clock.finished ? "" : this.#phaseWords(active));
  }

  #phaseWords(active) {
    const {phases, state} = this.#expectation ?? expected(this.#bench.form, this.#bench.log);
    const phase = phases.find((one) => one.current);
    const spent = phase ? (state.spent_ms.get(phase.id) ?? 0) + active - state.since_ms : 0;
    return phase ? make("span", {class: phase.target_ms && spent > phase.target_ms ? "attention" : ""},
      t.phaseClock(phase.title, clockWords(spent), phase.target_ms ? clockWords(phase.target_ms) : "")) : "";
  }

  #drawTools() {
    const {clock, observation} = this.#bench;
    if (observation.closed) {
      fill(this.#parts.tools);
      return;
    }
    const tool = (name, act) => button(t[name], act, {class: "large", "data-key": `tool/${name}`});
    const ago = AGO_S.map((s) => ({value: s, words: s ? t.ago(s) : t.now, class: "large"}));
    const running = clock.started && !clock.finished;
    fill(this.#parts.tools,
      make("div", {class: "choices"},
        clock.started ? null : tool("start", (event) => this.clockKey(momentOf(event))),
        running ? tool(clock.paused ? "resume" : "pause", (event) => this.clockKey(momentOf(event))) : null,
        running ? tool("finish", (event) => this.#ask("finish", momentOf(event))) : null,
        this.#part === "work" ? button(t.endPart, () => this.#show("end"), {class: "large", "data-key": "tool/end"}) : null),
      running ? make("div", {class: "field"}, make("span", {class: "small"}, t.moment), choices(t.moment, ago, this.#ago_s, (s) => this.#setAgo(s))) : null,
      make("div", {class: "choices"},
        running ? button(t.redo, () => this.redoKey(), {class: "large", "aria-pressed": String(this.#redo), "data-key": "tool/redo"}) : null,
        ["error", "inject", "unseen", "note"].map((name) => tool(name, (event) => this.#ask(name, momentOf(event))))),
      make("p", {class: "small"}, t.owed(this.#expectation.owed.length)));
  }

  #say(...what) {
    fill(this.#parts.said, ...what);
  }

  #show(part) {
    this.#part = part;
    this.draw();
    scrollTo({top: 0});
  }

  // Panel ---------------------------------------------------------------------

  #open(panel) {
    this.#panel = panel;
    this.#drawPanel();
    this.draw();
    this.#parts.panel.querySelector("button, textarea")?.focus({preventScroll: false});
  }

  #closePanel() {
    this.#panel = null;
    fill(this.#parts.panel);
    this.draw();
  }

  #drawPanel() {
    const panel = this.#panel;
    fill(this.#parts.panel, panel ? this.#panelOf(panel) : []);
  }

  #panelOf(panel) {
    const bench = this.#bench;
    const leave = () => this.#closePanel();
    const take = (value) => this.#answer(panel, value);
    switch (panel.kind) {
      case "details":
        return panels.detailsPanel({bench, event: bench.event(panel.id), changes: panel.changes, more: panel.more,
          take: (name, value) => this.#detail(name, value), takeAll: (changes) => this.#details(changes),
          showMore: () => ((panel.more = true), this.#drawPanel()), done: () => this.#settle()});
      case "change":
        return panels.changePanel({bench, event: bench.event(panel.id), changes: panel.changes, leave,
          take: (name, value) => this.#change(withValue(panel.changes, name, value)),
          change: (now) => this.#change({...panel.changes, ...now}), done: () => this.#settle()});
      case "error":
        return panels.choicePanel({title: text.panel.error, options: panels.errorOptions(bench.form), take, leave, none: text.panel.noErrors});
      case "inject":
        return panels.choicePanel({title: text.panel.inject, options: panels.injectOptions(bench.form, bench.log), take, leave, none: text.panel.noInjects});
      case "unseen":
        return panels.choicePanel({title: text.panel.unseen, options: panels.unseenOptions(bench.form), take, leave});
      case "finish":
        return panels.choicePanel({title: t.owed(this.#expectation.owed.length), leave,
          options: [{value: "yes", words: t.finishSure}, {value: "no", words: t.finishNot}], take: (value) => (value === "yes" ? take(value) : leave())});
      default:
        return panels.notePanel({take, leave});
    }
  }

  #ask(kind, moment) {
    this.#leavePanel();
    this.#open({kind, at_ms: this.#bench.entryTime(moment, this.#ago_s * 1000)});
  }

  // The answer to a question that comes before an entry; its moment is that of the question.
  async #answer({kind, at_ms}, value) {
    this.#panel = null;
    fill(this.#parts.panel);
    this.#setAgo(0);
    if (kind === "finish") await this.#bench.add([{action: "finish", at_ms}]);
    else await this.#bench.add([{action: kind, at_ms, ...(kind === "note" ? {note: value} : {item: value})}]);
    this.#say();
    if (kind === "finish") this.#show("end");
  }

  #detail(name, value) {
    return this.#details(withValue(this.#panel.changes, name, value));
  }

  // Details given so far: kept as a draft; when the last one that is always asked is there, they amend the event.
  async #details(changes) {
    const panel = this.#panel;
    panel.changes = changes;
    await this.#bench.keepDraft({id: panel.id, changes});
    const event = this.#bench.event(panel.id);
    const left = panels.missing(panels.fieldsOf(this.#bench.form, this.#bench.log, event), event, changes);
    if (left.length || panel.more) this.#drawPanel();
    else await this.#settle();
  }

  #change(changes) {
    this.#panel.changes = changes;
    this.#drawPanel();
  }

  // What was given in the panel becomes an amendment.
  async #settle() {
    const {kind, id, changes} = this.#panel;
    this.#closePanel();
    if (Object.keys(changes).length) await this.#bench.amend(id, changes, text.log.reasons[kind === "details" ? "details" : "change"]);
    await this.#bench.dropDraft();
  }

  // Something else is begun: details given so far are not lost, a question is left.
  #leavePanel() {
    if (this.#panel?.kind === "details") this.#settle();
    else if (this.#panel) this.#closePanel();
  }

  // Logging -------------------------------------------------------------------

  #touch(moment, log) {
    const twice = moment - this.#touched < TWICE_MS;
    this.#touched = moment;
    if (twice) this.#say(notice(t.twice, "warns"));
    else log();
  }

  logCheckpoint(checkpoint, moment) {
    return this.#logWork(certain(this.#bench.form, checkpoint), moment);
  }

  logAction(action, moment) {
    return this.#logWork({action: action.id, site: action.sites.length === 1 ? action.sites[0] : "", details: {}}, moment);
  }

  async #logWork(columns, moment) {
    const {clock} = this.#bench;
    if (!clock.started || clock.finished) {
      this.#say(notice(t.afterFinish, "warns"));
      return;
    }
    const at_ms = this.#bench.entryTime(moment, this.#ago_s * 1000);
    const redo = this.#redo ? "yes" : "";
    this.#leavePanel();
    this.#ago_s = 0;
    this.#redo = false;
    const [id] = await this.#bench.add([{...columns, redo, at_ms}]);
    this.#say(clock.paused ? this.#pausedNotice(at_ms) : null);
    const event = this.#bench.event(id);
    if (panels.missing(panels.fieldsOf(this.#bench.form, this.#bench.log, event), event, {}).length)
      this.#open({kind: "details", id, changes: {}, more: false});
  }

  #pausedNotice(at_ms) {
    const resume = async () => {
      await this.#bench.add([{action: "resume", at_ms}]);
      this.#say();
    };
    return make("div", {class: "notice warns"}, t.whilePaused, " ", button(t.resumeFirst, resume));
  }

  async undo(event) {
    if (this.#panel?.id === event.id) {
      this.#closePanel();
      await this.#bench.dropDraft();
    }
    await this.#bench.strike(event.id, text.log.reasons.undo);
    this.#say(notice(text.log.undone(eventWords(this.#bench.form, event))));
  }

  // Keys ----------------------------------------------------------------------

  #setAgo(s) {
    this.#ago_s = s;
    this.draw();
  }

  redoKey() {
    this.#redo = !this.#redo;
    this.draw();
  }

  clockKey(moment) {
    const {clock} = this.#bench;
    const action = !clock.started ? "start" : clock.paused ? "resume" : "pause";
    if (!clock.finished) this.#bench.add([{action, at_ms: this.#bench.entryTime(moment, 0)}]);
  }

  #lastEvent() {
    return [...this.#bench.events].reverse().find((event) => !event.struck) ?? null;
  }

  #commands = {
    " ": (moment) => this.clockKey(moment),
    E: (moment) => this.#ask("error", moment),
    I: (moment) => this.#ask("inject", moment),
    N: (moment) => this.#ask("unseen", moment),
    T: (moment) => this.#ask("note", moment),
    F: (moment) => this.#bench.clock.finished || this.#ask("finish", moment),
    R: () => this.redoKey(),
    B: () => this.#setAgo(AGO_S[(AGO_S.indexOf(this.#ago_s) + 1) % AGO_S.length]),
    U: () => this.#lastEvent() && this.undo(this.#lastEvent()),
    A: () => this.#lastEvent() && this.#doing.change(this.#lastEvent()),
    Escape: () => this.#escape(),
  };

  #escape() {
    if (this.#panel) this.#leavePanel();
    this.#redo = false;
    this.#setAgo(0);
  }

  // A key pressed outside of fields; false: it means nothing here.
  key(key, moment) {
    if (this.#bench.observation.closed) return false;
    if (this.#panel && key !== "Escape" && this.#panelKey(key)) return true;
    const action = this.#bench.form.actions.find((one) => one.key === key);
    if (action) this.logAction(action, moment);
    else if (this.#commands[key]) this.#commands[key](moment);
    else return false;
    return true;
  }

  // In a list the keys that stand at its choices; among details the digits, in the first question not answered.
  #panelKey(key) {
    const shown = [...this.#parts.panel.querySelectorAll(".target")];
    const found = shown.find((one) => one.querySelector("kbd")?.textContent === key);
    const groups = [...this.#parts.panel.querySelectorAll(".choices[role=group]")];
    const open = groups.find((group) => !group.querySelector("[aria-pressed=true]"));
    const pressed = found ?? (/^[1-9]$/.test(key) ? open?.children[Number(key) - 1] : null);
    pressed?.click();
    return Boolean(pressed);
  }

  // What a bar-code reader typed: the id of an action, checkpoint or error.
  word(word, moment) {
    const {form} = this.#bench;
    const checkpoint = form.checkpoints.find((one) => one.id === word);
    const action = form.actions.find((one) => one.id === word);
    const error = form.errors.find((one) => one.id === word && one.by_hand);
    if (checkpoint) this.logCheckpoint(checkpoint, moment);
    else if (action) this.logAction(action, moment);
    else if (error) this.#answer({kind: "error", at_ms: this.#bench.entryTime(moment, this.#ago_s * 1000)}, error.id);
    else this.#say(notice(text.keys.unknown(word), "warns"));
  }
}

