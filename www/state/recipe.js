// Pure edits of a recipe. A recipe is plain JSON and is never changed in place: each edit gives a new one.
// The module validates; this file only knows where things are.

import { insideLoops } from "./outline.js";

/**
 * @typedef {"keep"|"clear"} Choice
 * @typedef {object} Recipe
 * @property {number} barewash           version, 1
 * @property {{page: number|null, ppi: number|null}} scan   page counted from 1, or the largest; ppi stated, or the file's
 * @property {number} tolerance          0..100
 * @property {{color: "auto"|[number, number, number]}} paper
 * @property {{soft: number, rim: number}} edge   each 0..100
 * @property {number} body               0..100
 * @property {{default: "propose"|Choice, decided: {at: [number, number], do: Choice}[]}} islands
 * @property {{specks_mm: number, hairs: Choice, pencil: Choice, stains: Choice, sheet_edge: Choice}} tidy
 */

/**
 * Reads the value under a dotted path such as "edge.soft".
 * @param {Recipe} recipe
 * @param {string} path
 * @returns {any}
 */
export function valueAt(recipe, path) {
  return path.split(".").reduce((/** @type {any} */ part, key) => part[key], recipe);
}

/**
 * The same recipe with one value changed.
 * @param {Recipe} recipe
 * @param {string} path dotted, of a key that is already there
 * @param {unknown} value
 * @returns {Recipe}
 */
export function withValue(recipe, path, value) {
  const [key, ...rest] = path.split(".");
  const part = /** @type {any} */ (recipe)[key];
  if (part === undefined) throw new RangeError(`the recipe has no "${path}"`);
  const changed = rest.length === 0 ? value : withValue(part, rest.join("."), value);
  return { ...recipe, [key]: changed };
}

/**
 * The same recipe with one white area decided. An earlier decision on the same area is replaced.
 * @param {Recipe} recipe
 * @param {[number, number]} at a sheet pixel inside the area
 * @param {Choice} choice
 * @param {import("./outline.js").Loop[]} [loops] outline of the area, to find earlier decisions made at another pixel of it
 * @returns {Recipe}
 */
export function withDecision(recipe, at, choice, loops = []) {
  const others = recipe.islands.decided.filter((one) => {
    const samePixel = one.at[0] === at[0] && one.at[1] === at[1];
    return !samePixel && !insideLoops(loops, one.at[0] + 0.5, one.at[1] + 0.5);
  });
  return { ...recipe, islands: { ...recipe.islands, decided: [...others, { at, do: choice }] } };
}
