// SPDX-License-Identifier: GPL-3.0-or-later
// One observation as this page holds it: its entries, its clock, its queue. Several tabs may hold the same one; they tell
// each other when there is something to read again.
import {lab, post} from "./api.js";
import {APART_MS, BenchClock, story} from "./clock.js";
import {columnsOf, effective, eventsOf} from "./log.js";
import {Queue} from "./queue.js";
import {newId} from "./store.js";

export class Bench {
  #store;
  #clock;
  #others = new BroadcastChannel("benchtally");
  #listeners = new Set();

  observation;
  form;
  queue;
  events = []; // all, also struck and refused ones
  log = []; // those that count
  clock = story([]);
  apart_ms = 0; // how far the tablet's clock was off when the page was opened again
  slept_ms = 0; // by how much the clock was put right while the page lived

  constructor(store, observation, form, clock) {
    this.#store = store;
    this.#clock = clock;
    this.observation = observation;
    this.form = form;
    this.queue = new Queue({store, post, key: observation.key, changed: () => this.read(true)});
    this.#others.onmessage = ({data}) => data === observation.key && this.read(false);
  }

  // A new one that starts at a moment of performance.now(), with what is true from the beginning: `known` are entries
  // at time 0, each without a time.
  static async begin(store, about, form, moment, known) {
    const observation = {mode: "live", ...about, key: newId(), id: null, session: null, started_ms: lab.at(moment),
      last_ms: 0, wall_ms: Date.now(), closed: false, receipt: null};
    await store.addObservation(observation);
    const bench = new Bench(store, observation, form, new BenchClock(moment));
    await bench.add([{action: "start"}, ...known].map((entry) => ({...entry, at_ms: 0})));
    return bench;
  }

  // One that was begun on another tablet, with the entries that the book has.
  static async adopt(store, about, form, entries) {
    const last_ms = Math.max(0, ...entries.map((entry) => entry.at_ms ?? 0));
    const wall_ms = Date.now() + last_ms - (lab.at(performance.now()) - about.started_ms);
    const observation = {...about, key: newId(), last_ms, wall_ms, closed: false, receipt: null};
    await store.addObservation(observation);
    await store.addKnown(observation, entries);
    return Bench.again(store, observation, form);
  }

  // One that this tablet holds from before a reload.
  static async again(store, observation, form) {
    const lab_ms = lab.known ? lab.at(performance.now()) : null;
    const {clock, apart_ms} = BenchClock.again(observation, performance.now(), Date.now(), lab_ms);
    const bench = new Bench(store, observation, form, clock);
    bench.apart_ms = Math.abs(apart_ms) > APART_MS ? apart_ms : 0;
    await bench.read(false);
    return bench;
  }

  // Leaves nothing running; what is unsent stays on the tablet.
  leave() {
    this.#listeners.clear();
    this.#others.close();
  }

  onChange(listener) {
    this.#listeners.add(listener);
  }

  // Reads again what the tablet keeps; `tell`: other tabs are to do the same.
  async read(tell) {
    const observation = await this.#store.observation(this.observation.key);
    if (!observation) return;
    this.observation = observation;
    this.#take(await this.#store.entriesOf(observation.key));
    if (tell) this.#others.postMessage(observation.key);
  }

  #take(records) {
    this.events = eventsOf(records);
    this.log = effective(this.events);
    this.clock = story(this.log);
    this.unsent = records.filter((record) => record.state === "here").length;
    this.known = records.filter((record) => record.state === "safe").length;
    this.#listeners.forEach((listener) => listener());
  }

  // Clock ---------------------------------------------------------------------

  // Time on the observation's clock at a moment of performance.now().
  at(moment) {
    return this.#clock.at(moment);
  }

  // Time for an entry: that of a touch, so many ms ago, never before the start.
  entryTime(moment, ago_ms) {
    return Math.max(this.#clock.read(moment) - ago_ms, this.clock.start_ms);
  }

  active() {
    return this.clock.active(this.at(performance.now()));
  }

  // Puts the clock right if it stood still while the tablet slept (the lab's time was just asked).
  checkClock() {
    const moment = performance.now();
    const slept_ms = this.#clock.check(moment, Date.now(), lab.at(moment));
    if (slept_ms) this.slept_ms = slept_ms;
    this.#listeners.forEach((listener) => listener());
  }

  // Entries -------------------------------------------------------------------

  // Keeps entries on this tablet, and only then shows them and sends them on. Gives their ids.
  async add(entries) {
    const whole = entries.map((entry) => ({id: newId(), ...entry}));
    await this.#store.addEntries(this.observation, whole, this.at(performance.now()));
    await this.read(true);
    this.queue.wake();
    return whole.map((entry) => entry.id);
  }

  event(id) {
    return this.events.find((event) => event.id === id) ?? null;
  }

  strike(id, reason) {
    return this.add([{strike: id, reason}]);
  }

  // Changes an event. One that the server refused is in no book, so it is logged anew.
  amend(id, changes, reason) {
    const event = this.event(id);
    const now = columnsOf(event);
    const whole = {...now, ...changes, details: {...now.details, ...changes.details}};
    return this.add([event.state === "refused" ? whole : {amend: id, reason, ...whole}]);
  }

  // Drafts: details on their way to become an amendment.
  keepDraft(draft) {
    return this.#store.keepDraft({observation: this.observation.key, ...draft});
  }

  dropDraft() {
    return this.#store.dropDraft(this.observation.key);
  }

  draft() {
    return this.#store.draft(this.observation.key);
  }

  // The end -------------------------------------------------------------------

  // Takes in what the book has and this tablet has not.
  async learn(entries) {
    await this.#store.addKnown(this.observation, entries);
    await this.read(true);
  }

  // Keeps that it is closed.
  async closedWith(receipt) {
    await this.#store.changeObservation(this.observation.key, {closed: true, receipt});
    await this.read(true);
  }

  // Takes it off this tablet; false while entries are unsent.
  putAway() {
    return this.#store.forget(this.observation.key);
  }
}
