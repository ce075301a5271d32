// SPDX-License-Identifier: GPL-3.0-or-later
// A second observation from a video: its keys, its clock, blindness in page and requests until it is closed, that nothing
// of the file is sent, and the two side by side afterwards.
import {allSafe, check, key, logIn, openBrowser, openPage, Server} from "./lab.mjs";
import {ask, makeFullBook, makeVideo, seconds} from "./looking.mjs";

const session = "larkfield-03"; // of LK-06, recorded live by AS-1
const near = (a, b, by, words) => check(Math.abs(a - b) <= by, `${words}: ${a} instead of ${b}`);

makeFullBook(["AS-2"]);
const server = new Server();
await server.start();
const browser = await openBrowser();
const page = await openPage(await browser.newContext({viewport: {width: 1366, height: 768}}));
let sent = 0;
page.on("request", (request) => (sent += (request.postDataBuffer() ?? "").length));
await logIn(page, server.url, "AS-2");
const file = await makeVideo(page, 6);

// The form, the cautions, the file.
await page.goto(`${server.url}/video?session=${session}`);
await page.waitForSelector("[name=read]");
await page.click("form.begin button.main");
check(await page.isVisible("[name=read]"), "the cautions can be passed over");
await page.check("[name=read]");
await page.click("form.begin button.main");
await page.setInputFiles("input[type=file]", file);
await key(page, "recorder/start").waitFor();

// Keys, while it stands still.
await page.click("h1");
const at = async () => (await page.waitForTimeout(250), seconds(page));
await page.keyboard.press("ArrowRight");
near(await at(), 5, 0.02, "Right goes on 5 s");
await page.keyboard.press("Shift+ArrowRight");
near(await at(), 5.04, 0.02, "Shift Right goes a frame on");
await page.keyboard.press("Shift+ArrowLeft");
near(await at(), 5, 0.02, "Shift Left goes a frame back");
await page.keyboard.press("ArrowLeft");
near(await at(), 0, 0.02, "Left goes back 5 s");
await page.keyboard.press("Shift+ArrowDown");
check((await page.textContent(".rate")) === "0.75 x", "Shift Down is slower");
await page.keyboard.press("Shift+ArrowUp");
check((await page.textContent(".rate")) === "1 x", "Shift Up is faster");

// The start of the work at 1.00 s; a step while it plays is at the video's time, not at the wall's.
await page.fill(".place", "1000");
await key(page, "recorder/start").click();
const target = page.locator(".target.next").first();
await target.waitFor();
await page.click("h1");
await page.keyboard.press("Space");
await page.waitForTimeout(700);
const videoTime = () => page.evaluate(() => document.querySelector("video").currentTime);
const before = await videoTime();
await target.click();
const after = await videoTime();
await page.waitForSelector(".panel, .part-last .entry");
await page.keyboard.press("Escape");
await page.evaluate(() => document.querySelector("video").pause());
await allSafe(page);

const own = JSON.parse((await ask(page, `/api/sessions?session=${session}`)).body).sessions[0].observations;
const [mine, first] = [own.find((one) => one.assessor === "AS-2"), own.find((one) => one.assessor === "AS-1")];
check(mine.mode === "video", `the mode is ${mine.mode}`);
const {entries} = JSON.parse((await ask(page, `/api/observations/${mine.id}`)).body);
const start = entries.find((entry) => entry.action === "start");
const step = entries.find((entry) => entry.action !== "start" && entry.at_ms !== undefined);
near(start.at_ms, 1000, 20, "the start is where the video stood");
check(step.at_ms / 1000 > before - 0.1 && step.at_ms / 1000 < after + 0.1, `a step at ${step.at_ms} ms, touched between ${before} and ${after} s of the video`);

// Blind: neither the list nor any request tells what AS-1 logged or how it came out.
check(first.outcome === null && first.total === null, "the list tells the first assessor's outcome");
for (const address of [`/api/observations/${first.id}`, `/api/observations/${first.id}/result`, `/api/observations/${first.id}/timeline.svg`,
  `/api/compare?a=${mine.id}&b=${first.id}`, `/api/sessions/${session}/review`])
  check((await ask(page, address)).status === 403, `${address} is open before the own record is closed`);
const other = await openPage(page.context());
for (const address of [`/session?code=${session}`, `/compare?session=${session}`]) {
  await other.goto(server.url + address);
  await other.waitForSelector(".notice");
  check(!/Not yet|Pass|86\.2/.test(await other.textContent("main")), `${address} shows the first record`);
}

// A reload: the observation is still there, with its entries, and asks for the file again.
await page.goto(`${server.url}/video`);
await page.click("section .cards button");
await page.setInputFiles("input[type=file]", file);
await page.waitForSelector(".bench .entry");
await key(page, "tool/finish").click();
await page.click(".panel .target");
await key(page, "end/close").click();
await page.waitForSelector(".receipt");

// Side by side; a touch on a time shows that moment.
await page.click("text=Compare it with the other observation");
await page.waitForSelector(".pairs tbody tr");
check((await page.textContent("main")).includes("From video by AS-2"), "the second observation is not named");
const video = await page.evaluate(() => document.querySelector(".player video") !== null);
check(video, "there is no player beside the two");
await page.setInputFiles("input[type=file]", file);
await page.waitForSelector(".plays");
await page.locator(".pairs td:nth-child(2) .when-button").first().click();
near(await at(), step.at_ms / 1000, 0.05, "the moment of the second observation");
check(sent < file.buffer.length / 4, `${sent} bytes went to the server, the file has ${file.buffer.length}`);
check(sent > 0, "nothing was counted");

await browser.close();
await server.stop();
console.log("video: keys, clock, blindness, reload, side by side");
