// Outlines of white areas: loose boundary segments in, closed loops out.
// The picture draws loops (a hatching needs an inside), the recipe asks whether a pixel lies in one.

/** @typedef {number[]} Loop x, y pairs in sheet pixels; the last point joins the first */

/** More than any sheet's height in pixels, twice over, so that half pixels are told apart as well. */
const TALLEST = 2 ** 21;

/**
 * Joins segments into closed loops. Where two loops touch in one corner either walk is a right answer
 * under the even-odd rule, so the first free segment is taken.
 * @param {ArrayLike<number>} segments x0, y0, x1, y1 repeated, in any order and direction
 * @returns {Loop[]}
 */
export function loopsOf(segments) {
  const count = Math.floor(segments.length / 4);
  /** @type {Map<number, number[]>} corner -> segments that end there */
  const corners = new Map();
  // One number for a corner: several times quicker than text, and unique since no sheet is so tall.
  const corner = (/** @type {number} */ i) => segments[i] * TALLEST + segments[i + 1];
  for (let s = 0; s < count; s += 1) {
    for (const end of [corner(4 * s), corner(4 * s + 2)]) {
      const there = corners.get(end);
      if (there) there.push(s);
      else corners.set(end, [s]);
    }
  }
  const used = new Uint8Array(count);
  /** @type {Loop[]} */
  const loops = [];
  for (let first = 0; first < count; first += 1) {
    if (used[first]) continue;
    used[first] = 1;
    const start = corner(4 * first);
    const loop = [segments[4 * first], segments[4 * first + 1]];
    let end = 4 * first + 2;
    while (corner(end) !== start) {
      const here = corner(end);
      loop.push(segments[end], segments[end + 1]);
      const next = (corners.get(here) ?? []).find((s) => !used[s]);
      if (next === undefined) break; // an open line: close it with a straight stroke
      used[next] = 1;
      end = corner(4 * next) === here ? 4 * next + 2 : 4 * next;
    }
    loops.push(loop);
  }
  return loops;
}

/**
 * Even-odd test.
 * @param {Loop[]} loops
 * @param {number} x sheet pixels
 * @param {number} y sheet pixels
 */
export function insideLoops(loops, x, y) {
  let inside = false;
  for (const loop of loops) {
    let bx = loop[loop.length - 2];
    let by = loop[loop.length - 1];
    for (let i = 0; i < loop.length; i += 2) {
      const ax = loop[i];
      const ay = loop[i + 1];
      if (ay > y !== by > y && x < ((bx - ax) * (y - ay)) / (by - ay) + ax) inside = !inside;
      bx = ax;
      by = ay;
    }
  }
  return inside;
}
