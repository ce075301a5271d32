// SPDX-License-Identifier: GPL-3.0-or-later
// Four benches on one tablet, one touch to switch; a login that ends while one records; what is left on the tablet goes
// at the next login of the same person, and of nobody else.
import {allSafe, begin, check, command, giveAccount, key, logIn, makeBook, openBrowser, openPage, pin, Server} from "./lab.mjs";

makeBook(["arch-bars"]);
["DR-1", "AS-1", "AS-2"].forEach(giveAccount);
const server = new Server();
await server.start();
const browser = await openBrowser();
const context = await browser.newContext({viewport: {width: 1180, height: 820}, hasTouch: true});
const page = await openPage(context);
await logIn(page, server.url, "AS-1");
await page.goto(`${server.url}/capture`);

const trainees = ["LK-01", "LK-02", "LK-03", "LK-04"];
for (const [i, trainee] of trainees.entries()) {
  if (i > 0) await key(page, "bench/new").tap();
  await begin(page, {trainee, rubric: "arch-bars", station: String(i + 1)});
  await page.waitForSelector(`[data-key='bench/${i}'][aria-current=true]`);
}
check((await key(page, "bench/new").count()) === 0, "a fifth bench is not offered");
for (const i of [2, 0, 3, 1]) {
  await key(page, `bench/${i}`).tap();
  await key(page, "action/close").tap();
  await page.waitForSelector(".part-last .entry:has-text('Bite tried')");
  if (await page.locator(".panel").count()) await key(page, "panel/done").tap();
}
await allSafe(page);

// The login ends: what is logged stays here, and goes when the same person has logged in again on this page.
await context.clearCookies();
await key(page, "tool/pause").tap();
await page.waitForSelector("form.notice [name=secret]");
check(/on this tablet/.test(await page.locator(".save").textContent()), "the page says where the entry is");
await page.fill("form.notice [name=secret]", pin);
await page.press("form.notice [name=secret]", "Enter");
await allSafe(page);

// The tablet goes away with an entry, somebody else uses it, then the same person comes back.
await context.setOffline(true);
await key(page, "tool/resume").tap();
await page.waitForSelector(".part-last .entry:has-text('Resume')");
await page.close();
await context.setOffline(false);
await context.clearCookies();
const later = await openPage(context);
await later.goto(server.url);
await later.waitForSelector(".notice:has-text('1 entry of AS-1')");
await logIn(later, server.url, "AS-2");
await later.waitForTimeout(500);
const resumes = () => JSON.parse(command(["sessions", "--json"])).flatMap(({session}) => JSON.parse(command(["log", session, "--json"])))
  .filter((record) => record.kind === "logged" && record.action === "resume").length;
check(resumes() === 0, "another person's login sends nothing");
await context.clearCookies();
await logIn(later, server.url, "AS-1");
await later.waitForSelector(".notice:has-text('1 entry that had been left')");
check(resumes() === 1, "the same person's login sends what was left");

const logs = JSON.parse(command(["sessions", "--json"])).map(({session}) => JSON.parse(command(["log", session, "--json"])));
check(logs.length === 4 && logs.every((log) => log.filter((record) => record.action === "close").length >= 1), "each bench has its own log");
await browser.close();
await server.stop();
