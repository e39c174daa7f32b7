// Physical size of a scan, in the words used for paper.

/** Millimeters in an inch, exactly. */
export const MM_PER_INCH = 25.4;

/** @typedef {"mm"|"cm"|"inch"} Unit */

/** Millimeters in a unit. @type {Record<Unit, number>} */
export const MM_IN = { mm: 1, cm: 10, inch: MM_PER_INCH };

/** What a scan's pixels per inch can be; the module holds to the same. */
export const LEAST_PPI = 10;
export const MOST_PPI = 20000;

/**
 * @param {number} pixels
 * @param {number} ppi scan pixels in an inch
 */
export function millimeters(pixels, ppi) {
  return (pixels / ppi) * MM_PER_INCH;
}

/**
 * The resolution of a scan whose original is so wide.
 * @param {number} pixels
 * @param {number} wide
 * @param {Unit} unit
 */
export function ppiFromWidth(pixels, wide, unit) {
  return (pixels / (wide * MM_IN[unit])) * MM_PER_INCH;
}

/**
 * "210 × 297 mm (8.27 × 11.7 in)"
 * @param {number} width pixels
 * @param {number} height pixels
 * @param {number} ppi
 */
export function sizeWords(width, height, ppi) {
  const mm = [width, height].map((n) => rounded(millimeters(n, ppi)));
  const inch = [width, height].map((n) => rounded(n / ppi));
  return `${mm[0]} × ${mm[1]} mm (${inch[0]} × ${inch[1]} in)`;
}

/**
 * Three digits carry all that a ruler can tell.
 * @param {number} value
 */
export function rounded(value) {
  return String(value >= 100 ? Math.round(value) : Number(value.toPrecision(3)));
}
