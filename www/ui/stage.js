// The picture: a canvas as large as its place on the screen, and the hands on it.
// The canvas only shows. What it shows is opaque and comes finished from the module; nothing is ever read back.

import { fit, lookAt, pan, paneOf, scaleWords, toSheet, zoomTo } from "../state/view.js";
import { need } from "./need.js";

/** @typedef {import("../state/view.js").View} View */
/** @typedef {import("../engine/protocol.js").Picture} Picture */

/** A pointer that moves less than this between down and up has clicked; in CSS pixels. Generous, for shaky hands. */
const STILL = 6;
/** How far an arrow key moves the picture, in CSS pixels. */
const STRIDE = 60;
/** How much nearer one press of plus, or one notch of a wheel, brings the picture. */
const NOTCH = 1.25;
/** Room around the fitted sheet, in CSS pixels. */
const MARGIN = 20;

export class Stage {
  /**
   * @param {object} hooks
   * @param {(pane: import("../state/view.js").Pane|null) => void} hooks.look  what has to be drawn has changed
   * @param {(x: number, y: number) => void} hooks.pick  a click at a sheet coordinate
   * @param {() => void} hooks.moved  outlines have to follow
   */
  constructor({ look, pick, moved }) {
    this.root = need("stage");
    this.canvas = need("picture", HTMLCanvasElement);
    this.context = /** @type {CanvasRenderingContext2D} */ (this.canvas.getContext("2d"));
    this.hooks = { look, pick, moved };
    /** The last picture from the module, kept to be shown shifted until the next one is there. */
    this.kept = document.createElement("canvas");
    /** @type {Picture|null} */
    this.picture = null;
    this.sheet = { width: 1, height: 1 };
    /** @type {View} */
    this.view = { fitted: true, scale: 1, x: 0, y: 0 };
    this.open = false;
    this.framed = false;
    this.listen();
  }

  get ratio() {
    return window.devicePixelRatio || 1;
  }

  get size() {
    return { width: this.canvas.width, height: this.canvas.height };
  }

  /** Shows a new sheet as a whole. @param {{width: number, height: number}} sheet */
  begin(sheet) {
    this.sheet = { width: sheet.width, height: sheet.height };
    this.picture = null;
    this.open = true;
    this.measure();
    this.fit();
  }

  fit() {
    this.to(fit(this.sheet, this.size, MARGIN * this.ratio));
  }

  /** Zooms to a scale around the middle. @param {number} scale screen pixels per scan pixel */
  scaleTo(scale) {
    this.zoom(scale, this.canvas.width / 2, this.canvas.height / 2);
  }

  /** @param {number} notches positive: nearer */
  nearer(notches) {
    this.scaleTo(this.view.scale * NOTCH ** notches);
  }

  /** @param {number} scale @param {number} px @param {number} py canvas pixels that stay in place */
  zoom(scale, px, py) {
    this.to(zoomTo(this.view, scale, px, py, this.sheet, this.size));
  }

  /** @param {[number, number, number, number]} box */
  lookAt(box) {
    this.to(lookAt(this.view, box, this.sheet, this.size));
  }

  /** @param {View} view */
  to(view) {
    this.view = view;
    if (!this.open || this.framed) return;
    this.framed = true;
    requestAnimationFrame(() => {
      this.framed = false;
      this.hooks.look(paneOf(this.view, this.sheet, this.size));
      this.repaint();
    });
  }

  /** Asks for the same place again, after the ground changed. */
  again() {
    this.to(this.view);
  }

  /** @param {Picture} picture */
  show(picture) {
    const { width, height } = picture.pane;
    if (this.kept.width !== width || this.kept.height !== height) {
      this.kept.width = width;
      this.kept.height = height;
    }
    this.kept.getContext("2d")?.putImageData(new ImageData(picture.pixels, width, height), 0, 0);
    this.picture = picture;
    this.repaint();
  }

  repaint() {
    const { context, canvas, picture, view } = this;
    context.clearRect(0, 0, canvas.width, canvas.height);
    if (picture) {
      const { pane } = picture;
      const grown = view.scale / pane.scale;
      // Only a picture of another scale is resampled; a fitting one is copied pixel for pixel.
      context.imageSmoothingEnabled = grown < 1;
      const snap = grown === 1 ? Math.round : (/** @type {number} */ n) => n;
      context.drawImage(
        this.kept,
        snap((pane.x - view.x) * view.scale),
        snap((pane.y - view.y) * view.scale),
        pane.width * grown,
        pane.height * grown,
      );
    }
    this.hooks.moved();
    this.tellScale();
  }

