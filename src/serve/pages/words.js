// SPDX-License-Identifier: GPL-3.0-or-later
// Events in words, from the rubric's titles.
import {text} from "./text.js";

const byId = (list, id) => list.find((one) => one.id === id) ?? null;

function itemTitle(form, event) {
  const lists = {inject: form.injects, error: form.errors, rate: form.ratings, measure: form.measures};
  if (event.action === "unseen") return byId(form.checkpoints, event.item)?.title ?? text.panel.components[event.item] ?? event.item;
  return byId(lists[event.action] ?? [], event.item)?.title ?? event.item;
}

// "16 mm", "lag".
export const valueWords = (detail, value) => (detail.unit && /^-?[\d.]+$/.test(value) ? `${value} ${detail.unit}` : value);

// "14 mm, neutral, Cortices held 2": a bare number needs its title.
export function detailWords(action, details) {
  const named = (detail) => (detail.kind === "whole" && !detail.unit ? `${detail.title} ` : "");
  return action.details.filter((detail) => details[detail.name])
    .map((detail) => named(detail) + valueWords(detail, details[detail.name])).join(", ");
}

function workWords(form, event, action) {
  const site = byId(form.sites, event.site)?.title;
  const details = detailWords(action, event.details ?? {});
  return [action.title, site, details].filter(Boolean).join(", ");
}

function builtInWords(form, event) {
  const value = event.action === "measure" ? valueWords(byId(form.measures, event.item) ?? {}, event.value) : event.value;
  const what = event.item ? itemTitle(form, event) : "";
  return [text.log.actions[event.action] ?? event.action, what, value].filter(Boolean).join(": ");
}

// "Screw placed, Outer malleolus, 16 mm, lag (redo)".
export function eventWords(form, event) {
  const action = byId(form.actions, event.action);
  const words = action ? workWords(form, event, action) : builtInWords(form, event);
  const note = event.note ? (event.action === "note" ? `: ${event.note}` : ` (${event.note})`) : "";
  return `${words}${event.redo ? ` (${text.log.redo})` : ""}${note}`;
}

export function stateWords(event, way) {
  if (event.state === "refused") return `${text.save.refused}: ${event.refused}`;
  if (event.state === "safe") return text.save.safe;
  return way.has(event.correction ?? event.id) ? text.save.way : text.save.here;
}
