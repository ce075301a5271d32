// SPDX-License-Identifier: GPL-3.0-or-later
// Keyboards, foot switches and bar-code readers, which all type. A reader types fast and ends with Enter: letters that
// follow each other within READER_MS are one word, and the word is logged at its first letter. A letter alone is a key.

const READER_MS = 45;

// press(key, moment) and word(text, moment) are called outside of fields where one writes; timer functions and their
// clock may be replaced by a test.
export class Keys {
  #typed = "";
  #moment = 0;
  #last = 0;
  #timer = null;
  #press;
  #word;

  constructor({press, word}) {
    this.#press = press;
    this.#word = word;
  }

  // One key at a moment of performance.now(); true: it was taken, and is to do nothing else.
  key(key, moment) {
    const fast = this.#typed !== "" && moment - this.#last <= READER_MS;
    if (key === "Enter") return fast && this.#typed.length > 1 ? (this.#end((word, at) => this.#word(word, at)), true) : false;
    if ([...key].length !== 1) {
      this.#flush();
      return this.#press(key, moment);
    }
    if (!fast) this.#flush();
    if (this.#typed === "") this.#moment = moment;
    this.#typed += key;
    this.#last = moment;
    clearTimeout(this.#timer);
    this.#timer = setTimeout(() => this.#flush(), READER_MS + 5);
    return true;
  }

  #end(take) {
    clearTimeout(this.#timer);
    const [typed, moment] = [this.#typed, this.#moment];
    this.#typed = "";
    if (typed) take(typed, moment);
  }

  // What was typed did not end with Enter: one or two keys are fingers, more are a reader that is set up wrongly.
  #flush() {
    this.#end((typed, moment) => {
      if ([...typed].length > 2) this.#word(typed, moment);
      else for (const key of typed) this.#press(key, moment);
    });
  }
}
