// SPDX-License-Identifier: GPL-3.0-or-later
// The board: nobody yet, twelve benches on a laptop without scrolling, an entry within a second, paused, over target in
// words, closed; and when the server is gone it says since when, and goes on by itself.
import {randomUUID} from "node:crypto";
import {check, giveAccount, logIn, makeBook, openBrowser, openPage, Server} from "./lab.mjs";

const WITHIN_MS = 1000;

makeBook(["tibia-frame"]);
["DR-1", "AS-1"].forEach(giveAccount);
const server = new Server();
await server.start();
const browser = await openBrowser();
const board = await openPage(await browser.newContext({viewport: {width: 1366, height: 768}}));
await logIn(board, server.url, "DR-1");
await board.goto(`${server.url}/board`);
await board.waitForFunction(() => /Nobody/.test(document.querySelector(".board-state")?.textContent));

// An assessor's requests, as the capture page makes them.
const assessor = await openPage(await browser.newContext());
await logIn(assessor, server.url, "AS-1");
const post = (address, body) => assessor.evaluate(async ([to, what]) => {
  const {token} = await (await fetch("/api/me")).json();
  const answer = await fetch(to, {method: "POST", headers: {"Content-Type": "application/json", "X-Benchtally-Token": token}, body: JSON.stringify(what)});
  if (!answer.ok) throw new Error(await answer.text());
  return answer.json();
}, [address, body]);
const log = (id, entry) => post(`/api/observations/${id}/entries`, {entries: [{id: randomUUID(), ...entry}]});

async function beginBench(n, ago_ms) {
  const {id} = await post("/api/observations", {session: null, trainee: `LK-0${1 + (n % 6)}`, rubric: "tibia-frame", edition: 1, mode: "live",
    started_ms: Date.now() - ago_ms - n, station: String(n), cautions_read: true});
  await log(id, {at_ms: 0, action: "note", note: `Station ${n}.`});
  await log(id, {at_ms: 0, action: "start"});
  return id;
}

const card = (id) => board.locator(`[data-bench="${id}"]`);
const late = async (id, words, since) => {
  await board.waitForFunction(([which, what]) => document.querySelector(`[data-bench="${which}"]`)?.textContent.includes(what), [id, words]);
  return performance.now() - since;
};

// How long an entry takes to the board: the median of some, for other work goes on on this machine.
const first = await beginBench(1, 60000);
await card(first).waitFor();
const took = [];
for (let i = 1; i <= 5; i++) {
  const since = performance.now();
  await log(first, {at_ms: 1000 * i, action: "note", note: `look ${i}`});
  took.push(await late(first, `look ${i}`, since));
  await board.waitForTimeout(300);
}
const median = took.sort((a, b) => a - b)[2];
check(median < WITHIN_MS, `an entry takes ${Math.round(median)} ms to the board`);

// What a card says.
await log(first, {at_ms: 9000, action: "pause"});
await late(first, "paused", 0);
const over = await beginBench(2, 27 * 60000);
await log(over, {at_ms: 27 * 60000, action: "mark"});
await late(over, "over target", 0);
check((await card(over).locator(".bar .late").count()) === 1, "the bar of a late bench looks like the others");

// Twelve, on a laptop, without scrolling.
for (let n = 3; n <= 12; n++) await beginBench(n, n * 60000);
await board.waitForFunction(() => document.querySelectorAll(".card").length === 12);
const {bottom, small} = await board.evaluate(() => ({
  bottom: Math.max(...[...document.querySelectorAll(".card")].map((one) => one.getBoundingClientRect().bottom)),
  small: [".who", ".big", ".phase"].map((name) => parseFloat(getComputedStyle(document.querySelector(`.card ${name}`)).fontSize)),
}));
check(bottom <= 768, `the twelfth card ends at ${bottom} px`);
check(Math.min(...small) >= 20, `names, times and phases have ${small} px`); // 20 px are 5 mm at 96 to the inch
if (process.env.SHOTS) await board.screenshot({path: `${process.env.SHOTS}/board-twelve.png`});
const order = await board.$$eval(".station", (all) => all.map((one) => Number(one.textContent)));
check(order.every((n, i) => n === i + 1), `the stations stand as ${order}`);

// Closed: gone.
await log(over, {at_ms: 28 * 60000, action: "finish"});
await post(`/api/observations/${over}/close`, {entries: 4});
await card(over).waitFor({state: "detached"});

// No connection, and back.
await server.stop("SIGKILL");
await board.waitForFunction(() => /^No connection since/.test(document.querySelector(".board-state").textContent));
check((await board.locator(".card").count()) === 11, "the cards are gone with the connection");
await server.start();
await board.waitForFunction(() => /^11 benches at work/.test(document.querySelector(".board-state").textContent));

await browser.close();
await server.stop();
console.log(`board: an entry shows after ${Math.round(median)} ms`);
