// SPDX-License-Identifier: GPL-3.0-or-later
// Recording at the bench: up to four observations at a time, each with its own clock and queue.
import {lab, logIn, me, post} from "./api.js";
import {asked, BeginView, formPath} from "./begin_view.js";
import {Bench} from "./bench.js";
import {BenchView} from "./bench_view.js";
import {button, fill, make, notice} from "./dom.js";
import {openPage} from "./frame.js";
import {Keys} from "./keys.js";
import {keysPart} from "./keys_view.js";
import {Queue} from "./queue.js";
import {openStore} from "./store.js";
import {BENCHES_MOST, Strip} from "./strip.js";
import {text} from "./text.js";
import {watchTouches, whenQuiet} from "./touch.js";

const TICK_MS = 250;
const COMPARE_MS = 30000;
const DOUBT_MS = 40; // the lab's time is asked again, a few times, as long as it may be wrong by more

class CapturePage {
  #who;
  #store;
  #main;
  #views = new Map(); // Bench -> BenchView
  #current = null; // a Bench; null: beginning another
  #strip = new Strip();
  #told = make("div", {role: "status"});
  #door = make("div", {});
  #stage = make("div", {});
  #begin;
  #keysOn = localStorage.getItem("keys") !== "off";

  constructor(who, store, main) {
    this.#who = who;
    this.#store = store;
    this.#main = main;
    this.#begin = new BeginView(store, who, (bench) => this.#take(bench, true));
  }

  get #benches() {
    return [...this.#views.keys()];
  }

  async open() {
    fill(this.#main, this.#strip.root, this.#door, this.#told, this.#stage,
      keysPart({on: this.#keysOn, toggle: () => this.#toggleKeys(), form: () => this.#current?.form}));
    for (let i = 0; i < 4 && lab.doubt_ms > DOUBT_MS; i++) await me().catch(() => {});
    for (const observation of await this.#store.observationsOf(this.#who.code)) await this.#again(observation);
    await this.#show(this.#benches[0] ?? null);
    this.#listen();
  }

  // What this tablet holds: open live observations become benches, of others only what is unsent goes.
  async #again(observation) {
    if (observation.closed || observation.mode !== "live" || this.#views.size >= BENCHES_MOST) {
      new Queue({store: this.#store, post, key: observation.key}).wake();
      return;
    }
    const {answer} = await asked(this.#store, formPath(observation.rubric, observation.edition));
    this.#take(await Bench.again(this.#store, observation, answer), false);
  }

  #take(bench, show) {
    this.#views.set(bench, new BenchView(bench, () => this.#putAway(bench)));
    bench.onChange(() => whenQuiet(this.#changed));
    bench.queue.wake();
    if (show) this.#show(bench);
    if (bench.apart_ms) this.#tell(text.save.clockApart(Math.round(Math.abs(bench.apart_ms) / 1000), bench.apart_ms > 0));
  }

  async #putAway(bench) {
    if (!(await bench.putAway())) return;
    bench.leave();
    this.#views.delete(bench);
    await this.#show(this.#benches[0] ?? null);
  }

  // Drawing -------------------------------------------------------------------

  async #show(bench) {
    this.#current = bench;
    this.#drawStrip();
    if (bench) fill(this.#stage, this.#views.get(bench).root);
    else {
      fill(this.#stage, this.#begin.root);
      await this.#begin.load(new Set(this.#benches.map((one) => one.observation.id)));
    }
  }

  #drawStrip() {
    this.#strip.draw(this.#benches, this.#current, (bench) => this.#show(bench), () => this.#show(null));
  }

  #changed = () => {
    this.#strip.tick();
    const shut = this.#benches.some((bench) => bench.queue.held === "door");
    if (shut && !this.#door.firstChild) fill(this.#door, this.#loginForm());
    for (const bench of this.#benches.filter((one) => one.slept_ms)) {
      this.#tell(text.save.clockSlept(Math.round(bench.slept_ms / 1000)));
      bench.slept_ms = 0;
    }
  };

  #tell(words) {
    this.#told.append(make("div", {class: "notice warns"}, words, " ", button(text.close, (event) => event.currentTarget.parentElement.remove())));
  }

  // The same person logs in again without leaving the page, whose clocks go on.
  #loginForm() {
    const said = make("div", {role: "alert"});
    const send = async (event) => {
      event.preventDefault();
      try {
        await logIn(this.#who.code, event.target.elements.secret.value);
        fill(this.#door);
        this.#wake();
      } catch (error) {
        fill(said, notice(error.message, "stops"));
      }
    };
    return make("form", {class: "notice stops", onsubmit: send}, make("p", {}, text.login.again(this.#who.code)),
      make("label", {}, text.login.secret, make("input", {name: "secret", type: "password", autocomplete: "current-password", required: true})),
      make("button", {class: "main"}, text.login.go), said);
  }

  // Time and network ----------------------------------------------------------

  #listen() {
    watchTouches();
    setInterval(() => whenQuiet(this.#tick), TICK_MS);
    setInterval(() => this.#compare(), COMPARE_MS);
    addEventListener("online", () => this.#wake());
    document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && this.#compare());
    const keys = new Keys({press: (key, moment) => this.#press(key, moment), word: (word, moment) => this.#views.get(this.#current)?.word(word, moment)});
    addEventListener("keydown", (event) => this.#keydown(event, keys));
    this.#compare();
  }

  #tick = () => {
    this.#strip.tick();
    this.#views.get(this.#current)?.tick();
  };

  #wake() {
    this.#benches.forEach((bench) => bench.queue.wake());
  }

  // Asks the lab's time, sends what is unsent. Somebody else may have logged in with this browser meanwhile.
  async #compare() {
    try {
      const now = await me();
      if (now.code !== this.#who.code) location.assign("/");
    } catch {
      return; // the queues say so
    }
    this.#benches.forEach((bench) => bench.checkClock());
    this.#wake();
  }

  // Keys ----------------------------------------------------------------------

  #toggleKeys() {
    this.#keysOn = !this.#keysOn;
    localStorage.setItem("keys", this.#keysOn ? "on" : "off");
    return this.#keysOn;
  }

  #keydown(event, keys) {
    const {target, key} = event;
    if (!this.#keysOn || event.ctrlKey || event.metaKey || target.closest("input, select, textarea")) return;
    if (event.altKey && /^[1-4]$/.test(key)) {
      event.preventDefault();
      if (this.#benches[key - 1]) this.#show(this.#benches[key - 1]);
    } else if (!event.altKey && this.#current && !(key === " " && target.closest("button, summary, a")) && keys.key(key, event.timeStamp))
      event.preventDefault();
  }

  #press(key, moment) {
    return this.#views.get(this.#current)?.key(key, moment) ?? false;
  }
}

if (!globalThis.indexedDB) fill(document.getElementById("content"), notice(text.oldBrowser, "stops"));
else {
  const {who, main} = await openPage("capture", text.head.capture);
  await new CapturePage(who, await openStore(), main).open();
}
