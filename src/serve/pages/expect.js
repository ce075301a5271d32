// SPDX-License-Identifier: GPL-3.0-or-later
// What the rubric expects next, from its form and the log so far. A help for the eye: the engine on the server decides
// what binds to what when it scores, and nothing here is kept.
import {story} from "./clock.js";

const built_in = new Set(["start", "finish", "pause", "resume", "inject", "error", "rate", "measure", "unseen", "note"]);

export const isWork = (event) => !built_in.has(event.action);

// Whether a logged text is one of the allowed ones: a word, a number, or a range with ends left open or not. A unit at
// the end of either is no matter.
export function allows(allowed, logged) {
  const number = Number.parseFloat(logged);
  return allowed.some((text) => {
    const ends = /^(-?[\d.]*)\.\.(-?[\d.]*)/.exec(text);
    if (!ends) return text === logged || (/^-?[\d.]+( |$)/.test(text) && Number.parseFloat(text) === number);
    return !Number.isNaN(number) && (ends[1] === "" || number >= Number(ends[1])) && (ends[2] === "" || number <= Number(ends[2]));
  });
}

function matches(checkpoint, event) {
  return checkpoint.action === event.action &&
    (checkpoint.sites.length === 0 || checkpoint.sites.includes(event.site)) &&
    Object.entries(checkpoint.details).every(([name, allowed]) => event.details?.[name] !== undefined && allows(allowed, event.details[name]));
}

// Checkpoints that no inject adds; then what the logged injects added and dropped. Dropped once is dropped for good.
function inForce(form, log) {
  const added = new Set(form.injects.flatMap((inject) => inject.adds));
  const force = new Set(form.checkpoints.map((one) => one.id).filter((id) => !added.has(id)));
  const dropped = new Set();
  for (const event of log.filter((one) => one.action === "inject")) {
    const inject = form.injects.find((one) => one.id === event.item);
    for (const id of inject?.adds ?? []) if (!dropped.has(id)) force.add(id);
    for (const id of inject?.drops ?? []) {
      force.delete(id);
      dropped.add(id);
    }
  }
  return force;
}

// Options of a choice that lost to one already begun.
function notTaken(form, done) {
  const left = new Set();
  for (const {options} of form.choices) {
    const begun = options.findIndex((option) => option.some((id) => done.get(id) > 0));
    if (begun >= 0) options.filter((_, i) => i !== begun).flat().forEach((id) => left.add(id));
  }
  return left;
}

// The checkpoint that a plain event of work goes to, as the scoring law's section 4 has it: one that is short in the
// phase last worked on, one that is short, one with room.
function place(form, force, done, phase, event) {
  const fitting = form.checkpoints.filter((one) => force.has(one.id) && matches(one, event));
  const short = fitting.filter((one) => done.get(one.id) < one.least);
  return short.find((one) => one.phase === phase) ?? short[0] ?? fitting.find((one) => done.get(one.id) < one.most) ?? fitting[0] ?? null;
}

// Follows the log. Gives {done: Map of checkpoint to how often, of: Map of event id to checkpoint, phase: the one last
// worked on or null, force, unseen, left, spent_ms: Map of phase to active time}.
export function follow(form, log) {
  const done = new Map(form.checkpoints.map((one) => [one.id, 0]));
  const state = {done, of: new Map(), phase: null, force: inForce(form, log), spent_ms: new Map()};
  const clock = story(log);
  let last_ms = 0;
  const charge = (phase, active_ms) => {
    state.spent_ms.set(phase, (state.spent_ms.get(phase) ?? 0) + active_ms - last_ms);
    last_ms = active_ms;
  };
  for (const event of log.filter(isWork)) {
    const checkpoint = place(form, state.force, done, state.phase, event);
    if (!checkpoint) continue;
    const redone = event.redo && done.get(checkpoint.id) > 0;
    if (!redone) done.set(checkpoint.id, done.get(checkpoint.id) + 1);
    state.of.set(event.id, checkpoint.id);
    state.phase = checkpoint.phase;
    charge(checkpoint.phase, clock.active(event.at_ms));
  }
  state.unseen = new Set(log.filter((event) => event.action === "unseen").map((event) => event.item));
  state.left = notTaken(form, done);
  state.since_ms = last_ms; // active time at the last work that was charged
  return state;
}

