// SPDX-License-Identifier: GPL-3.0-or-later
// Asking the server. Who is logged in, the token of that login, and the lab's time come from `me`.
import {LabClock} from "./clock.js";
import {text} from "./text.js";

const PATIENCE_MS = 10000;

export class ApiError extends Error {
  // status 0: no answer came. `faults` as the server lists them.
  constructor(status, body = {}) {
    super(body.message ?? (status === 0 ? text.noAnswer : text.strangeAnswer(status)));
    this.status = status;
    this.code = body.error ?? null;
    this.faults = body.faults ?? [];
  }

  // Nobody, or somebody else, is logged in now.
  get isDoor() {
    return this.status === 401 || this.status === 403;
  }
}

let token = null;

export const lab = new LabClock();

async function ask(path, options) {
  let answer;
  try {
    answer = await fetch(path, {credentials: "same-origin", cache: "no-store", signal: AbortSignal.timeout(PATIENCE_MS), ...options});
  } catch {
    throw new ApiError(0);
  }
  let body;
  try {
    body = await answer.json();
  } catch {
    throw new ApiError(answer.ok ? 0 : answer.status);
  }
  if (!answer.ok) throw new ApiError(answer.status, body);
  return body;
}

export const get = (path) => ask(path, {});

export const post = (path, body) =>
  ask(path, {
    method: "POST",
    headers: {"Content-Type": "application/json", ...(token ? {"X-Benchtally-Token": token} : {})},
    body: JSON.stringify(body),
  });

// Who is logged in; keeps the token and compares the clocks.
export async function me() {
  const sent = performance.now();
  const who = await get("/api/me");
  token = who.token;
  lab.compare(who.now_ms, sent, performance.now());
  return who;
}

export async function logIn(code, secret) {
  const who = await post("/api/login", {code, secret});
  token = who.token;
  return who;
}

export async function logOut() {
  await post("/api/logout", {});
  location.assign("/");
}
