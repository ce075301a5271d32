// SPDX-License-Identifier: GPL-3.0-or-later
// Where a video stands: now, and at a moment a little ago. A touch counts when the finger is lifted, and by then a video
// that plays has moved on; so the head remembers where it was.
//
// A head has: at_ms, length_ms (null: no end), playing, rate, play(), stop(), seek(ms), read(moment), onChange(listener).

const KEEP = 64; // moments that are remembered; a video that plays marks four a second

// What a head did: at these moments of performance.now() it stood there and ran at that rate (0: it stood still).
export class Trace {
  #marks = [];

  mark(moment, at_ms, rate) {
    this.#marks.push({moment, at_ms, rate});
    if (this.#marks.length > KEEP) this.#marks.shift();
  }

  // Whole milliseconds of the video at a moment; before all that is remembered, the first of it.
  at(moment) {
    const mark = this.#marks.findLast((one) => one.moment <= moment) ?? this.#marks[0];
    return mark ? Math.max(0, Math.round(mark.at_ms + Math.max(0, moment - mark.moment) * mark.rate)) : 0;
  }
}

class Head {
  #listeners = new Set();
  trace = new Trace();

  onChange(listener) {
    this.#listeners.add(listener);
  }

  changed() {
    this.trace.mark(performance.now(), this.at_ms, this.moves ? this.rate : 0);
    this.#listeners.forEach((listener) => listener());
  }

  read(moment) {
    return this.trace.at(moment);
  }
}

const NEWS = ["loadedmetadata", "play", "playing", "pause", "waiting", "seeking", "seeked", "ratechange", "timeupdate", "ended"];

// A file of this machine in a <video>; nothing of it is sent anywhere.
export class VideoHead extends Head {
  #video;
  #url = null;

  constructor(video) {
    super();
    this.#video = video;
    for (const name of NEWS) video.addEventListener(name, () => this.changed());
  }

  // Resolves when the file can be played, with an error when it cannot.
  open(file) {
    if (this.#url) URL.revokeObjectURL(this.#url);
    this.#url = URL.createObjectURL(file);
    this.#video.src = this.#url;
    return new Promise((resolve, reject) => {
      this.#video.onloadedmetadata = resolve;
      this.#video.onerror = () => reject(this.#video.error);
    });
  }

  get at_ms() {
    return Math.round(this.#video.currentTime * 1000);
  }

  // A recording made in a browser may not know how long it is.
  get length_ms() {
    return Number.isFinite(this.#video.duration) ? Math.round(this.#video.duration * 1000) : null;
  }

  get playing() {
    return !this.#video.paused && !this.#video.ended;
  }

  get moves() {
    return this.playing && !this.#video.seeking && this.#video.readyState > HTMLMediaElement.HAVE_CURRENT_DATA;
  }

  get rate() {
    return this.#video.playbackRate;
  }

  set rate(rate) {
    this.#video.playbackRate = rate;
  }

  play() {
    return this.#video.play().catch(() => {}); // the browser's refusal shows: it stands still
  }

  stop() {
    this.#video.pause();
  }

  seek(ms) {
    this.#video.currentTime = Math.max(0, Math.min(ms, this.length_ms ?? Infinity)) / 1000;
  }
}

// No video: a clock that runs and is moved by the same keys, for who records from memory.
export class BareHead extends Head {
  #at_ms = 0;
  #since = null; // the moment from which it has been running
  #rate = 1;

  length_ms = null;

  get at_ms() {
    return Math.round(this.#at_ms + (this.#since === null ? 0 : (performance.now() - this.#since) * this.#rate));
  }

  get playing() {
    return this.#since !== null;
  }

  get moves() {
    return this.playing;
  }

  get rate() {
    return this.#rate;
  }

  set rate(rate) {
    this.#set(this.at_ms, this.playing);
    this.#rate = rate;
    this.changed();
  }

  #set(at_ms, runs) {
    this.#at_ms = Math.max(0, at_ms);
    this.#since = runs ? performance.now() : null;
  }

  play() {
    this.#set(this.at_ms, true);
    this.changed();
  }

  stop() {
    this.#set(this.at_ms, false);
    this.changed();
  }

  seek(ms) {
    this.#set(ms, this.playing);
    this.changed();
  }
}

// The clock of an observation whose time is that of the head that head() gives.
export class HeadClock {
  #head;

  constructor(head) {
    this.#head = head;
  }

  at() {
    return this.#head().at_ms;
  }

  read(moment) {
    return this.#head().read(moment);
  }

  check() {
    return 0; // a video has no wall clock to be put right by
  }
}
