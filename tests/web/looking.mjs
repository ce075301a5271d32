// SPDX-License-Identifier: GPL-3.0-or-later
// What the tests of the pages that are read share: a book with the sample sessions, a short video made on the spot.
import fs from "node:fs";
import path from "node:path";
import {command, giveAccount, makeBook, source} from "./lab.mjs";

const samples = path.join(source, "sample_sessions");

// A book of all rubrics, the sample sessions, and accounts for the director and these codes.
export function makeFullBook(codes) {
  makeBook(fs.readdirSync(path.join(source, "rubrics")).filter((name) => name.endsWith(".yaml")).map((name) => path.basename(name, ".yaml")));
  for (const name of fs.readdirSync(samples).filter((one) => one.endsWith(".csv") && one !== "people.csv")) command(["import", path.join(samples, name)]);
  ["DR-1", ...codes].forEach(giveAccount);
}

// Seconds of a WebM whose pictures show their own time, made by the browser itself.
export async function makeVideo(page, seconds) {
  const bytes = await page.evaluate(async (length) => {
    const canvas = Object.assign(document.createElement("canvas"), {width: 160, height: 90});
    const pen = canvas.getContext("2d");
    const recorder = new MediaRecorder(canvas.captureStream(25), {mimeType: "video/webm"});
    const parts = [];
    recorder.ondataavailable = ({data}) => parts.push(data);
    recorder.start();
    const begun = performance.now();
    for (let t = 0; t < length; t = (performance.now() - begun) / 1000) {
      pen.fillStyle = "navy";
      pen.fillRect(0, 0, 160, 90);
      pen.fillStyle = "white";
      pen.font = "40px sans-serif";
      pen.fillText(t.toFixed(2), 30, 60);
      await new Promise(requestAnimationFrame);
    }
    await new Promise((resolve) => ((recorder.onstop = resolve), recorder.stop()));
    return [...new Uint8Array(await new Blob(parts).arrayBuffer())];
  }, seconds);
  return {name: "bench.webm", mimeType: "video/webm", buffer: Buffer.from(bytes)};
}

// What the server answers to this page's login: {status, body}.
export const ask = (page, address) => page.evaluate(async (from) => {
  const answer = await fetch(from);
  return {status: answer.status, body: await answer.text()};
}, address);

export const seconds = async (page) => {
  const [, minutes, rest] = /(\d+):(\d+\.\d+)/.exec(await page.textContent(".head-clock"));
  return Number(minutes) * 60 + Number(rest);
};
