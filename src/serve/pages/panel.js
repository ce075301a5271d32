// SPDX-License-Identifier: GPL-3.0-or-later
// What is asked after a touch: details of an entry, which error, which inject, what was not seen, a note.
//
// An event is in the queue from its first touch; the details that follow amend it. Holding it back until they are given
// would spare a line in the record, but a tablet that dies between two touches would take the event with it, and the
// board would show it late. Details half given are kept on the tablet as a draft, and a reload goes on from there.
import {button, choices, fill, make} from "./dom.js";
import {follow} from "./expect.js";
import {columnsOf} from "./log.js";
import {text} from "./text.js";
import {momentOf} from "./touch.js";
import {detailWords, eventWords, valueWords} from "./words.js";

const t = text.panel;
const STEPS = [0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100];

// Values to offer -------------------------------------------------------------

const round3 = (x) => String(Math.round(x * 1000) / 1000);

function spread(low, high, step) {
  const values = [];
  for (let x = Math.ceil(low / step - 1e-9) * step; x <= high + 1e-9; x += step) values.push(round3(x));
  return values;
}

// The ends of what a rubric expects ("18..26 mm", "5 or 6", "..20 deg"), open ones being the detail's own; null: nothing.
function endsOf(words, low, high) {
  const range = /(-?[\d.]*)\.\.(-?[\d.]*)/.exec(words);
  if (range) return [range[1] === "" ? low : Number(range[1]), range[2] === "" ? high : Number(range[2])];
  const numbers = (words.match(/-?\d+(\.\d+)?/g) ?? []).map(Number);
  return numbers.length ? [Math.min(...numbers), Math.max(...numbers)] : null;
}

// Whether all its values are few enough to be offered.
const isShort = (detail) => detail.kind === "whole" && detail.high !== null && Number(detail.high) - Number(detail.low ?? 0) < 12;

// Numbers worth a touch: all of a short whole range; else what the rubric names and a step to either side of it, or the
// detail's own range in steps; and those used last.
export function offers(detail, expect, used) {
  if (detail.kind === "word") return detail.words;
  const [low, high] = [Number(detail.low ?? 0), Number(detail.high ?? 100)];
  if (isShort(detail)) return spread(low, high, 1);
  const ends = endsOf(expect ?? "", low, high);
  const [from, to] = ends ?? [low, high];
  const width = to - from || Math.abs(to) / 2 || 1;
  const step = STEPS.find((one) => width / one <= (ends ? 4 : 7)) ?? width;
  const margin = ends ? step : 0;
  return [...new Set([...spread(Math.max(low, from - margin), Math.min(high, to + margin), step), ...used])].sort((a, b) => a - b);
}

// Details of an event ---------------------------------------------------------

// What may be asked of an event of work: its site and its details, [{name, title, always, offers, word}].
export function fieldsOf(form, log, event) {
  const action = form.actions.find((one) => one.id === event.action);
  if (!action) return [];
  const sites = {name: "site", title: t.site, always: true, values: action.sites,
    word: (id) => form.sites.find((site) => site.id === id).title, exact: true};
  const checkpoint = form.checkpoints.find((one) => one.id === follow(form, log).of.get(event.id));
  const used = (name) => [...new Set(log.filter((one) => one.action === action.id).map((one) => one.details?.[name]).filter(Boolean))].slice(-3);
  const details = action.details.map((detail) => ({name: detail.name, title: detail.title, always: detail.always, detail,
    values: offers(detail, checkpoint?.expect[detail.name], used(detail.name)),
    word: (value) => valueWords(detail, value), exact: detail.kind === "word" || isShort(detail)}));
  return action.sites.length > 1 ? [sites, ...details] : details;
}

export const valueOf = (event, changes, name) =>
  name === "site" ? changes.site ?? event.site ?? "" : changes.details?.[name] ?? event.details?.[name] ?? "";

export function withValue(changes, name, value) {
  return name === "site" ? {...changes, site: value} : {...changes, details: {...changes.details, [name]: value}};
}

export const missing = (fields, event, changes) => fields.filter((field) => field.always && !valueOf(event, changes, field.name));

// The values of the last event of this kind that had all that is missing here, as changes; null: none.
export function asLastTime(form, log, event, fields) {
  const open = missing(fields, event, {});
  const alike = log.filter((one) => one.action === event.action && one.id !== event.id && open.every((field) => valueOf(one, {}, field.name)));
  const last = alike.findLast?.((one) => one.site === event.site) ?? alike[alike.length - 1];
  return open.length && last ? open.reduce((changes, field) => withValue(changes, field.name, valueOf(last, {}, field.name)), {}) : null;
}

function otherValue(field, take) {
  const input = make("input", {inputmode: "decimal", size: "6", autocomplete: "off", "aria-label": t.other(field.title, field.detail.unit), "data-key": `other/${field.name}`});
  const send = (event) => {
    event.preventDefault();
    const value = input.value.trim().replace(",", ".");
    if (/^-?\d+(\.\d{1,3})?$/.test(value)) take(value);
    else input.setCustomValidity("0.000"), input.reportValidity();
  };
  return make("form", {class: "other", onsubmit: send, oninput: () => input.setCustomValidity("")}, input, make("button", {}, t.take));
}

