// SPDX-License-Identifier: GPL-3.0-or-later
// Whether everyone can use the pages that are read, and the recorder beside a video: at four sizes, nothing scrolls
// sideways and targets are 44 px; light and dark, axe finds nothing. With SHOTS=folder a picture of each is kept, to
// be looked at. Called with `states` it looks at those that are made by hand.
import fs from "node:fs";
import {axeFile, check, key, logIn, openBrowser, openPage, Server, source} from "./lab.mjs";
import {makeFullBook, makeVideo} from "./looking.mjs";

const sizes = {
  laptop: {viewport: {width: 1366, height: 768}},
  upright: {viewport: {width: 820, height: 1180}, colorScheme: "dark"},
  phone: {viewport: {width: 320, height: 640}},
  zoomed: {viewport: {width: 320, height: 256}, colorScheme: "dark"}, // 1280 x 1024 at 400 %
};
const axeAt = ["laptop", "upright"]; // colours and names are the same at the others
const tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"];
const axe = fs.readFileSync(axeFile, "utf8");
const bad = fs.readFileSync(`${source}/rubrics/arch-bars.yaml`, "utf8").replace("points:", "pionts:");

// What is drawn when a page is opened, and what has to be there first.
const pages = {
  "DR-1": {board: ["/board", ".board-state"], people: ["/people", "tbody tr"], rubrics: ["/rubrics", "tbody tr"], sessions: ["/sessions", "tbody tr"],
    session: ["/session?code=larkfield-02", ".ledger"], compare: ["/compare?session=larkfield-08", ".pairs"], video: ["/video", "form.begin"]},
  "LK-06": {mine: ["/mine", "tbody tr"], own: ["/session?code=larkfield-03", "[data-key=own]"]},
  "LK-04": {seen: ["/session?code=larkfield-09", ".ledger"]},
};

// Targets that are too small; links within a sentence are none.
function measure() {
  const seen = (one) => one.checkVisibility() && one.getBoundingClientRect().width > 1;
  const box = (one) => (one.closest("label.tick") ?? one).getBoundingClientRect();
  const targets = [...document.querySelectorAll("button, summary, select, textarea, input, a")].filter(seen);
  const small = targets.filter((one) => box(one).width < 43.9 || box(one).height < 43.9).map((one) => `${one.textContent || one.name} ${box(one).width} x ${box(one).height}`);
  return {n: targets.length, small, wide: document.documentElement.scrollWidth - document.documentElement.clientWidth};
}

let looked = 0;

async function look(page, size, name) {
  if (axeAt.includes(size)) await audit(page, size, name);
  const {n, small, wide} = await page.evaluate(measure);
  check(n > 0 && small.length === 0, `${name}, ${size}: targets too small: ${small.join(", ")}`);
  check(wide <= 0, `${name}, ${size}: scrolls sideways by ${wide} px`);
  if (process.env.SHOTS) await page.screenshot({path: `${process.env.SHOTS}/${name}-${size}.png`, fullPage: name !== "record"});
  looked++;
}

async function audit(page, size, name) {
  await page.evaluate(axe);
  const {violations} = await page.evaluate((only) => globalThis.axe.run(document, {runOnly: {type: "tag", values: only}}), tags);
  const words = violations.map((one) => `${one.id}: ${one.help}: ${one.nodes.map((node) => node.html).slice(0, 3).join(" ; ")}`);
  check(words.length === 0, `${name}, ${size}: axe\n${words.join("\n")}`);
}

async function resized(page, name, before = () => {}) {
  for (const [size, {viewport, colorScheme = "light"}] of Object.entries(sizes)) {
    await page.emulateMedia({colorScheme});
    await page.setViewportSize(viewport);
    await before();
    await look(page, size, name);
  }
}

makeFullBook(["LK-06", "LK-04"]);
const server = new Server();
await server.start();
const browser = await openBrowser();

for (const [code, list] of process.argv[2] === "states" ? [] : Object.entries(pages)) {
  const page = await openPage(await browser.newContext());
  await logIn(page, server.url, code);
  for (const [name, [address, sign]] of Object.entries(list)) {
    await page.goto(server.url + address);
    await page.waitForSelector(sign);
    await resized(page, name);
  }
  await page.context().close();
}

// States that are made by hand: faults in a rubric, a question over the page, the recorder with a question open.
async function states() {
  const page = await openPage(await browser.newContext());
  await logIn(page, server.url, "DR-1");
  await page.goto(`${server.url}/rubrics`);
  await page.setInputFiles("input[type=file]", {name: "bad.yaml", mimeType: "text/yaml", buffer: Buffer.from(bad)});
  await page.waitForSelector(".faulty");
  await resized(page, "faults");
  await page.goto(`${server.url}/people`);
  await key(page, "secret/DR-1").click();
  await resized(page, "passphrase");
  await page.goto(`${server.url}/video?session=larkfield-03`);
  await page.waitForSelector("[name=read]");
  await page.check("[name=read]");
  await page.click("form.begin button.main");
  await page.setInputFiles("input[type=file]", await makeVideo(page, 1));
  await key(page, "recorder/start").click();
  await page.locator(".target.next").first().click();
  await page.waitForSelector(".panel");
  await resized(page, "record");
}

if (process.argv[2] === "states") await states();
await browser.close();
await server.stop();
console.log(`${looked} looks at pages`);
