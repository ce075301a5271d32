// SPDX-License-Identifier: GPL-3.0-or-later
// The queue against a server that fails in every way: answers lost before or after the work, refusals, logins that end;
// and several tabs that send at once.
import assert from "node:assert/strict";
import test from "node:test";
import {eventsOf, effective} from "../../src/serve/pages/log.js";
import {batchOf, Queue} from "../../src/serve/pages/queue.js";
import {newId} from "../../src/serve/pages/store.js";

// What the tablet keeps, as store.js has it, without a browser.
class Memory {
  records = [];
  about = {key: "k", id: null, session: null, trainee: "T-1", rubric: "shelf", edition: 1, mode: "live", started_ms: 1, station: ""};
  add(label) {
    const record = {place: this.records.length + 1, state: "here", seq: null, entry: {id: newId(), note: label}};
    this.records.push(record);
    return record;
  }
  observation = async () => this.about;
  changeObservation = async (key, changes) => Object.assign(this.about, changes);
  unsent = async (key, most) => this.records.filter((record) => record.state === "here").slice(0, most);
  settle = async (acks) => {
    for (const {id, seq = null, refused = null} of acks)
      Object.assign(this.records.find((record) => record.entry.id === id), {state: refused === null ? "safe" : "refused", seq, refused});
  };
}

// A server as the contract has it: an id seen before is acknowledged as before. `trouble()` may fail a request before or
// after its work.
class Server {
  book = [];
  begun = 0;
  busy = 0;
  constructor(trouble = () => null) {
    this.trouble = trouble;
  }
  post = async (path, body) => {
    const failure = this.trouble(path);
    await new Promise((resolve) => setImmediate(resolve));
    if (failure?.before) throw failure.error;
    const answer = path === "/api/observations" ? this.#begin() : this.#entries(body.entries);
    if (failure) throw failure.error;
    return answer;
  };
  #begin() {
    this.begun++;
    return {id: 7, session: "20260301-T-1-1"};
  }
  #entries(entries) {
    return {acks: entries.map(({id, note}) => {
      if (note === "refuse") return {id, refused: "no such thing"};
      let seq = this.book.findIndex((one) => one.id === id) + 1;
      if (!seq) seq = this.book.push({id, note});
      return {id, seq};
    })};
  }
}

const failed = (status, about = {}) => Object.assign(new Error(`status ${status}`), {status, isDoor: status === 401 || status === 403, ...about});
const quick = async () => new Promise((resolve) => setImmediate(resolve));
const labels = (server) => server.book.map((one) => one.note);

// The same series of numbers for the same seed (Park and Miller's minimal standard generator).
function series(seed) {
  let x = seed;
  return () => ((x = (x * 48271) % 2147483647) - 1) / 2147483646;
}

test("an id is a UUID of version 4", () => {
  for (let i = 0; i < 100; i++) assert.match(newId(), /^[0-9a-f]{8}-[0-9a-f]{4}-4[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/);
});

test("begins the observation first, then sends in order, and rests", async () => {
  const store = new Memory(), server = new Server();
  ["a", "b", "c"].forEach((label) => store.add(label));
  await new Queue({store, post: server.post, key: "k"}).wake();
  assert.deepEqual(labels(server), ["a", "b", "c"]);
  assert.equal(store.about.id, 7);
  assert.deepEqual(store.records.map((record) => [record.state, record.seq]), [["safe", 1], ["safe", 2], ["safe", 3]]);
});

test("100 series of random trouble, two tabs at once: none lost, none twice, order kept", async () => {
  for (let seed = 1; seed <= 100; seed++) {
    const random = series(seed);
    const trouble = () => (random() < 0.4 ? {before: random() < 0.5, error: failed([0, 500, 503, 429][Math.floor(random() * 4)])} : null);
    const store = new Memory(), server = new Server(trouble);
    const tabs = [0, 1].map(() => new Queue({store, post: server.post, key: "k", sleep: quick}));
    const running = [];
    for (let i = 0; i < 40; i++) {
      store.add(i);
      running.push(tabs[Math.floor(random() * 2)].wake());
      if (random() < 0.5) await quick();
    }
    await Promise.all(running);
    await Promise.all(tabs.map((tab) => tab.wake()));
    assert.deepEqual(labels(server), [...Array(40).keys()], `seed ${seed}`);
    assert.ok(store.records.every((record) => record.state === "safe"));
  }
});

test("a login that has ended stops the sending, and the next wake goes on", async () => {
  let shut = true;
  const store = new Memory(), server = new Server(() => (shut ? {before: true, error: failed(401)} : null));
  store.add("a");
  const queue = new Queue({store, post: server.post, key: "k", sleep: quick});
  await queue.wake();
  assert.equal(queue.held, "door");
  assert.equal(store.records[0].state, "here");
  shut = false;
  await queue.wake();
  assert.equal(queue.held, null);
  assert.deepEqual(labels(server), ["a"]);
});

test("a refused entry does not hold up those after it, and stays with its reason", async () => {
  const store = new Memory(), server = new Server();
  ["a", "refuse", "c"].forEach((label) => store.add(label));
  await new Queue({store, post: server.post, key: "k"}).wake();
  assert.deepEqual(labels(server), ["a", "c"]);
  assert.equal(store.records[1].state, "refused");
  assert.equal(store.records[1].refused, "no such thing");
});

test("waits grow from half a second to fifteen seconds, and a success makes them short again", async () => {
  let left = 8;
  const waits = [];
  const store = new Memory(), server = new Server(() => (left-- > 0 ? {before: true, error: failed(0)} : null));
  store.add("a");
  await new Queue({store, post: server.post, key: "k", sleep: async (ms) => waits.push(ms)}).wake();
  assert.equal(waits.length, 8);
  waits.forEach((ms, i) => assert.ok(ms >= Math.min(500 * 2 ** i, 15000) * 0.75 && ms <= Math.min(500 * 2 ** i, 15000) * 1.25));
});

test("a request stays within what the server takes", () => {
  const record = (length) => ({entry: {note: "x".repeat(length)}});
  assert.equal(batchOf(Array(10).fill(record(5000))).length, 4);
  assert.equal(batchOf([record(60000), record(1)]).length, 1, "one always goes");
  assert.equal(batchOf([]).length, 0);
});

test("corrections: the log has what remains, in order of time and then of logging", () => {
  const record = (place, entry, about = {}) => ({place, state: "safe", seq: place, entry, warning: null, refused: null, ...about});
  const events = eventsOf([
    record(1, {id: "a", at_ms: 5, action: "drill"}),
    record(2, {id: "b", at_ms: 3, action: "drill"}),
    record(3, {id: "c", strike: "a", reason: "x"}),
    record(4, {id: "d", amend: "b", reason: "x", at_ms: 9, action: "screw", details: {use: "wood"}}, {state: "here", seq: null}),
    record(5, {id: "e", at_ms: 9, action: "level"}),
    record(6, {id: "f", amend: 5, reason: "x", at_ms: 1, action: "glue"}, {state: "refused", refused: "why"}),
    record(7, {id: "g", at_ms: 2, action: "odd"}, {state: "refused", refused: "unknown"}),
  ]);
  assert.deepEqual(effective(events).map((event) => event.id), ["b", "e"]);
  const [a, b, e] = events;
  assert.ok(a.struck);
  assert.equal(b.action, "screw");
  assert.equal(b.state, "here", "a correction on its way shows at its event");
  assert.equal(e.action, "level", "a refused correction changes nothing");
  assert.equal(e.warning, "why");
});