function fieldPart(field, value, take) {
  const options = field.values.map((one) => ({value: one, words: field.word(one), class: "large"}));
  return make("div", {class: "field"}, make("span", {class: "small"}, field.title),
    make("div", {class: "apart"}, choices(field.title, options, value, take), field.exact ? null : otherValue(field, take)));
}

// Questions after a touch: those that are always asked and not known yet; the others when `more` is wished.
export function detailsPanel({bench, event, changes, more, take, takeAll, showMore, done}) {
  const fields = fieldsOf(bench.form, bench.log, event);
  const open = new Set(missing(fields, event, {}));
  const shown = fields.filter((field) => more || open.has(field));
  const last = asLastTime(bench.form, bench.log, event, fields);
  const action = bench.form.actions.find((one) => one.id === event.action);
  const lastWords = last && [last.site && fields[0].word(last.site), detailWords(action, last.details ?? {})].filter(Boolean).join(", ");
  return make("section", {class: "panel", "aria-label": eventWords(bench.form, event)},
    make("h2", {}, eventWords(bench.form, event)),
    last ? button(t.same(lastWords), () => takeAll(last), {class: "large", "data-key": "panel/same"}) : null,
    shown.map((field) => fieldPart(field, valueOf(event, changes, field.name), (value) => take(field.name, value))),
    make("div", {class: "apart"},
      more || shown.length === fields.length ? null : button(t.more, showMore, {"data-key": "panel/more"}),
      button(t.done, done, {class: "main", "data-key": "panel/done"})));
}

// Changing an event: all its fields, its time, whether it is a redo.
export function changePanel({bench, event, changes, take, change, done, leave}) {
  const now = {...columnsOf(event), ...changes};
  const shift = (s) => button(s < 0 ? t.earlier(-s) : t.later(s), () => change({at_ms: Math.max(0, now.at_ms + s * 1000)}), {"data-key": `shift/${s}`});
  const fields = fieldsOf(bench.form, bench.log, event);
  return make("section", {class: "panel", "aria-label": eventWords(bench.form, event)},
    make("h2", {}, eventWords(bench.form, {...event, ...changes, details: {...event.details, ...changes.details}})),
    fields.map((field) => fieldPart(field, valueOf(event, changes, field.name), (value) => take(field.name, value))),
    make("div", {class: "field"}, make("span", {class: "small"}, t.when), make("div", {class: "choices"}, [-60, -30, -10, 10].map(shift))),
    fields.length ? button(t.isRedo, () => change({redo: now.redo ? "" : "yes"}), {"aria-pressed": String(Boolean(now.redo)), "data-key": "panel/redo"}) : null,
    make("div", {class: "apart"}, button(t.done, done, {class: "main", "data-key": "panel/done"}), button(text.close, leave, {"data-key": "panel/leave"})));
}

// Questions that come before an entry -----------------------------------------

// A list to choose from: options are {words, more, key, value}; `take(value)`.
export function choicePanel({title, options, take, leave, none = ""}) {
  const one = (option, i) => make("li", {}, make("button", {type: "button", class: "large target", "data-key": `choice/${option.value}`, onclick: (event) => take(option.value, momentOf(event))},
    make("span", {}, option.words, option.more ? make("small", {class: option.kind ?? "quiet"}, ` ${option.more}`) : null),
    make("kbd", {}, option.key ?? (i < 9 ? String(i + 1) : ""))));
  return make("section", {class: "panel", "aria-label": title},
    make("h2", {}, title),
    options.length ? make("ul", {class: "list targets"}, options.map(one)) : make("p", {}, none),
    button(text.close, leave, {"data-key": "panel/leave"}));
}

export function notePanel({take, leave}) {
  const area = make("textarea", {name: "note", rows: "3", maxlength: "500", required: true, "aria-label": t.note, "data-key": "panel/note"});
  const send = (event) => {
    event.preventDefault();
    if (area.value.trim()) take(area.value.trim());
  };
  return make("section", {class: "panel", "aria-label": t.note},
    make("form", {onsubmit: send}, make("label", {}, t.note, area),
      make("div", {class: "apart"}, make("button", {class: "main"}, t.noteGo), button(text.close, leave, {"data-key": "panel/leave"}))));
}

// The options of the three lists, from the rubric.
export const errorOptions = (form) =>
  form.errors.filter((one) => one.by_hand).map((one) => ({value: one.id, words: one.title, key: one.key, more: t.severity[one.severity], kind: one.severity === "critical" ? "critical" : "quiet"}));

export function injectOptions(form, log) {
  const been = new Set(log.filter((event) => event.action === "inject").map((event) => event.item));
  return form.injects.filter((one) => !been.has(one.id)).map((one) => ({value: one.id, words: one.title}));
}

export const unseenOptions = (form) => [
  ...form.checkpoints.map((one) => ({value: one.id, words: one.title})),
  ...Object.entries(t.components).map(([id, words]) => ({value: id, words, more: t.parts})),
];
