// Undo and redo without end, over values that are never changed in place.
// Knows nothing of recipes or of the page, so that it can be tested alone.

/**
 * One thing done: the value after it, and the words for it.
 * @template T
 * @typedef {object} Entry
 * @property {T} value
 * @property {string} name      what was done, in words that follow "Undo": "tolerance", "keep a white"
 * @property {string|null} gesture  edits that carry the same gesture fold into one entry until `settle`
 */

/**
 * @template T
 */
export class History {
  /** @param {T} first the value before anything was done */
  constructor(first) {
    /** @type {Entry<T>[]} */
    this.entries = [{ value: first, name: "", gesture: null }];
    /** Place of the present value in `entries`. */
    this.place = 0;
  }

  /** The value as it stands. */
  get present() {
    return this.entries[this.place].value;
  }

  /** What undo would take back, or null when there is nothing. */
  get undoName() {
    return this.place > 0 ? this.entries[this.place].name : null;
  }

  /** What redo would bring back, or null when there is nothing. */
  get redoName() {
    return this.place + 1 < this.entries.length ? this.entries[this.place + 1].name : null;
  }

  /**
   * Takes on a new value. Edits of one gesture (a dial that is still moving) fold into one step,
   * so that one undo takes the whole movement back. Whatever was undone before is dropped.
   * @param {T} value
   * @param {string} name
   * @param {string|null} [gesture]
   */
  edit(value, name, gesture = null) {
    const here = this.entries[this.place];
    this.entries.length = this.place + 1;
    if (gesture !== null && here.gesture === gesture && this.place > 0) {
      this.entries[this.place] = { value, name, gesture };
    } else {
      this.entries.push({ value, name, gesture });
      this.place += 1;
    }
  }

  /** Ends the running gesture: the next edit is a step of its own even if it names the same gesture. */
  settle() {
    this.entries[this.place].gesture = null;
  }

  /** @returns {boolean} false when there was nothing to take back */
  undo() {
    if (this.place === 0) return false;
    this.place -= 1;
    this.settle(); // nothing folds into a step that undo went back to
    return true;
  }

  /** @returns {boolean} false when there was nothing to bring back */
  redo() {
    if (this.place + 1 >= this.entries.length) return false;
    this.place += 1;
    this.settle();
    return true;
  }
}
