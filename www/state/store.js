// The recipe as the page holds it: the present one, its history, and who wants to know.

import { History } from "./history.js";
import { withDecision, withValue } from "./recipe.js";

/** @typedef {import("./recipe.js").Recipe} Recipe */

export class Store {
  constructor() {
    /** @type {History<Recipe>|null} null while no scan is open */
    this.history = null;
    /** @type {Set<(recipe: Recipe) => void>} */
    this.listeners = new Set();
  }

  /** @returns {Recipe|null} */
  get recipe() {
    return this.history?.present ?? null;
  }

  /**
   * Starts afresh with a new scan's recipe.
   * @param {Recipe} recipe
   */
  begin(recipe) {
    this.history = new History(recipe);
    this.tell();
  }

  /** Calls back with the recipe after every change.
   * @param {(recipe: Recipe) => void} listener */
  listen(listener) {
    this.listeners.add(listener);
  }

  /**
   * Sets one value.
   * @param {string} path dotted key
   * @param {unknown} value
   * @param {string} name words for undo
   * @param {string|null} [gesture] see History.edit
   */
  set(path, value, name, gesture = null) {
    if (this.history) this.change(withValue(this.history.present, path, value), name, gesture);
  }

  /**
   * Decides one white area or loose piece.
   * @param {[number, number]} at
   * @param {"keep"|"clear"} choice
   * @param {import("./outline.js").Loop[]} loops
   * @param {"white"|"piece"} [what]
   */
  decide(at, choice, loops, what = "white") {
    if (!this.history) return;
    this.change(withDecision(this.history.present, at, choice, loops), `${choice} a ${what}`);
  }

  /**
   * Takes on a whole recipe as one step.
   * @param {Recipe} recipe
   * @param {string} name
   * @param {string|null} [gesture]
   */
  change(recipe, name, gesture = null) {
    if (!this.history) return;
    this.history.edit(recipe, name, gesture);
    this.tell();
  }

  /** Ends the running gesture. */
  settle() {
    this.history?.settle();
  }

  undo() {
    if (this.history?.undo()) this.tell();
  }

  redo() {
    if (this.history?.redo()) this.tell();
  }

  tell() {
    const recipe = this.recipe;
    if (recipe) for (const listener of this.listeners) listener(recipe);
  }
}
