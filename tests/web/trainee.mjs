// SPDX-License-Identifier: GPL-3.0-or-later
// A trainee sees own sessions only, by page and by address; and of those the assessor's record only after an own one, or
// after saying that there will be none. An own record without a video, by the clock that is run by hand.
import {allSafe, check, key, logIn, openBrowser, openPage, Server} from "./lab.mjs";
import {ask, makeFullBook} from "./looking.mjs";

makeFullBook(["LK-06", "LK-01", "AS-1"]);
const server = new Server();
await server.start();
const browser = await openBrowser();
const page = await openPage(await browser.newContext({viewport: {width: 1024, height: 768}}));

// Nothing of others: LK-06 has larkfield-03 only.
await logIn(page, server.url, "LK-06");
await page.goto(`${server.url}/mine`);
await page.waitForSelector("tbody tr");
const rows = await page.$$eval("tbody tr", (all) => all.map((one) => one.dataset.session));
check(rows.join() === "larkfield-03", `LK-06 sees ${rows}`);
for (const address of ["/board", "/people", "/rubrics", "/capture", "/video", "/compare?session=larkfield-08"]) {
  await page.goto(server.url + address);
  check(!(await page.textContent("body")).includes("LK-0"), `${address} shows something to a trainee`);
}
for (const address of ["/api/people", "/api/board", "/api/live", "/exports/workbook/LK-01.xlsx", "/exports/cohort.xlsx?rubric=tibia-frame"])
  check((await ask(page, address)).status === 403 || (await ask(page, address)).status === 404, `${address} is open to a trainee`);
for (const address of ["/api/sessions/larkfield-10/review", "/api/trainees/LK-01/progress.svg?rubric=tibia-frame"])
  check((await ask(page, address)).status === 404, `${address} tells a trainee that it is there`);
check(JSON.parse((await ask(page, "/api/sessions?trainee=LK-01")).body).sessions.every((one) => one.trainee === "LK-06"), "a filter shows another's sessions");
await page.goto(`${server.url}/session?code=larkfield-10`);
await page.waitForFunction(() => /No such session/.test(document.querySelector("main").textContent));

// Before the own record: no outcome anywhere.
await page.goto(`${server.url}/session?code=larkfield-03`);
await key(page, "own").waitFor();
const {observations} = JSON.parse((await ask(page, "/api/sessions")).body).sessions[0];
check(observations[0].outcome === null, "the list tells the outcome before the own record");
check((await ask(page, `/api/observations/${observations[0].id}/result`)).status === 403, "the result is open before the own record");

// The own record, from memory: a clock run by hand.
await key(page, "own").click();
await page.check("[name=read]");
await page.click("form button.main");
await key(page, "player/bare").click();
await key(page, "recorder/start").click();
await page.waitForSelector(".target");
await page.click("h1");
for (let i = 0; i < 6; i++) await page.keyboard.press("ArrowRight");
await page.locator(".target.next").first().click();
await page.waitForSelector(".panel, .part-last .entry");
await page.keyboard.press("Escape");
await key(page, "tool/finish").click();
await page.click(".panel .target");
await allSafe(page);
await key(page, "end/close").click();
await page.waitForSelector(".receipt");
await page.click("text=See the assessor's record");
await page.waitForSelector(".answer");
check(/^.?Not yet/.test(await page.textContent(".answer")), "the assessor's record does not answer first");
const own = JSON.parse((await ask(page, "/api/sessions")).body).sessions[0].observations.find((one) => one.mode === "self");
const {entries} = JSON.parse((await ask(page, `/api/observations/${own.id}`)).body);
check(entries.some((entry) => entry.at_ms >= 30000 && entry.at_ms < 60000), `the own record's times are ${entries.map((one) => one.at_ms)}`);
check((await page.locator(".ledger tbody tr").count()) > 0, "no row of the ledger is shown");
check(await page.evaluate(() => document.querySelector(".picture")?.naturalWidth > 0), "the timeline is not drawn");

// Looking without one: said first, then done.
const other = await openPage(await browser.newContext());
await logIn(other, server.url, "LK-01");
await other.goto(`${server.url}/session?code=larkfield-10`);
await key(other, "look").click();
check(/cannot be undone/.test(await other.textContent("main")), "it is not said that looking cannot be undone");
await other.click("text=Back");
await key(other, "look").click();
await other.click("text=Look now, without an own record");
await other.waitForFunction(() => /Pass/.test(document.querySelector(".answer")?.textContent));

await browser.close();
await server.stop();
console.log("trainee: own sessions only, own record first, or a look that is kept");