// The first checkpoint that an order rule wants before this one and that is not there yet; null: none.
function waitsFor(form, state, injects, id) {
  const missing = (first) => state.force.has(first) && !state.left.has(first) && !state.unseen.has(first) &&
    state.done.get(first) < form.checkpoints.find((one) => one.id === first).least;
  for (const rule of form.order) {
    if (!rule.then.includes(id) || (rule.inject && !injects.has(rule.inject))) continue;
    const found = rule.first.find(missing);
    if (found) return found;
  }
  return null;
}

// What is expected: {phases: [{id, title, target_ms, items, done, current}], next, owed: [checkpoint], state}. The phase at
// work comes first, then the others in the rubric's order, those with nothing owed last. `items` are checkpoints that
// are short: those begun, those that wait for nothing, the others: {checkpoint, done, waits, left}; `done` those that
// have enough. `next` is the one item that most likely comes next; null: none.
export function expected(form, log) {
  const state = follow(form, log);
  const injects = new Set(log.filter((event) => event.action === "inject").map((event) => event.item));
  const byId = new Map(form.checkpoints.map((one) => [one.id, one]));
  const item = (id) => ({checkpoint: byId.get(id), done: state.done.get(id), waits: waitsFor(form, state, injects, id), left: state.left.has(id)});
  const rank = (one) => (one.left ? 3 : one.done > 0 ? 0 : one.waits ? 2 : 1);
  const phases = form.phases.map((phase) => {
    const all = phase.checkpoints.filter((id) => state.force.has(id) && !state.unseen.has(id)).map(item);
    const short = all.filter((one) => one.done < one.checkpoint.least);
    return {...phase, items: [...short].sort((a, b) => rank(a) - rank(b)), done: all.filter((one) => one.done >= one.checkpoint.least), current: false};
  });
  const owes = (phase) => phase.items.some((one) => !one.left);
  const ready = (phase) => phase.items.some((one) => rank(one) < 2);
  const current = phases.find((phase) => phase.id === state.phase && owes(phase)) ?? phases.find(ready) ?? phases.find(owes);
  if (current) current.current = true;
  const order = (phase) => (phase.current ? 0 : owes(phase) ? 1 : 2);
  const ordered = [...phases].sort((a, b) => order(a) - order(b));
  return {
    phases: ordered,
    next: ordered.flatMap((phase) => phase.items).find((one) => rank(one) < 2) ?? null,
    owed: form.checkpoints.filter((one) => phases.some((phase) => phase.items.some((item) => item.checkpoint === one && !item.left))),
    state,
  };
}

// What a touch on a checkpoint's target says for certain: its action, its site if there is only one, and the details
// that its match fixes to one word.
export function certain(form, checkpoint) {
  const action = form.actions.find((one) => one.id === checkpoint.action);
  const sites = checkpoint.sites.length ? checkpoint.sites : action.sites;
  const fixed = Object.entries(checkpoint.details).filter(([, allowed]) => allowed.length === 1 && !allowed[0].includes(".."));
  return {action: action.id, site: sites.length === 1 ? sites[0] : "", details: Object.fromEntries(fixed.map(([name, allowed]) => [name, allowed[0]]))};
}

// Measures and ratings without a value.
export function unjudged(form, log) {
  const given = new Set(log.filter((event) => event.action === "measure" || event.action === "rate").map((event) => event.item));
  return [...form.measures, ...form.ratings].filter((one) => !given.has(one.id));
}
