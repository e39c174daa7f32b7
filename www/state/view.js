// Where the painter looks: pure geometry between the sheet and the canvas.
// All canvas lengths are screen pixels (CSS pixels times the pixel ratio), all sheet lengths are scan pixels.

/**
 * @typedef {object} Size
 * @property {number} width
 * @property {number} height
 *
 * @typedef {object} View
 * @property {boolean} fitted  follows the size of the canvas
 * @property {number} scale    screen pixels per scan pixel
 * @property {number} x        sheet coordinate at the left edge of the canvas
 * @property {number} y        sheet coordinate at the top edge of the canvas
 *
 * @typedef {object} Pane      the part of the canvas that the sheet covers, and what to draw there
 * @property {number} left     canvas pixels, whole
 * @property {number} top
 * @property {number} width
 * @property {number} height
 * @property {number} x        sheet coordinate at (left, top)
 * @property {number} y
 * @property {number} scale
 */

/** Most screen pixels for one scan pixel. Beyond 32 a laptop screen holds fewer than 60 pixels of a stroke. */
export const CLOSEST = 32;

/**
 * The whole sheet, centered, never larger than 1:1.
 * @param {Size} sheet
 * @param {Size} canvas
 * @param {number} [margin] screen pixels left free on each side
 * @returns {View}
 */
export function fit(sheet, canvas, margin = 0) {
  const across = Math.max(1, canvas.width - 2 * margin) / sheet.width;
  const down = Math.max(1, canvas.height - 2 * margin) / sheet.height;
  const scale = Math.min(1, across, down);
  return { fitted: true, scale, ...centered(sheet, canvas, scale) };
}

/**
 * @param {Size} sheet
 * @param {Size} canvas
 * @param {number} scale
 */
function centered(sheet, canvas, scale) {
  return {
    x: (sheet.width - canvas.width / scale) / 2,
    y: (sheet.height - canvas.height / scale) / 2,
  };
}

/**
 * Zooms to a scale so that the sheet point under (px, py) stays where it is.
 * @param {View} view
 * @param {number} scale
 * @param {number} px canvas pixels
 * @param {number} py canvas pixels
 * @param {Size} sheet
 * @param {Size} canvas
 * @returns {View}
 */
export function zoomTo(view, scale, px, py, sheet, canvas) {
  const smallest = Math.min(1, fit(sheet, canvas).scale) / 2;
  const next = Math.min(CLOSEST, Math.max(smallest, scale));
  return held(
    {
      fitted: false,
      scale: next,
      x: view.x + px / view.scale - px / next,
      y: view.y + py / view.scale - py / next,
    },
    sheet,
    canvas,
  );
}

/**
 * Moves the picture by canvas pixels (positive: the picture goes right and down).
 * @param {View} view
 * @param {number} dx
 * @param {number} dy
 * @param {Size} sheet
 * @param {Size} canvas
 * @returns {View}
 */
export function pan(view, dx, dy, sheet, canvas) {
  const moved = { ...view, fitted: false, x: view.x - dx / view.scale, y: view.y - dy / view.scale };
  return held(moved, sheet, canvas);
}

/**
 * Keeps the middle of the canvas on the sheet, so that the painting cannot be lost out of sight.
 * @param {View} view
 * @param {Size} sheet
 * @param {Size} canvas
 * @returns {View}
 */
function held(view, sheet, canvas) {
  const halfAcross = canvas.width / view.scale / 2;
  const halfDown = canvas.height / view.scale / 2;
  return {
    ...view,
    x: Math.min(sheet.width - halfAcross, Math.max(-halfAcross, view.x)),
    y: Math.min(sheet.height - halfDown, Math.max(-halfDown, view.y)),
  };
}

/**
 * Brings a box of the sheet into the middle of the canvas, large enough to judge it and with room around it.
 * @param {View} view
 * @param {[number, number, number, number]} box x, y, width, height in sheet pixels
 * @param {Size} sheet
 * @param {Size} canvas
 * @returns {View}
 */
export function lookAt(view, box, sheet, canvas) {
  const [x, y, width, height] = box;
  const whole = fit(sheet, canvas).scale;
  const roomy = Math.min(canvas.width / width, canvas.height / height) / 5;
  const scale = Math.max(whole, Math.min(2, roomy));
  return held(
    {
      fitted: false,
      scale,
      x: x + width / 2 - canvas.width / scale / 2,
      y: y + height / 2 - canvas.height / scale / 2,
    },
    sheet,
    canvas,
  );
}

/**
 * Sheet coordinate under a canvas pixel.
 * @param {View} view
 * @param {number} px
 * @param {number} py
 * @returns {[number, number]}
 */
export function toSheet(view, px, py) {
  return [view.x + px / view.scale, view.y + py / view.scale];
}

/**
 * What has to be drawn: the part of the canvas that the sheet covers, or null when it covers none.
 * @param {View} view
 * @param {Size} sheet
 * @param {Size} canvas
 * @returns {Pane|null}
 */
export function paneOf(view, sheet, canvas) {
  const left = Math.max(0, Math.floor(-view.x * view.scale));
  const top = Math.max(0, Math.floor(-view.y * view.scale));
  const right = Math.min(canvas.width, Math.ceil((sheet.width - view.x) * view.scale));
  const bottom = Math.min(canvas.height, Math.ceil((sheet.height - view.y) * view.scale));
  if (right <= left || bottom <= top) return null;
  const [x, y] = toSheet(view, left, top);
  return { left, top, width: right - left, height: bottom - top, x, y, scale: view.scale };
}

/**
 * Words for a scale: "1:1" is one scan pixel on one screen pixel, "1:3" is three scan pixels on one.
 * @param {number} scale
 */
export function scaleWords(scale) {
  const plain = (/** @type {number} */ n) => String(Number(n.toFixed(n < 10 ? 1 : 0)));
  return scale >= 1 ? `${plain(scale)}:1` : `1:${plain(1 / scale)}`;
}
