// SPDX-License-Identifier: GPL-3.0-or-later
// Sends what an observation has logged, in the order it was logged, one request at a time, until the server has it all
// on its disk.
//
// Two tabs may hold the same observation, and both send: no lock is needed. Each request carries the oldest entries that
// are not acknowledged, so whatever the server gets comes after everything older than it; and the same entry sent twice
// is, by its id, one entry. An answer that is lost is asked for again in the same way.

const BATCH_MOST = 200; // the server's limit
const BATCH_BYTES = 48000; // of 64 KiB that a request may have
const WAIT_FIRST_MS = 500;
const WAIT_MOST_MS = 15000;

// Why the queue does not send now.
export const HELD = {no: null, away: "away", busy: "busy", door: "door", wrong: "wrong"};

// What went wrong with a request, for the person who waits.
export function holdOf(error) {
  const {status} = error;
  if (error.isDoor) return HELD.door;
  if (status === 429 || status === 503) return HELD.busy;
  return status >= 400 && status < 500 ? HELD.wrong : HELD.away;
}

// As many of the oldest entries as one request may carry; at least one.
export function batchOf(records) {
  let bytes = 0;
  const fits = (record, i) => (bytes += JSON.stringify(record.entry).length * 2) <= BATCH_BYTES || i === 0;
  const end = records.findIndex((record, i) => !fits(record, i));
  return end < 0 ? records : records.slice(0, end);
}

export class Queue {
  #store;
  #post;
  #key;
  #changed;
  #sleep;
  #running = null;
  #again = false;
  #rouse = null;

  // way: the ids of entries in a request right now. held: one of HELD, with the server's words.
  way = new Set();
  held = HELD.no;
  words = "";

  // changed() is called whenever a state that people see has changed; sleep(ms) may end early (tests replace it).
  constructor({store, post, key, changed = () => {}, sleep = null}) {
    this.#store = store;
    this.#post = post;
    this.#key = key;
    this.#changed = changed;
    this.#sleep = sleep ?? ((ms) => this.#doze(ms));
  }

  // There is something to send, or a reason to try again now. Resolves when nothing is left to do at present.
  wake() {
    this.#again = true;
    this.#rouse?.();
    this.#running ??= this.#run().finally(() => (this.#running = null));
    return this.#running;
  }

  #doze(ms) {
    return new Promise((resolve) => {
      const timer = setTimeout(resolve, ms);
      this.#rouse = () => (clearTimeout(timer), resolve());
    });
  }

  async #run() {
    let wait_ms = WAIT_FIRST_MS;
    while (this.#again) {
      this.#again = false;
      try {
        while (await this.#step()) wait_ms = WAIT_FIRST_MS;
      } catch (error) {
        this.#hold(holdOf(error), error.message);
        if (this.held === HELD.door) return;
        await this.#sleep(wait_ms * (0.75 + Math.random() / 2));
        wait_ms = Math.min(wait_ms * 2, WAIT_MOST_MS);
        this.#again = true;
      }
    }
  }

  #hold(held, words = "") {
    this.way.clear();
    this.held = held;
    this.words = words;
    this.#changed();
  }

  // One request; false when there was nothing to send.
  async #step() {
    const observation = await this.#store.observation(this.#key);
    if (!observation) return false;
    if (observation.id === null) {
      await this.#begin(observation);
      return true;
    }
    const batch = batchOf(await this.#store.unsent(this.#key, BATCH_MOST));
    if (batch.length === 0) {
      if (this.held) this.#hold(HELD.no);
      return false;
    }
    await this.#send(observation, batch);
    return true;
  }

  // The observation itself goes first. It may have been begun while the server was away, and the answer may be lost: the
  // server knows it again by who, whom, what and when.
  async #begin(observation) {
    const {trainee, rubric, edition, mode, started_ms, station = "", wanted_session = null} = observation;
    const {id, session} = await this.#post("/api/observations",
      {session: wanted_session, trainee, rubric, edition, mode, started_ms, station, cautions_read: true});
    await this.#store.changeObservation(this.#key, {id, session});
    this.#hold(HELD.no);
  }

  async #send(observation, batch) {
    this.way = new Set(batch.map((record) => record.entry.id));
    this.#changed();
    const {acks} = await this.#post(`/api/observations/${observation.id}/entries`,
      {entries: batch.map((record) => record.entry)});
    const meant = acks.filter((ack) => this.way.has(ack.id));
    await this.#store.settle(meant);
    if (meant.length === 0) throw new Error("the server acknowledged nothing");
    this.#hold(HELD.no);
  }
}