  tellScale() {
    const { scale, fitted } = this.view;
    need("scale").textContent = scaleWords(scale);
    const pressed = (/** @type {string} */ id, /** @type {boolean} */ on) =>
      need(id).setAttribute("aria-pressed", String(on));
    pressed("fit", fitted);
    pressed("one", !fitted && Math.abs(scale - 1) < 1e-6);
    pressed("four", !fitted && Math.abs(scale - 4) < 1e-6);
  }

  /** Makes the canvas as large as its place, in screen pixels. */
  measure() {
    const width = Math.max(1, Math.round(this.root.clientWidth * this.ratio));
    const height = Math.max(1, Math.round(this.root.clientHeight * this.ratio));
    if (width === this.canvas.width && height === this.canvas.height) return;
    const before = this.size;
    this.canvas.width = width;
    this.canvas.height = height;
    if (!this.open) return;
    if (this.view.fitted) this.fit();
    else this.to(pan(this.view, (width - before.width) / 2, (height - before.height) / 2, this.sheet, this.size));
  }

  listen() {
    new ResizeObserver(() => this.measure()).observe(this.root);
    this.listenToPointers();
    this.root.addEventListener(
      "wheel",
      (event) => {
        event.preventDefault();
        // A pinch on a trackpad comes as a wheel with the control key and small steps.
        const lines = event.deltaMode === WheelEvent.DOM_DELTA_LINE ? 33 : 1;
        const notches = (-event.deltaY * lines) / (event.ctrlKey ? 20 : 120);
        this.zoom(this.view.scale * NOTCH ** notches, ...this.place(event));
      },
      { passive: false },
    );
    this.root.addEventListener("keydown", (event) => {
      if (event.ctrlKey || event.metaKey || event.altKey) return;
      const far = STRIDE * this.ratio * (event.shiftKey ? 4 : 1);
      const ways = { ArrowLeft: [far, 0], ArrowRight: [-far, 0], ArrowUp: [0, far], ArrowDown: [0, -far] };
      const way = ways[/** @type {keyof typeof ways} */ (event.key)];
      if (!way) return;
      event.preventDefault();
      this.to(pan(this.view, way[0], way[1], this.sheet, this.size));
    });
  }

  listenToPointers() {
    /** @type {Map<number, {x: number, y: number}>} fingers that are down, in canvas pixels */
    const down = new Map();
    let travelled = 0;
    const spread = () => {
      const [a, b] = [...down.values()];
      return { far: Math.hypot(a.x - b.x, a.y - b.y), x: (a.x + b.x) / 2, y: (a.y + b.y) / 2 };
    };
    this.root.addEventListener("pointerdown", (event) => {
      if (event.button !== 0) return;
      if (down.size === 0) travelled = 0;
      const [x, y] = this.place(event);
      down.set(event.pointerId, { x, y });
      this.root.setPointerCapture(event.pointerId);
    });
    this.root.addEventListener("pointermove", (event) => {
      const was = down.get(event.pointerId);
      if (!was) return;
      const [x, y] = this.place(event);
      travelled += Math.hypot(x - was.x, y - was.y) / this.ratio;
      if (down.size === 2) {
        const before = spread();
        down.set(event.pointerId, { x, y });
        const after = spread();
        const moved = pan(this.view, after.x - before.x, after.y - before.y, this.sheet, this.size);
        const scale = (moved.scale * after.far) / Math.max(1, before.far);
        this.to(zoomTo(moved, scale, after.x, after.y, this.sheet, this.size));
        return;
      }
      down.set(event.pointerId, { x, y });
      if (travelled > STILL) {
        this.root.classList.add("held");
        this.to(pan(this.view, x - was.x, y - was.y, this.sheet, this.size));
      }
    });
    const up = (/** @type {PointerEvent} */ event) => {
      if (!down.delete(event.pointerId)) return;
      this.root.classList.remove("held");
      if (event.type === "pointerup" && down.size === 0 && travelled <= STILL && this.open) {
        const [x, y] = toSheet(this.view, ...this.place(event));
        if (x >= 0 && y >= 0 && x < this.sheet.width && y < this.sheet.height) this.hooks.pick(x, y);
      }
    };
    this.root.addEventListener("pointerup", up);
    this.root.addEventListener("pointercancel", up);
  }

  /** @param {MouseEvent} event @returns {[number, number]} canvas pixels */
  place(event) {
    const box = this.canvas.getBoundingClientRect();
    return [(event.clientX - box.left) * this.ratio, (event.clientY - box.top) * this.ratio];
  }
}
