// SPDX-License-Identifier: GPL-3.0-or-later
// The director's pages: a rubric with faults, its faults at their lines, by the keyboard; its second edition; people and
// accounts; sessions by filters; workbooks.
import fs from "node:fs";
import path from "node:path";
import {check, key, logIn, openBrowser, openPage, pin, Server, source} from "./lab.mjs";
import {makeFullBook} from "./looking.mjs";

makeFullBook([]);
const server = new Server();
await server.start();
const browser = await openBrowser();
const page = await openPage(await browser.newContext({viewport: {width: 1280, height: 800}, acceptDownloads: true}));
await logIn(page, server.url, "DR-1");

// Rubrics: two faults put in by hand, at lines that the test knows.
const lines = fs.readFileSync(path.join(source, "rubrics/arch-bars.yaml"), "utf8").split("\n");
const points = lines.findIndex((line) => /^ {4}points:/.test(line));
const match = lines.findIndex((line) => /match: \{action: measure-bar/.test(line));
const bad = [...lines];
bad[points] = bad[points].replace("points", "pionts");
bad[match] = bad[match].replace("measure-bar", "measure-bra");
await page.goto(`${server.url}/rubrics`);
await page.waitForSelector("tbody tr");
await page.setInputFiles("input[type=file]", {name: "arch-bars.yaml", mimeType: "text/yaml", buffer: Buffer.from(bad.join("\n"))});
await page.waitForSelector(".faulty");
const faulty = await page.$$eval(".source li", (all) => all.flatMap((line, i) => (line.matches(".faulty") ? [[i, line.querySelector("mark").textContent]] : [])));
check(JSON.stringify(faulty) === JSON.stringify([[points, "pionts"], [match, "measure-bra"]]), `faults are marked at ${JSON.stringify(faulty)}`);
const focused = () => page.evaluate(() => document.activeElement.textContent);
check((await focused()).includes(`line ${points + 1}, `), `the first fault is not gone to: ${await focused()}`);
await page.keyboard.press("F8");
check((await focused()).includes(`line ${match + 1}, `) && /did you mean/.test(await focused()), `F8 goes to ${await focused()}`);
await page.keyboard.press("F8");
check((await focused()).includes(`line ${points + 1}, `), "F8 does not go round");
const seen = await page.evaluate(() => {
  const {top, bottom} = document.activeElement.getBoundingClientRect();
  return top >= 0 && bottom <= innerHeight;
});
check(seen, "the fault that has the focus is not in sight");
check(await key(page, "rubric/add").isHidden(), "a rubric with faults can be added");

// Mended here: checked, not yet in the book; then added.
await page.fill("textarea", lines.join("\n").replace("edition: 1", "edition: 2"));
await key(page, "rubric/check").click();
await page.waitForSelector("text=No fault: arch-bars, edition 2");
check(!(await page.textContent("table")).includes("2 (latest)"), "the check put it into the book");
await key(page, "rubric/add").click();
await page.waitForFunction(() => /2 \(latest\)/.test(document.querySelector("table").textContent));

// People: one is added, gets an account, may log in, and no longer.
await page.goto(`${server.url}/people`);
await page.click("text=Add a person");
await page.fill("dialog [name=code]", "AS-9");
await page.fill("dialog [name=name]", "Surgeon Merriwick");
await page.selectOption("dialog [name=role]", "assessor");
await page.keyboard.press("Enter");
await page.waitForSelector("[data-code=AS-9]");
await page.fill("[type=search]", "merri");
check((await page.locator("tbody tr").count()) === 1, "the search finds others too");
await key(page, "secret/AS-9").click();
await page.fill("dialog [name=secret]", "12");
await page.evaluate(() => document.querySelector("dialog form").setAttribute("novalidate", ""));
await page.keyboard.press("Enter");
await page.waitForSelector("dialog .stops");
await page.fill("dialog [name=secret]", pin);
await page.keyboard.press("Enter");
await page.waitForFunction(() => /can log in/.test(document.querySelector("[data-code=AS-9]").textContent));
const assessor = await openPage(await browser.newContext());
await logIn(assessor, server.url, "AS-9");
await key(page, "remove/AS-9").click();
await page.click("dialog button.main");
await page.waitForFunction(() => /no account/.test(document.querySelector("[data-code=AS-9]").textContent));
await assessor.goto(server.url);
await assessor.waitForSelector("[name=secret]");

// Sessions: filters hold in the address; workbooks come down as workbooks.
await page.goto(`${server.url}/sessions`);
await page.waitForSelector("tbody tr");
check((await page.locator("tbody tr").count()) === 11, "not all eleven sample sessions are listed");
await page.selectOption("[name=trainee]", "LK-01");
await page.selectOption("[name=rubric]", "tibia-frame");
await page.click(".filters button");
await page.waitForFunction(() => document.querySelectorAll("tbody tr").length === 2);
await page.fill("[name=until]", "2026-02-28");
await page.click(".filters button");
await page.waitForFunction(() => document.querySelectorAll("tbody tr").length === 1);
await page.reload();
await page.waitForFunction(() => document.querySelectorAll("tbody tr").length === 1);
for (const [words, name] of [["Workbook of LK-01", "LK-01.xlsx"], ["Cohort workbook", "cohort-tibia-frame.xlsx"]]) {
  const [download] = await Promise.all([page.waitForEvent("download"), page.click(`text=${words}`)]);
  check(download.suggestedFilename() === name, `the file is called ${download.suggestedFilename()}`);
  check(fs.readFileSync(await download.path()).subarray(0, 2).toString() === "PK", `${name} is no workbook`);
}

await browser.close();
await server.stop();
console.log("director: faults at their lines, editions, accounts, filters, workbooks");
