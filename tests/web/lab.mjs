// SPDX-License-Identifier: GPL-3.0-or-later
// A lab for a browser test: a book of invented people, the real server, which can be killed and started again, and a
// browser. $BENCHTALLY is the command, $WEB_MODULES the folder of the packages in package.json.
import {execFileSync, spawn} from "node:child_process";
import {createRequire} from "node:module";
import path from "node:path";

const require = createRequire(path.join(process.env.WEB_MODULES, "package.json"));
const {chromium} = require("playwright-core");

export const axeFile = require.resolve("axe-core/axe.min.js");
export const source = process.env.SOURCE_DIR;
export const pin = "246810";
const book = path.resolve("book.db");

// Runs the command on the book (or another one) and gives what it prints.
export const command = (args, input = "", file = book) =>
  execFileSync(process.env.BENCHTALLY, ["--book", file, ...args], {input, encoding: "utf8"});

export function makeBook(rubrics, file = book) {
  command(["rubric", "add", ...rubrics.map((name) => path.join(source, "rubrics", `${name}.yaml`))], "", file);
  command(["person", "add", "--from", path.join(source, "sample_sessions/people.csv")], "", file);
}

export const giveAccount = (code) => command(["person", "account", code], code.startsWith("DR") ? "a long passphrase\n" : `${pin}\n`);

export class Server {
  port = 0;
  #process = null;

  // Starts it, again at the port it had, and waits until it listens.
  async start() {
    this.#process = spawn(process.env.BENCHTALLY, ["--book", book, "serve", "--port", String(this.port)], {stdio: ["ignore", "pipe", "inherit"]});
    this.port = await new Promise((resolve, reject) => {
      let said = "";
      this.#process.once("exit", (status) => reject(new Error(`the server ended with ${status}: ${said}`)));
      this.#process.stdout.on("data", (bytes) => {
        said += bytes;
        const found = /http:\/\/127\.0\.0\.1:(\d+)/.exec(said);
        if (found) resolve(Number(found[1]));
      });
    });
    this.#process.removeAllListeners("exit");
  }

  // However the test ends, nothing is left running.
  constructor() {
    process.on("exit", () => this.#process?.kill("SIGKILL"));
  }

  get url() {
    return `http://127.0.0.1:${this.port}`;
  }

  // Ends it with a signal and waits until it is gone.
  stop(signal = "SIGTERM") {
    const gone = new Promise((resolve) => this.#process.once("exit", resolve));
    this.#process.kill(signal);
    return gone;
  }
}

export const openBrowser = () =>
  chromium.launch({executablePath: process.env.CHROMIUM, args: process.getuid() === 0 ? ["--no-sandbox"] : []});

// A page of a tablet; what goes wrong in it ends the test.
export async function openPage(context) {
  const page = await context.newPage();
  page.on("pageerror", (error) => {
    console.error(error.stack);
    process.exit(1);
  });
  page.on("console", (message) => {
    if (message.type() === "error" && /Content Security Policy/.test(message.text())) {
      console.error(message.text());
      process.exit(1);
    }
  });
  page.setDefaultTimeout(20000);
  return page;
}

export async function logIn(page, url, code) {
  await page.goto(url);
  await page.fill("[name=code]", code);
  await page.fill("[name=secret]", code.startsWith("DR") ? "a long passphrase" : pin);
  await page.click("form button");
  await page.waitForSelector(".cards");
}

// From the empty capture page to a running clock.
export async function begin(page, {trainee, rubric, station = "", model = "", variants = []}) {
  await page.waitForSelector(".pick");
  await page.selectOption("[name=trainee]", trainee);
  await page.selectOption("[name=rubric]", `${rubric}/1`);
  await page.fill("[name=station]", station);
  await page.fill("[name=model]", model);
  for (const variant of variants) await page.check(`[name=variant][value=${variant}]`);
  await page.check("[name=read]");
  await page.click("[data-key='begin/start']");
  await page.waitForSelector(".bench .big");
}

export const key = (page, name) => page.locator(`[data-key="${name}"]`);

export const allSafe = (page) => page.waitForFunction(() => document.querySelector(".save")?.textContent === "All entries are safe");

// The same series of numbers for the same seed (Park and Miller's minimal standard generator).
export function series(seed) {
  let x = seed;
  return () => ((x = (x * 48271) % 2147483647) - 1) / 2147483646;
}

export function check(truth, words) {
  if (truth) return;
  console.error(`wrong: ${words}`);
  process.exit(1);
}
