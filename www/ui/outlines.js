// Draws the white areas over the picture. Never by color alone: the hatching leans one way for "keep" and the
// other way for "clear", a dashed line is undecided, a full one decided, and the area in hand has a frame and a word.

import { need } from "./need.js";

/** @typedef {import("../state/view.js").View} View */
/** @typedef {ReturnType<ReturnType<typeof import("./whites.js").whitesStep>["outlined"]>} Outlined */

/** Distance of two hatching lines in CSS pixels: close enough for the smallest area one can click. */
const HATCH = { keep: 7, clear: 12 };

/** Corners closer than this on the screen are left out, in screen pixels: nobody sees them, and they cost time. */
const FINEST = 0.8;

/**
 * @param {View} view
 * @param {number} ratio screen pixels per CSS pixel
 * @param {Outlined} areas
 */
export function drawOutlines(view, ratio, areas) {
  const canvas = need("outlines", HTMLCanvasElement);
  const picture = need("picture", HTMLCanvasElement);
  if (canvas.width !== picture.width || canvas.height !== picture.height) {
    canvas.width = picture.width;
    canvas.height = picture.height;
  }
  const context = /** @type {CanvasRenderingContext2D} */ (canvas.getContext("2d"));
  context.clearRect(0, 0, canvas.width, canvas.height);
  const visible = areas.filter(({ island }) => inSight(view, canvas, island.box));

  for (const decision of /** @type {const} */ (["keep", "clear"])) {
    const path = new Path2D();
    for (const { island, loops } of visible) if (island.decision === decision) trace(path, loops(), view);
    context.save();
    context.clip(path, "evenodd");
    hatch(context, canvas, HATCH[decision] * ratio, decision === "keep" ? 1 : -1, ratio);
    context.restore();
  }
  for (const decided of [true, false]) {
    const path = new Path2D();
    for (const { island, loops } of visible) if (island.decided === decided) trace(path, loops(), view);
    line(context, path, 1.5 * ratio, decided ? [] : [5 * ratio, 4 * ratio]);
  }
  for (const area of visible) if (area.current) frame(context, view, ratio, area);
}

/** @param {View} view @param {HTMLCanvasElement} canvas @param {[number, number, number, number]} box */
function inSight(view, canvas, [x, y, width, height]) {
  const left = (x - view.x) * view.scale;
  const top = (y - view.y) * view.scale;
  return (
    left < canvas.width && top < canvas.height && left + width * view.scale > 0 && top + height * view.scale > 0
  );
}

/** @param {Path2D} path @param {import("../state/outline.js").Loop[]} loops @param {View} view */
function trace(path, loops, view) {
  for (const loop of loops) {
    let [lastX, lastY] = [Infinity, Infinity];
    for (let i = 0; i < loop.length; i += 2) {
      const x = (loop[i] - view.x) * view.scale;
      const y = (loop[i + 1] - view.y) * view.scale;
      if (i === 0) path.moveTo(x, y);
      else if (Math.abs(x - lastX) + Math.abs(y - lastY) < FINEST) continue;
      else path.lineTo(x, y);
      [lastX, lastY] = [x, y];
    }
    path.closePath();
  }
}

/**
 * A pale line on a dark one shows on every ground.
 * @param {CanvasRenderingContext2D} context
 * @param {Path2D} path
 * @param {number} width
 * @param {number[]} dashes
 */
function line(context, path, width, dashes) {
  context.lineJoin = "round";
  context.setLineDash([]);
  context.strokeStyle = "rgb(20 24 26 / 0.75)";
  context.lineWidth = width * 2.2;
  context.stroke(path);
  context.setLineDash(dashes);
  context.strokeStyle = "#fff8e6";
  context.lineWidth = width;
  context.stroke(path);
  context.setLineDash([]);
}

/**
 * @param {CanvasRenderingContext2D} context
 * @param {HTMLCanvasElement} canvas
 * @param {number} gap
 * @param {1|-1} lean
 * @param {number} ratio
 */
function hatch(context, canvas, gap, lean, ratio) {
  const path = new Path2D();
  const { width, height } = canvas;
  for (let x = -height; x < width + height; x += gap * Math.SQRT2) {
    path.moveTo(x, lean > 0 ? height : 0);
    path.lineTo(x + height, lean > 0 ? 0 : height);
  }
  context.strokeStyle = "rgb(20 24 26 / 0.6)";
  context.lineWidth = 2 * ratio;
  context.stroke(path);
  context.strokeStyle = "rgb(255 248 230 / 0.85)";
  context.lineWidth = ratio;
  context.stroke(path);
}

/**
 * @param {CanvasRenderingContext2D} context
 * @param {View} view
 * @param {number} ratio
 * @param {Outlined[number]} area
 */
function frame(context, view, ratio, { island }) {
  const [x, y, width, height] = island.box;
  const room = 8 * ratio;
  const left = (x - view.x) * view.scale - room;
  const top = (y - view.y) * view.scale - room;
  const path = new Path2D();
  path.rect(left, top, width * view.scale + 2 * room, height * view.scale + 2 * room);
  line(context, path, 2.5 * ratio, []);

  const words = (island.decision === "keep" ? "keep white" : "clear") + (island.decided ? "" : "?");
  context.font = `600 ${13 * ratio}px system-ui, sans-serif`;
  const wide = context.measureText(words).width + 14 * ratio;
  const tall = 22 * ratio;
  // The word stands above its frame, or below it at the top of the picture.
  const at = top - tall > 0 ? top - tall : top + height * view.scale + 2 * room;
  context.fillStyle = "#14181a";
  context.fillRect(left, at, wide, tall);
  context.fillStyle = "#fff8e6";
  context.textBaseline = "middle";
  context.fillText(words, left + 7 * ratio, at + tall / 2);
}
