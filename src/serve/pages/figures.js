// SPDX-License-Identifier: GPL-3.0-or-later
// Numbers and dates as people read them.
import {clockWords} from "./clock.js";
import {text} from "./text.js";

const tenths = (thousandths) => (Math.trunc(thousandths / 100) / 10).toString(); // cut, not rounded

// Points from thousandths of a point.
export const points = tenths;

// "71.3 %" from thousandths of a per cent; null: nothing to say.
export const percent = (milli) => (milli === null || milli === undefined ? "" : `${tenths(milli)} %`);

const day = new Intl.DateTimeFormat(text.locale, {day: "numeric", month: "short", year: "numeric"});
const hour = new Intl.DateTimeFormat(text.locale, {hour: "2-digit", minute: "2-digit"});

// "4 Mar 2026", "14:05", both.
export const dayWords = (wall_ms) => day.format(new Date(wall_ms));
export const hourWords = (wall_ms) => hour.format(new Date(wall_ms));
export const whenWords = (wall_ms) => `${dayWords(wall_ms)}, ${hourWords(wall_ms)}`;

// "+0:04.2", for how far two entries are apart; tenths, cut.
export function apartWords(ms) {
  const size = Math.abs(ms);
  return `${ms < 0 ? "\u2212" : "+"}${clockWords(size)}.${Math.floor((size % 1000) / 100)}`;
}

// A link that asks the server: path("/api/compare", {a: 3, b: null}) is "/api/compare?a=3".
export function path(base, asked) {
  const said = Object.entries(asked).filter(([, value]) => value !== null && value !== undefined && value !== "");
  return said.length ? `${base}?${new URLSearchParams(said)}` : base;
}
