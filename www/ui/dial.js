// A dial: a label, a range, its number (which can be typed as well), and a line of help.
// It answers while it moves; one whole movement is one step of undo.

import { make } from "./need.js";
import { valueAt } from "../state/recipe.js";

/** Key presses on a dial that follow each other faster than this are one movement; in milliseconds. */
const PAUSE = 900;

/**
 * @typedef {object} DialWords
 * @property {string} path   key of the recipe
 * @property {string} label
 * @property {string} name   for undo
 * @property {string} help
 * @property {string} low    what the low end does, a word or two
 * @property {string} high
 * @property {number} [max]
 * @property {number} [step]
 * @property {string} [unit] read out after the number
 */

/**
 * @param {DialWords} words
 * @param {import("../state/store.js").Store} store
 * @returns {HTMLElement}
 */
export function dial(words, store) {
  const { path, label, name, help, low, high, max = 100, step = 1, unit = "" } = words;
  const id = `dial-${path.replace(".", "-")}`;
  const scale = { min: 0, max, step };
  const range = make("input", { type: "range", id, "aria-describedby": `${id}-help`, ...scale });
  const number = make("input", { type: "number", id: `${id}-number`, "aria-label": `${label}, as a number`, ...scale });
  const element = make(
    "div",
    { class: "dial" },
    make("label", { for: id }, label),
    unit ? make("span", { class: "dial-number" }, number, ` ${unit}`) : make("span", { class: "dial-number" }, number),
    range,
    make("span", { class: "ends", "aria-hidden": true }, make("span", {}, low), make("span", {}, high)),
    make("p", { class: "fine", id: `${id}-help` }, help),
  );

  /** @type {ReturnType<typeof setTimeout>|undefined} */
  let ending;
  const settle = () => {
    clearTimeout(ending);
    store.settle();
  };
  range.addEventListener("input", () => {
    clearTimeout(ending);
    store.set(path, range.valueAsNumber, name, id);
  });
  // A browser sends "change" when a drag ends, but also after every arrow key; a pause tells the end of both.
  range.addEventListener("change", () => {
    clearTimeout(ending);
    ending = setTimeout(settle, PAUSE);
  });
  range.addEventListener("pointerdown", settle);
  range.addEventListener("blur", settle);

  number.addEventListener("change", () => {
    const typed = number.valueAsNumber;
    const value = Number.isFinite(typed) ? Math.min(max, Math.max(0, typed)) : range.valueAsNumber;
    settle();
    if (value !== range.valueAsNumber) store.set(path, value, name);
    number.valueAsNumber = value;
  });

  store.listen((recipe) => {
    const value = valueAt(recipe, path);
    range.valueAsNumber = value;
    if (document.activeElement !== number || number.valueAsNumber !== value) number.valueAsNumber = value;
    range.style.setProperty("--filled", String(value / max));
    range.setAttribute("aria-valuetext", unit ? `${value} ${unit}` : String(value));
  });
  return element;
}
