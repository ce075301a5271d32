// SPDX-License-Identifier: GPL-3.0-or-later
// Recording after the event: a player and a bench whose clock is the player's. Used for a second observation from a video
// and for a trainee's own.
import {post} from "./api.js";
import {Bench} from "./bench.js";
import {BenchView} from "./bench_view.js";
import {button, fill, make, notice} from "./dom.js";
import {Keys} from "./keys.js";
import {keysPart} from "./keys_view.js";
import {isTaken, Player} from "./player.js";
import {HeadClock} from "./playhead.js";
import {Queue} from "./queue.js";
import {newId} from "./store.js";
import {saveWords} from "./strip.js";
import {text} from "./text.js";
import {momentOf, whenQuiet} from "./touch.js";

const t = text.recorder;
const TICK_MS = 200;

// `about` as the store keeps an observation: {person, trainee, name, rubric, edition, title, mode, started_ms} and
// `wanted_session`, null where the server is to make one.
export async function newObservation(store, about) {
  const observation = {station: "", model: "", ...about, key: newId(), id: null, session: null, last_ms: 0, wall_ms: Date.now(), closed: false, receipt: null};
  await store.addObservation(observation);
  return observation;
}

// Open ones of this person and mode on this machine; of closed ones what is unsent goes.
export async function openObservations(store, person, mode) {
  const kept = (await store.observationsOf(person)).filter((one) => one.mode === mode);
  kept.filter((one) => one.closed).forEach(({key}) => new Queue({store, post, key}).wake());
  return kept.filter((one) => !one.closed);
}

export class Recorder {
  #bench = null;
  #view = null;
  #store;
  #observation;
  #form;
  #after;
  #player;
  #save = make("span", {class: "save", role: "status"});
  #begin = make("div", {class: "stack"});
  #stage = make("div", {});
  #keysOn = localStorage.getItem("keys") !== "off";

  root = make("div", {class: "recorder"});

  // after(bench): elements that follow once it is closed; leave(): it is put away. `bare`: also without a video.
  constructor(store, observation, form, {after, leave, bare}) {
    this.#store = store;
    this.#observation = observation;
    this.#form = form;
    this.#after = after;
    this.leave = leave;
    this.#player = new Player({bare, opened: () => this.#start()});
    const {name, trainee, title} = observation;
    this.root.append(
      make("div", {class: "strip"}, make("h1", {}, t.title(name ?? trainee, title)), this.#save),
      make("div", {class: "watch"}, make("div", {class: "screen"}, this.#player.root), make("div", {class: "record"}, this.#begin, this.#stage)),
      keysPart({on: this.#keysOn, toggle: () => this.#toggleKeys(), form: () => this.#form}));
    fill(this.#begin, notice(t.openFirst));
  }

  // There is something to play: the bench is drawn once, its clock is that of the head at hand.
  async #start() {
    if (this.#bench) return;
    const clock = new HeadClock(() => this.#player.head);
    this.#bench = new Bench(this.#store, this.#observation, this.#form, clock);
    await this.#bench.read(false);
    this.#view = new BenchView(this.#bench, () => this.#putAway());
    this.#bench.onChange(() => whenQuiet(() => this.#draw()));
    this.#bench.queue.wake();
    this.#listen();
    this.#draw();
  }

  async #putAway() {
    if (!(await this.#bench.putAway())) return;
    this.#bench.leave();
    this.leave();
  }

  // Drawing -------------------------------------------------------------------------------

  #draw() {
    const {clock, observation} = this.#bench;
    const waits = !clock.started && !observation.closed;
    fill(this.#begin,
      waits ? [make("p", {}, t.startWhy), button(t.start, (event) => this.#logStart(momentOf(event)), {class: "main large", "data-key": "recorder/start"})] : null,
      observation.closed ? this.#after(this.#bench) : null);
    if (!waits && !this.#view.root.isConnected) fill(this.#stage, this.#view.root);
    if (waits) fill(this.#stage);
    this.#tick();
  }

  #tick() {
    const {words, kind} = saveWords([this.#bench]);
    if (this.#save.textContent !== words) this.#save.textContent = words;
    this.#save.className = `save ${kind}`;
    if (this.#view.root.isConnected) this.#view.tick();
  }

  #logStart(moment) {
    return this.#bench.add([{action: "start", at_ms: this.#bench.entryTime(moment, 0)}]);
  }

  // Keys and time -----------------------------------------------------------------------------

  #toggleKeys() {
    this.#keysOn = !this.#keysOn;
    localStorage.setItem("keys", this.#keysOn ? "on" : "off");
    return this.#keysOn;
  }

  #listen() {
    const keys = new Keys({press: (key, moment) => this.#view.root.isConnected && this.#view.key(key, moment), word: (word, moment) => this.#view.word(word, moment)});
    setInterval(() => whenQuiet(() => this.#tick()), TICK_MS);
    addEventListener("online", () => this.#bench.queue.wake());
    addEventListener("keydown", (event) => {
      if (isTaken(event) || !this.root.isConnected) return;
      const known = this.#player.key(event) || (this.#keysOn && !event.ctrlKey && !event.metaKey && !event.altKey && keys.key(event.key, event.timeStamp));
      if (known) event.preventDefault();
    });
  }
}
