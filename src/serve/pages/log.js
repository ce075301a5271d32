// SPDX-License-Identifier: GPL-3.0-or-later
// From entries as they were sent, corrections among them, to the log that counts.

// `records` in the order they were logged. Gives all events with what became of them: {...entry, place, state, seq,
// warning, refused, struck, amended}. A correction shows in the state of its event until it is safe. A refused entry is
// in no log; a refused correction leaves its event as it was, and says why.
export function eventsOf(records) {
  const events = new Map();
  const find = (meant) => events.get(meant) ?? [...events.values()].find((event) => event.seq === meant);
  for (const record of records) {
    const {entry, ...about} = record;
    const event = find(entry.strike ?? entry.amend ?? null);
    if (!entry.strike && !entry.amend) events.set(entry.id, {...entry, ...about, struck: false, amended: false});
    else if (event) correct(event, entry, about);
  }
  return [...events.values()];
}

function correct(event, entry, {state, warning, refused}) {
  if (state === "refused") {
    event.warning = refused;
    return;
  }
  if (state !== "safe") Object.assign(event, {state, correction: entry.id});
  if (entry.strike) event.struck = true;
  else {
    const {id, amend, reason, ...now} = entry;
    Object.assign(event, now, {amended: true, warning: warning ?? null});
  }
}

const inOrder = (a, b) => a.at_ms - b.at_ms || a.place - b.place;

// Those that count, in log order.
export const effective = (events) => events.filter((event) => !event.struck && event.state !== "refused").sort(inOrder);

// An event's own columns, for an entry that amends or repeats it.
export function columnsOf({at_ms, action, site = "", item = "", value = "", redo = "", note = "", details = {}}) {
  return {at_ms, action, site, item, value, redo, note, details: {...details}};
}
