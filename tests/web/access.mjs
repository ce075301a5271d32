// SPDX-License-Identifier: GPL-3.0-or-later
// Each page, and each state of the capture page, at four sizes: axe finds nothing (on the smallest light one and the
// largest dark one: what it looks at hardly changes between them, and it takes its time); no page scrolls sideways; targets are
// 44 px at least, those of the work 60, and 8 px apart. Then a session by the keyboard alone.
import fs from "node:fs";
import {allSafe, axeFile, begin, check, command, giveAccount, key, logIn, makeBook, openBrowser, openPage, Server} from "./lab.mjs";

const sizes = {
  phone: {viewport: {width: 320, height: 640}},
  zoomed: {viewport: {width: 320, height: 256}, colorScheme: "dark"}, // 1280 x 1024 at 400 %
  tablet: {viewport: {width: 1180, height: 820}},
  upright: {viewport: {width: 820, height: 1180}, colorScheme: "dark"},
};
const tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"];
const axe = fs.readFileSync(axeFile, "utf8");

makeBook(["ankle-lag-plate"]);
["DR-1", "AS-1"].forEach(giveAccount);
const server = new Server();
await server.start();
const browser = await openBrowser();

let looked = 0;

// What is wrong with targets: too small, or too close. Links within a sentence are no targets.
function measure() {
  const small = [], close = [];
  const seen = (element) => element.checkVisibility() && element.getBoundingClientRect().width > 1;
  const targets = [...document.querySelectorAll("button, summary, select, textarea, input, .head a, a.button")].filter(seen);
  const box = (element) => (element.closest("label.tick") ?? element).getBoundingClientRect();
  for (const target of targets) {
    const {width, height} = box(target);
    const least = target.matches(".large") ? 60 : 44;
    if (width < 43.9 || height < least - 0.1) small.push(`${target.textContent || target.name} ${width} x ${height}`);
  }
  const buttons = targets.filter((one) => one.matches("button") && !one.closest(".dock, .part-panel"));
  for (const [i, one] of buttons.entries()) {
    for (const other of buttons.slice(i + 1)) {
      const [a, b] = [box(one), box(other)];
      const apart = Math.max(a.left - b.right, b.left - a.right, a.top - b.bottom, b.top - a.bottom);
      if (apart < 7.9 && one.closest(".right, .work, main") === other.closest(".right, .work, main")) close.push(`${one.textContent} / ${other.textContent} ${apart}`);
    }
  }
  return {small, close, wide: document.documentElement.scrollWidth - document.documentElement.clientWidth};
}

async function askAxe(page, size, name) {
  await page.evaluate(axe);
  const {violations} = await page.evaluate((only) => globalThis.axe.run(document, {runOnly: {type: "tag", values: only}}), tags);
  const words = violations.map((one) => `${one.id}: ${one.help}: ${one.nodes.map((node) => node.html).slice(0, 3).join(" ; ")}`);
  check(words.length === 0, `${name}, ${size}: axe\n${words.join("\n")}`);
}

async function look(page, size, name) {
  if (["phone", "upright"].includes(size)) await askAxe(page, size, name);
  const {small, close, wide} = await page.evaluate(measure);
  check(small.length === 0, `${name}, ${size}: targets too small: ${small.join(", ")}`);
  check(close.length === 0, `${name}, ${size}: targets too close: ${close.join(", ")}`);
  check(wide <= 0, `${name}, ${size}: scrolls sideways by ${wide} px`);
  if (process.env.SHOTS) await page.screenshot({path: `${process.env.SHOTS}/${name}-${size}.png`, fullPage: !/^(work|details|errors)$/.test(name)});
  looked++;
}

