// SPDX-License-Identifier: GPL-3.0-or-later
// A session by touch against the real server: targets, details, redo, error, inject, not seen, pause, earlier, undo,
// change, measures, ratings, closing. Then the same events, as this test did them, are imported into another book, and
// the engine's answer must be the same. Only the times are the page's; they must be those of the touches.
import fs from "node:fs";
import {allSafe, begin, check, command, giveAccount, key, logIn, makeBook, openBrowser, openPage, Server} from "./lab.mjs";

const rubric = "ankle-lag-plate";
makeBook([rubric]);
["DR-1", "AS-1"].forEach(giveAccount);
const server = new Server();
await server.start();
const browser = await openBrowser();
const context = await browser.newContext({viewport: {width: 1180, height: 820}, hasTouch: true});
const page = await openPage(context);
await logIn(page, server.url, "AS-1");
await page.goto(`${server.url}/capture`);

// What was done, in the order of logging: an action, its columns, and between which moments the touch was.
const done = [];
let zero_ms;

async function touch(name, about = {}) {
  await page.waitForTimeout(420); // two touches closer together are taken for one finger
  const before_ms = Date.now();
  await key(page, name).first().tap();
  return {...about, touch: [before_ms, Date.now()]};
}

const answer = (title, value) => page.locator(`.panel [data-key="${title}/${value}"]`).tap();
const quiet = () => page.waitForSelector(".panel", {state: "detached"});

async function logged(n = done.length) {
  await page.waitForFunction((most) => document.querySelectorAll(".part-log .entry").length >= most, Math.min(n, 6));
}

// One touch on a checkpoint's target; what it says for certain, and the answers by the titles of the questions.
async function work(checkpoint, action, site, certain, answers = {}, about = {}) {
  done.push(await touch(`checkpoint/${checkpoint}`, {action, site, details: {...certain, ...Object.fromEntries(Object.values(answers))}, ...about}));
  for (const [title, [, value]] of Object.entries(answers)) await answer(title, value);
  await logged();
  await quiet();
}

// A tool, and what is chosen in its list.
async function tool(name, item, ago_s = 0) {
  if (ago_s) await key(page, `The next entry happened/${ago_s}`).tap();
  done.push(await touch(`tool/${name}`, {action: name, item, ago_s}));
  await answer("choice", item);
  await quiet();
}

const fit = (value) => ({"Fit of the ends": ["fit", value]});
const screw = (length, cortices) => ({Length: ["length", length], "Cortices held": ["cortices", cortices]});

// The session -----------------------------------------------------------------

const began_ms = Date.now();
await begin(page, {trainee: "LK-02", rubric, station: "5", model: "M-14"});
zero_ms = Number(await page.evaluate(async () => {
  const database = await new Promise((resolve) => (indexedDB.open("benchtally").onsuccess = (event) => resolve(event.target.result)));
  return new Promise((resolve) => (database.transaction("observations").objectStore("observations").getAll().onsuccess = (event) => resolve(event.target.result[0].started_ms)));
}));
check(zero_ms >= began_ms - 50 && zero_ms <= Date.now(), "the session begins at the touch on its start");
done.push({action: "start", touch: [zero_ms, zero_ms]}, {action: "note", note: "Station 5. Model M-14.", touch: [zero_ms, zero_ms]});

await work("fibula-reduced", "reduce", "fibula-fracture", {}, fit("gapped"));
await touch("tool/redo");
await work("fibula-reduced", "reduce", "fibula-fracture", {}, fit("anatomic"), {redo: "yes"});
await work("gliding-hole", "drill", "fibula-fracture", {"hole-for": "gliding"});
await work("thread-hole", "drill", "fibula-fracture", {"hole-for": "thread"});
await tool("error", "plunge");
await work("sunk", "countersink", "fibula-fracture", {});
await work("lag-measured", "gauge", "fibula-fracture", {});
done.push(await touch("tool/pause", {action: "pause"}));
await page.waitForSelector("[data-key='tool/resume']");
await page.waitForTimeout(700);
done.push(await touch("tool/resume", {action: "resume"}));
await page.waitForSelector("[data-key='tool/pause']");
await work("lagged", "screw", "fibula-fracture", {use: "lag"}, screw("22", "2"));
await work("plated", "plate", "fibula-fracture", {}, {Holes: ["holes", "6"]});
await work("shaft-screws", "screw", "fibula-shaft", {use: "neutral"}, screw("14", "2"));
await work("shaft-screws", "screw", "fibula-shaft", {use: "neutral"}, screw("16", "1"));
done.push(await touch("checkpoint/shaft-screws", {action: "screw", site: "fibula-shaft", details: {use: "neutral", length: "16", cortices: "1"}}));
await key(page, "panel/same").tap(); // as last time
await quiet();
await tool("inject", "opens-wide");
await work("inner-reduced", "reduce", "inner-malleolus", {}, fit("anatomic"));
await work("inner-screws", "screw", "inner-malleolus", {use: "lag"}, screw("40", "1"));
await tool("unseen", "tip-screws");
await tool("error", "stripped", 10);
done.push(await touch("action/look", {action: "look", site: "joint"}));
await logged();

