// Small scans for the browser tests, made here so that their every pixel is known.

import { writeFileSync } from "node:fs";
import { PNG } from "pngjs";

export const SIZE = { width: 720, height: 520 };
/** Middles of three drops of paint, if they are wanted. */
export const DROPS = [[600, 60], [630, 64], [660, 60]];
/** Middle of the white that the large wash encloses. */
export const WHITE = { x: 250, y: 250 };

/**
 * A cream sheet with tooth, a large red wash around a reserved white, and a pale blue one.
 * @param {string} path where to write it, as PNG without a resolution
 * @param {number} [seed] of the tooth
 * @param {number[][]} [drops] middles of small dark drops
 */
export function writeSheet(path, seed = 7, drops = []) {
  const { width, height } = SIZE;
  const png = new PNG({ width, height, colorType: 2 });
  let state = seed;
  const noise = () => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
    return state / 2 ** 32 - 0.5;
  };
  for (let y = 0; y < height; y += 1) {
    for (let x = 0; x < width; x += 1) {
      const tooth = 3 * (noise() + noise());
      const red = cover(Math.hypot(x - 250, y - 250), 150) * (1 - cover(Math.hypot(x - WHITE.x, y - WHITE.y), 42));
      const blue = cover(Math.hypot(x - 540, y - 300), 110);
      const drop = drops.reduce((most, [left, top]) => Math.max(most, cover(Math.hypot(x - left, y - top), 8)), 0);
      const at = 4 * (y * width + x);
      [244, 238, 226].forEach((paper, channel) => {
        const painted = paper + red * ([186, 74, 60][channel] - paper);
        const glazed = painted + blue * 0.45 * ([120, 168, 204][channel] - painted);
        const dropped = glazed + drop * ([150, 60, 60][channel] - glazed);
        png.data[at + channel] = Math.max(0, Math.min(255, Math.round(dropped + tooth)));
      });
      png.data[at + 3] = 255;
    }
  }
  writeFileSync(path, PNG.sync.write(png, { colorType: 2, inputHasAlpha: true }));
  return path;
}

/** A disc with an edge of two pixels. @param {number} distance @param {number} radius */
const cover = (distance, radius) => Math.max(0, Math.min(1, (radius - distance) / 2 + 0.5));
