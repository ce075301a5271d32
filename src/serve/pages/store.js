// SPDX-License-Identifier: GPL-3.0-or-later
// What this tablet keeps: observations begun here, their entries until the lab's computer has them (and afterwards until
// the bench is put away), and the lists needed to begin one while the server is away.
//
// observations  {key, person, id, session, trainee, name, rubric, edition, title, station, model, mode, started_ms,
//               last_ms, wall_ms, closed, receipt}: `key` is made here; `id` and `session` are the server's, null until then
// entries       {place, observation, person, entry, state, seq, warning, refused}: `place` counts up over all entries
// drafts        {observation, id, changes}: details of an entry that are being given
// memory        {name, value}

const NAME = "benchtally";
const VERSION = 1;

const answer = (request) =>
  new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });

function upgrade(database) {
  const entries = database.createObjectStore("entries", {keyPath: "place", autoIncrement: true});
  entries.createIndex("id", "entry.id", {unique: true});
  entries.createIndex("observation", "observation");
  entries.createIndex("unsent", ["observation", "state"]);
  entries.createIndex("state", "state");
  database.createObjectStore("observations", {keyPath: "key"});
  database.createObjectStore("drafts", {keyPath: "observation"});
  database.createObjectStore("memory", {keyPath: "name"});
}

export async function openStore() {
  const opening = indexedDB.open(NAME, VERSION);
  opening.onupgradeneeded = () => upgrade(opening.result);
  return new Store(await answer(opening));
}

// UUID v4, as crypto.randomUUID would make it, which plain HTTP does not have.
export function newId() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
}

class Store {
  #database;

  constructor(database) {
    this.#database = database;
    database.onversionchange = () => database.close();
  }

  // Runs work(stores...) in one transaction and resolves with what it gives once all of it is kept.
  async #write(names, work) {
    const transaction = this.#database.transaction(names, "readwrite", {durability: "strict"});
    const kept = new Promise((resolve, reject) => {
      transaction.oncomplete = resolve;
      transaction.onabort = () => reject(transaction.error);
    });
    const [given] = await Promise.all([work(...names.map((name) => transaction.objectStore(name))), kept]);
    return given;
  }

  #read(name) {
    return this.#database.transaction(name).objectStore(name);
  }

  // Entries -------------------------------------------------------------------

  // Keeps new entries of an observation, in this order, with the time on its clock: what a reload starts from.
  addEntries(observation, entries, last_ms) {
    const {key, person} = observation;
    return this.#write(["entries", "observations"], async (kept, observations) => {
      const records = entries.map((entry) => ({observation: key, person, entry, state: "here", seq: null}));
      for (const record of records) record.place = await answer(kept.add(record));
      const now = await answer(observations.get(key));
      observations.put({...now, last_ms: Math.max(now.last_ms, last_ms), wall_ms: Date.now()});
      return records;
    });
  }

  // Entries that the server has and this tablet did not know (another tablet sent them).
  addKnown(observation, entries) {
    return this.#write(["entries"], async (kept) => {
      for (const {seq, ...entry} of entries) {
        if (!(await answer(kept.index("id").getKey(entry.id))))
          kept.add({observation: observation.key, person: observation.person, entry, state: "safe", seq});
      }
    });
  }

  entriesOf(key) {
    return answer(this.#read("entries").index("observation").getAll(key));
  }

  // The oldest entries that the server has not acknowledged, in order.
  unsent(key, most) {
    return answer(this.#read("entries").index("unsent").getAll([key, "here"], most));
  }

  // What the server said of entries: {id, seq, warning} or {id, refused}.
  settle(acks) {
    return this.#write(["entries"], async (kept) => {
      for (const {id, seq = null, warning = null, refused = null} of acks) {
        const record = await answer(kept.index("id").get(id));
        if (record) kept.put({...record, state: refused === null ? "safe" : "refused", seq, warning, refused});
      }
    });
  }

  // How many entries are unsent, by the person who logged them.
  async unsentByPerson() {
    const persons = new Map();
    for (const {person} of await answer(this.#read("entries").index("state").getAll("here")))
      persons.set(person, (persons.get(person) ?? 0) + 1);
    return persons;
  }

  // Observations --------------------------------------------------------------

  async observationsOf(person) {
    return (await answer(this.#read("observations").getAll())).filter((one) => one.person === person);
  }

  observation(key) {
    return answer(this.#read("observations").get(key));
  }

  addObservation(observation) {
    return this.#write(["observations"], (observations) => answer(observations.add(observation)));
  }

  // Changes some of what is kept of an observation; gives the whole.
  changeObservation(key, changes) {
    return this.#write(["observations"], async (observations) => {
      const changed = {...(await answer(observations.get(key))), ...changes};
      observations.put(changed);
      return changed;
    });
  }

  // Puts an observation away, but never an entry that the server has not.
  forget(key) {
    return this.#write(["observations", "entries", "drafts"], async (observations, entries, drafts) => {
      if ((await answer(entries.index("unsent").count([key, "here"]))) > 0) return false;
      for (const place of await answer(entries.index("observation").getAllKeys(key))) entries.delete(place);
      observations.delete(key);
      drafts.delete(key);
      return true;
    });
  }

  // Drafts, memory ------------------------------------------------------------

  draft(key) {
    return answer(this.#read("drafts").get(key));
  }

  keepDraft(draft) {
    return this.#write(["drafts"], (drafts) => answer(drafts.put(draft)));
  }

  dropDraft(key) {
    return this.#write(["drafts"], (drafts) => answer(drafts.delete(key)));
  }

  async recall(name) {
    return (await answer(this.#read("memory").get(name)))?.value;
  }

  remember(name, value) {
    return this.#write(["memory"], (memory) => answer(memory.put({name, value})));
  }
}
