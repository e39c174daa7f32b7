// Geometry of the view and of outlines, and the words for sizes.

import assert from "node:assert/strict";
import { test } from "node:test";
import { CLOSEST, fit, lookAt, pan, paneOf, scaleWords, toSheet, zoomTo } from "../../www/state/view.js";
import { insideLoops, loopsOf } from "../../www/state/outline.js";
import { ppiFromWidth, sizeWords } from "../../www/state/size.js";

const sheet = { width: 4960, height: 7016 };
const canvas = { width: 1300, height: 640 };
const near = (a, b, message) => assert.ok(Math.abs(a - b) < 1e-6 * Math.max(1, Math.abs(b)), message ?? `${a} is not ${b}`);

test("fit shows the whole sheet in the middle and never enlarges it", () => {
  const view = fit(sheet, canvas, 20);
  near(view.scale, 600 / 7016);
  near(toSheet(view, 650, 320)[0], 2480);
  near(toSheet(view, 650, 320)[1], 3508);
  const small = fit({ width: 100, height: 50 }, canvas);
  assert.equal(small.scale, 1);
});

test("zooming holds the point under the pointer", () => {
  let view = fit(sheet, canvas);
  for (const scale of [0.2, 1, 4, 0.7]) {
    const before = toSheet(view, 700, 300);
    view = zoomTo(view, scale, 700, 300, sheet, canvas);
    const after = toSheet(view, 700, 300);
    near(view.scale, scale);
    near(after[0], before[0]);
    near(after[1], before[1]);
  }
  assert.equal(zoomTo(view, 1e9, 0, 0, sheet, canvas).scale, CLOSEST);
  assert.ok(zoomTo(view, 1e-9, 0, 0, sheet, canvas).scale > 0.01);
});

test("panning cannot push the painting out of sight", () => {
  const start = zoomTo(fit(sheet, canvas), 1, 650, 320, sheet, canvas);
  for (const [dx, dy] of [[1e6, 1e6], [-1e6, 1e6], [1e6, -1e6], [-1e6, -1e6]]) {
    const [x, y] = toSheet(pan(start, dx, dy, sheet, canvas), canvas.width / 2, canvas.height / 2);
    assert.ok(x >= -1e-9 && x <= sheet.width + 1e-9 && y >= -1e-9 && y <= sheet.height + 1e-9);
  }
  const moved = pan(start, -30, 12, sheet, canvas);
  near(moved.x, start.x + 30);
  near(moved.y, start.y - 12);
});

test("the pane covers just the part of the canvas that the sheet covers", () => {
  for (const scale of [0.05, 0.0913, 0.5, 1, 4, 31.7]) {
    const view = zoomTo(fit(sheet, canvas), scale, 111, 222, sheet, canvas);
    const pane = paneOf(view, sheet, canvas);
    assert.ok(pane.left >= 0 && pane.top >= 0);
    assert.ok(pane.left + pane.width <= canvas.width && pane.top + pane.height <= canvas.height);
    assert.ok([pane.left, pane.top, pane.width, pane.height].every(Number.isInteger));
    near(pane.x, view.x + pane.left / scale);
    // Nothing of the sheet that is on the canvas is left out.
    const [right, bottom] = [(sheet.width - view.x) * scale, (sheet.height - view.y) * scale];
    assert.ok(pane.left + pane.width >= Math.min(canvas.width, right) - 1e-6);
    assert.ok(pane.top + pane.height >= Math.min(canvas.height, bottom) - 1e-6);
  }
  assert.equal(paneOf({ fitted: false, scale: 1, x: 9000, y: 0 }, sheet, canvas), null);
});

test("looking at a box brings it whole into the middle", () => {
  const view = lookAt(fit(sheet, canvas), [1000, 5000, 80, 40], sheet, canvas);
  const [x, y] = toSheet(view, canvas.width / 2, canvas.height / 2);
  near(x, 1040);
  near(y, 5020);
  assert.ok(80 * view.scale < canvas.width && 40 * view.scale < canvas.height);
});

test("scales have plain words", () => {
  assert.equal(scaleWords(1), "1:1");
  assert.equal(scaleWords(4), "4:1");
  assert.equal(scaleWords(0.25), "1:4");
  assert.equal(scaleWords(600 / 7016), "1:12");
});

/** Boundary segments of a set of pixels, in scrambled order. */
function boundary(pixels) {
  const has = new Set(pixels.map(String));
  const segments = [];
  for (const [x, y] of pixels) {
    if (!has.has(`${x},${y - 1}`)) segments.push([x, y, x + 1, y]);
    if (!has.has(`${x},${y + 1}`)) segments.push([x + 1, y + 1, x, y + 1]);
    if (!has.has(`${x - 1},${y}`)) segments.push([x, y, x, y + 1]);
    if (!has.has(`${x + 1},${y}`)) segments.push([x + 1, y, x + 1, y + 1]);
  }
  segments.sort((a, b) => ((a[0] * 7 + a[1] * 13 + a[2]) % 11) - ((b[0] * 7 + b[1] * 13 + b[2]) % 11));
  return new Float32Array(segments.flat());
}

test("loose segments join to loops that hold exactly the pixels they came from", () => {
  const shapes = {
    square: [[3, 3], [4, 3], [3, 4], [4, 4]],
    ring: [[1, 1], [2, 1], [3, 1], [1, 2], [3, 2], [1, 3], [2, 3], [3, 3]],
    "two that touch in a corner": [[1, 1], [2, 2]],
    "a hook": [[0, 0], [1, 0], [2, 0], [2, 1], [2, 2], [1, 2], [0, 2], [0, 3], [4, 4]],
  };
  for (const [name, pixels] of Object.entries(shapes)) {
    const loops = loopsOf(boundary(pixels));
    const points = loops.reduce((sum, loop) => sum + loop.length / 2, 0);
    assert.equal(points, boundary(pixels).length / 4, `${name}: every segment is used once`);
    for (let y = -1; y < 6; y += 1) {
      for (let x = -1; x < 6; x += 1) {
        const wanted = pixels.some(([px, py]) => px === x && py === y);
        assert.equal(insideLoops(loops, x + 0.5, y + 0.5), wanted, `${name} at ${x}, ${y}`);
      }
    }
  }
});

test("an open line and no line at all do no harm", () => {
  assert.deepEqual(loopsOf([]), []);
  assert.deepEqual(loopsOf([0, 0, 1, 0, 1, 0, 1, 1]), [[0, 0, 1, 0, 1, 1]]);
});

test("physical sizes", () => {
  assert.equal(sizeWords(4960, 7016, 600), "210 × 297 mm (8.27 × 11.7 in)");
  near(ppiFromWidth(4960, 8.2666667, "inch"), 600, "width in inches");
  near(ppiFromWidth(1000, 10, "cm"), 254, "width in centimeters");
  assert.ok(Math.abs(ppiFromWidth(4961, 210, "mm") - 600.05) < 0.01);
});
