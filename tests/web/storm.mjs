// SPDX-License-Identifier: GPL-3.0-or-later
// Rounds of trouble at random moments. In each, one of two tabs of the same observation logs one to three numbered notes,
// while one of these happens: nothing, the network goes, it comes back, the server is killed with -9 and started again,
// a tab is reloaded (only while the server can be reached: without it there is no page), the tablet's wall clock is set.
// A note counts from the moment the page shows it. At the end every note must be in the book once, in the order logged,
// with times that do not go back.
import {allSafe, begin, check, command, giveAccount, logIn, makeBook, openBrowser, openPage, Server, series} from "./lab.mjs";

const [seed, rounds] = process.argv.slice(2).map(Number);
const random = series(seed);
const pick = (list) => list[Math.floor(random() * list.length)];

makeBook(["arch-bars"]);
["DR-1", "AS-1"].forEach(giveAccount);
const server = new Server();
await server.start();
const browser = await openBrowser();
const context = await browser.newContext({viewport: {width: 1180, height: 820}});
await context.addInitScript(() => {
  // The wall clock of this tablet, which the test sets.
  const real = Date.now.bind(Date);
  Date.now = () => real() + Number(localStorage.getItem("ahead") ?? 0);
});
const tabs = [await openPage(context)];
await logIn(tabs[0], server.url, "AS-1");
await tabs[0].goto(`${server.url}/capture`);
await begin(tabs[0], {trainee: "LK-01", rubric: "arch-bars", station: "1"});
await allSafe(tabs[0]);
tabs.push(await openPage(context));
await tabs[1].goto(`${server.url}/capture`);

const ready = (tab) => tab.waitForSelector("[data-key='tool/note']");
await Promise.all(tabs.map(ready));

let online = true, numbered = 0;
const happened = {};
const troubles = {
  nothing: async () => {},
  away: async () => {
    await context.setOffline(true);
    online = false;
  },
  back: async () => {
    await context.setOffline(false);
    online = true;
  },
  kill: async () => {
    await server.stop("SIGKILL");
    await new Promise((resolve) => setTimeout(resolve, random() * 300));
    await server.start();
  },
  reload: async () => {
    if (!online) await troubles.back();
    const tab = pick(tabs);
    await tab.reload();
    await ready(tab);
  },
  clock: async () => {
    await tabs[0].evaluate((ahead) => localStorage.setItem("ahead", ahead), String(Math.round((random() - 0.5) * 7200000)));
  },
};

// Logs one note and waits until the page shows it as logged. In the page, because a hundred rounds of a driver's
// clicks would take minutes.
const log = (tab) => tab.evaluate(async (words) => {
  const find = async (selector) => {
    for (let i = 0; i < 2000; i++) {
      const found = [...document.querySelectorAll(selector)].find((one) => !selector.includes(".entry") || one.textContent.includes(words));
      if (found) return found;
      await new Promise((resolve) => setTimeout(resolve, 5));
    }
    throw new Error(`no ${selector} for ${words}`);
  };
  (await find("[data-key='tool/note']")).click();
  (await find(".panel textarea")).value = words;
  (await find(".panel form button.main")).click();
  await find(".part-log .entry");
}, `number ${++numbered};`);

// After a reload on a tablet whose wall clock was set meanwhile, time comes from a request to the server, and may be
// wrong by half of what that took; on a machine that is busy with other tests this is a good part of a second.
const APART_MS = 1000;

const began_ms = Date.now();
for (let round = 0; round < rounds; round++) {
  const trouble = pick(Object.keys(troubles));
  happened[trouble] = (happened[trouble] ?? 0) + 1;
  const strikes = troubles[trouble];
  if (trouble === "reload") {
    await log(pick(tabs)); // unsent, or on its way, when the page goes
    await strikes();
  } else {
    const tab = pick(tabs);
    const striking = new Promise((resolve) => setTimeout(resolve, random() * 100)).then(strikes);
    for (let n = 1 + Math.floor(random() * 3); n > 0; n--) await log(tab);
    await striking;
  }
}
if (!online) await troubles.back();
await Promise.all(tabs.map(allSafe));
const spent_s = Math.round((Date.now() - began_ms) / 1000);

// The book, read by the command.
const session = JSON.parse(command(["sessions", "--json"]))[0].session;
const inMs = (time) => Math.round(time.split(":").reduce((sum, part) => sum * 60 + Number(part), 0) * 1000);
const notes = JSON.parse(command(["log", session, "--json"]))
  .filter((record) => record.kind === "logged" && /^number \d+;$/.test(record.note ?? ""))
  .sort((a, b) => a.event - b.event)
  .map((record) => ({n: Number(/\d+/.exec(record.note)[0]), at_ms: inMs(record.time)}));
const numbers = notes.map((note) => note.n);
const missing = Array.from({length: numbered}, (_, i) => i + 1).filter((n) => !numbers.includes(n));
check(missing.length === 0, `lost: ${missing}`);
check(numbers.length === numbered, `twice: ${numbers.filter((n, i) => numbers.indexOf(n) !== i)}`);
check(numbers.every((n, i) => n === i + 1), `order: ${numbers}`);
const back = notes.filter((note, i) => i > 0 && note.at_ms < notes[i - 1].at_ms - APART_MS);
check(back.length === 0, `times that go back by more than ${APART_MS} ms at numbers ${back.map((note) => note.n)}`);
const last_ms = notes.at(-1).at_ms;
check(Math.abs(last_ms / 1000 - spent_s) < spent_s * 0.2 + 15, `the last note at ${last_ms} ms of about ${spent_s} s`);
command(["verify"]);
console.log(`${numbered} notes in ${rounds} rounds, ${spent_s} s, seed ${seed}:`, JSON.stringify(happened));

await browser.close();
await server.stop();