async function walk(size) {
  const context = await browser.newContext({...sizes[size], hasTouch: true});
  const page = await openPage(context);
  const see = (name) => look(page, size, name);
  await page.goto(server.url);
  await page.waitForSelector("form");
  await see("login");
  await logIn(page, server.url, "AS-1");
  await see("home");
  await page.goto(`${server.url}/capture`);
  await page.waitForSelector(".pick");
  await page.selectOption("[name=rubric]", "ankle-lag-plate/1");
  await page.waitForSelector("[name=read]");
  await see("begin");
  await begin(page, {trainee: "LK-03", rubric: "ankle-lag-plate", station: "2"});
  await see("work");
  await key(page, "checkpoint/shaft-screws").tap();
  await page.waitForSelector(".panel");
  await see("details");
  await key(page, "panel/done").tap();
  await key(page, "tool/error").tap();
  await see("errors");
  await key(page, "choice/plunge").tap();
  await page.waitForSelector(".part-last .entry:has-text('plunges')");
  await page.locator(".part-last").getByRole("button", {name: /^Change/}).tap();
  await see("change");
  await key(page, "panel/leave").tap();
  await page.locator(".keys summary").tap();
  await see("keys");
  await key(page, "tool/finish").tap();
  await key(page, "choice/yes").tap();
  await page.waitForSelector("[data-key='end/close']");
  await see("end");
  await allSafe(page);
  await key(page, "end/close").tap();
  await page.waitForSelector(".outcome");
  await see("closed");
  await context.close();
}

for (const size of Object.keys(sizes)) await walk(size);

// Keyboard alone --------------------------------------------------------------

const page = await openPage(await browser.newContext(sizes.tablet));
// Goes on with Tab until the focus is on what the selector names, and says so; the focus must be visible at each step.
async function tabTo(selector) {
  for (let i = 0; i < 200; i++) {
    const found = await page.evaluate((one) => {
      const style = getComputedStyle(document.activeElement);
      return {there: document.activeElement.matches(one), seen: document.activeElement === document.body || (style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2)};
    }, selector);
    check(found.seen, `the focus is not visible on the way to ${selector}`);
    if (found.there) return;
    await page.keyboard.press("Tab");
  }
  check(false, `Tab does not reach ${selector}`);
}

const type = (words, delay = 5) => page.keyboard.type(words, {delay});
const shows = (words) => page.waitForSelector(`.part-last .entry:has-text("${words}")`);

await page.goto(`${server.url}/capture`);
await page.waitForSelector("form");
await tabTo("[name=code]");
await type("AS-1");
await tabTo("[name=secret]");
await type("246810");
await page.keyboard.press("Enter");
await page.waitForSelector(".pick");
await tabTo("[name=trainee]");
await type("Maren");
await tabTo("[name=rubric]");
await type("An ankle");
await page.waitForSelector("[name=read]");
await tabTo("[name=read]");
await page.keyboard.press("Space");
await tabTo("[data-key='begin/start']");
await page.keyboard.press("Enter");
await shows("Start");

await page.evaluate(() => document.activeElement.blur());
await type("c"); // the rubric's key
await shows("Countersunk");
await type("r"); // site and fit are asked
await page.waitForSelector(".panel");
await page.waitForTimeout(100);
await type("1", 0);
await page.waitForTimeout(100);
await type("2", 0);
await shows("gapped");
await type("lag-measured"); // a bar-code reader
await page.keyboard.press("Enter");
await shows("Depth read");
await type("E", 0);
await page.waitForSelector(".panel");
await type("j", 0);
await shows("joint");
await type("U", 0);
await shows("Depth read");
await page.keyboard.press("Space");
await shows("Pause");
await page.waitForTimeout(100);
await page.keyboard.press("Space");
await shows("Resume");
await type("T", 0);
await page.waitForSelector(".panel textarea");
await type("by keyboard");
await tabTo(".panel form button.main");
await page.keyboard.press("Enter");
await shows("by keyboard");
await page.evaluate(() => document.activeElement.blur());
await type("F", 0);
await page.waitForSelector(".panel");
await type("1", 0);
await page.waitForSelector("[data-key='end/close']");
await tabTo("[data-key='rate/hand-feel/2']");
await page.keyboard.press("Enter");
await shows("Feel for soft bone");
await tabTo("[data-key='measure/inner-gap']");
await type("1");
await page.keyboard.press("Enter");
await shows("Widest gap at the inner malleolus: 1 mm");
await allSafe(page);
await tabTo("[data-key='end/close']");
await page.keyboard.press("Enter");
await page.waitForSelector(".receipt");

const sessions = JSON.parse(command(["sessions", "--json"]));
check(sessions.length === 5 && sessions.every((one) => one.closed), "four sessions by touch and one by keyboard are closed");
check(looked === 4 * 10, `${looked} looks`);
console.log(`${looked} states looked at`);
await browser.close();
await server.stop();
