// SPDX-License-Identifier: GPL-3.0-or-later
// The moment of a touch, and quiet while it lasts. A press counts when it is let go (so that scrolling logs nothing), but
// its moment is that of the first contact; and a page that is drawn anew under a finger would lose the press.

const SETTLE_MS = 60; // from letting go to the click that follows

let down = null;
const waiting = new Set();

function release() {
  setTimeout(() => {
    down = null;
    const draws = [...waiting];
    waiting.clear();
    draws.forEach((draw) => draw());
  }, SETTLE_MS);
}

export function watchTouches() {
  addEventListener("pointerdown", (event) => (down = {target: event.target, moment: event.timeStamp}), true);
  addEventListener("pointerup", release, true);
  addEventListener("pointercancel", release, true);
}

// The moment, by performance.now(), at which the press that became this click or key began.
export function momentOf(event) {
  const pressed = event.type === "click" && event.detail > 0 && down && event.currentTarget.contains(down.target);
  return pressed ? down.moment : event.timeStamp;
}

// Runs draw now, or once as soon as no finger is down, however often it was asked for meanwhile.
export function whenQuiet(draw) {
  if (down) waiting.add(draw);
  else draw();
}