// A change afterwards: the second screw of the shaft held two cortices.
const changed = done.findLastIndex((one) => one.details?.length === "16") - 1;
await key(page, "log/all").tap();
await page.locator(".part-log .entry", {hasText: "Cortices held 1"}).filter({hasText: "16 mm"}).nth(1).getByRole("button", {name: /^Change/}).tap();
await answer("Cortices held", "2");
await key(page, "panel/done").tap();
await quiet();
done[changed].details.cortices = "2";

done.push(await touch("tool/finish", {action: "finish"}));
await answer("choice", "yes");
await page.waitForSelector("[data-key='rate/reads-fracture/5']");
for (const [item, value] of [["reads-fracture", "4"], ["hand-feel", "3"]]) {
  done.push(await touch(`rate/${item}/${value}`, {action: "rate", item, value}));
  await page.waitForSelector(`[data-key="rate/${item}/${value}"][aria-pressed=true]`);
}
for (const [item, value] of [["fibula-step", "0.5"], ["inner-gap", "1"], ["lag-angle", "12"], ["joint-clearance", "2.5"]]) {
  const before_ms = Date.now();
  await key(page, `measure/${item}`).fill(value);
  await key(page, `measure/${item}`).press("Enter");
  done.push({action: "measure", item, value, touch: [before_ms, Date.now()]});
  await page.waitForFunction((name) => document.querySelector(`[data-key="${name}"]`).defaultValue !== "", `measure/${item}`);
}
// One too many, and its undo.
await touch("tool/error");
await answer("choice", "plunge");
await page.waitForSelector(".part-last .entry:has-text('Drill plunges')");
await page.locator(".part-last").getByRole("button", {name: /^Undo/}).tap();
await page.waitForSelector(".part-last .entry:not(:has-text('Drill plunges'))");

await allSafe(page);
await key(page, "end/close").tap();
const receipt = await page.locator(".receipt").textContent();
check(/^[0-9a-f]{5}( [0-9a-f]{5}){3}$/.test(receipt), `a receipt of the last link: ${receipt}`);
const words = await page.locator(".outcome").textContent();

// The book against what was done ----------------------------------------------

const session = (await page.locator("text=/^Session /").textContent()).slice("Session ".length);
const {entries} = await page.evaluate(async () => (await fetch("/api/observations/1")).json());
const events = entries.filter((entry) => !entry.strike && !entry.amend);
check(events.length === done.length + 1, `${done.length} events and one undone: ${events.length}`);
done.forEach(({action, touch: [from_ms, to_ms], ago_s = 0}, i) => {
  const at_ms = zero_ms + events[i].at_ms + ago_s * 1000;
  check(events[i].action === action && at_ms >= from_ms - 30 && at_ms <= to_ms + 30,
    `event ${i + 1}, ${action}: ${events[i].action} at ${at_ms - from_ms} ms after ${to_ms - from_ms} ms of touching`);
});

const names = [...new Set(done.flatMap((one) => Object.keys(one.details ?? {})))];
const quote = (value = "") => `"${String(value).replaceAll('"', '""')}"`;
const seconds = (ms) => `${Math.floor(ms / 1000)}.${String(ms % 1000).padStart(3, "0")}`;
const row = (one, i) => [session, "LK-02", "AS-1", rubric, 1, new Date(zero_ms).toISOString(), "live", seconds(events[i].at_ms), one.action,
  one.site, one.item, one.value, one.redo, one.note, ...names.map((name) => one.details?.[name])].map(quote).join(",");
const head = `session,trainee,assessor,rubric,edition,started,mode,time,action,site,item,value,redo,note,${names.join(",")}`;
fs.writeFileSync("same.csv", [head, ...done.map(row)].join("\r\n"));
makeBook([rubric], "other.db");
command(["import", "same.csv"], "", "other.db");

const here = command(["score", session, "--json"]), there = command(["score", session, "--json"], "", "other.db");
fs.writeFileSync("here.json", here);
fs.writeFileSync("there.json", there);
const [ledger] = JSON.parse(here);
check(here === there, "the session by touch scores as the same events imported (here.json, there.json)");
check(ledger.finished && ledger.steps.given > 15000 && ledger.technique.rows.some((one) => one.count === 1) && ledger.injects.length === 1,
  "the session had something to score");
check(words.toLowerCase().startsWith(ledger.outcome.replace("_", " ")), `the page says ${ledger.outcome}: ${words}`);
check(command(["verify"]).length > 0, "the book verifies");

await browser.close();
await server.stop();
