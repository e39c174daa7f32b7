// Stands in for the module's Session where a test is about the conversation, not about painting.
// It lifts in `pieces` steps, remembers every call, and breaks on request.

const DEFAULTS = {
  barewash: 1,
  scan: { page: null, ppi: null },
  tolerance: 50,
  paper: { color: "auto" },
  edge: { soft: 50, rim: 100 },
  body: 100,
  islands: { default: "propose", decided: [] },
  tidy: { specks_mm: 0.8, hairs: "clear", pencil: "keep", stains: "clear", sheet_edge: "clear" },
  strokes: [],
  straighten: 0,
  trim: null,
};

export class SessionDouble {
  /** @param {Uint8Array} bytes starts with "bad" for a file that cannot be read; "pages" for one of three pages
   * @param {number} [page] counted from 0 */
  constructor(bytes, page) {
    const text = new TextDecoder().decode(bytes);
    this.pages = text.startsWith("pages") ? 3 : 1;
    if (page !== undefined && page >= this.pages) {
      throw Object.assign(new Error(`There is no page ${page + 1} in this TIFF.`), { code: "parameter" });
    }
    if (new TextDecoder().decode(bytes.subarray(0, 3)) === "bad") {
      throw Object.assign(new Error("This is no scan. Save it as TIFF, PNG or JPEG."), { code: "malformed" });
    }
    this.calls = [];
    this.pieces = 4;
    this.piece = 0;
    this.ppi = 300;
    this.page = page ?? this.pages - 1;
    this.width = 900;
    this.height = 640;
    this.own = structuredClone(DEFAULTS);
    this.own.scan.page = page === undefined ? null : page + 1;
  }

  called(name) {
    this.calls.push(name);
  }

  about() {
    const { width, height, pages, page } = this;
    const ppi = this.own.scan.ppi ?? this.ppi;
    return JSON.stringify({ width, height, bits: 8, ppi, format: "png", profile: null, pages, page, warnings: [] });
  }

  set_recipe(json) {
    this.called("set_recipe");
    const recipe = JSON.parse(json);
    for (const key of Object.keys(recipe)) {
      if (!(key in DEFAULTS)) {
        throw Object.assign(new Error(`The recipe has a key "${key}" that is not known.`), { code: "parameter" });
      }
    }
    const { page, ppi } = recipe.scan ?? {};
    if (ppi != null && ppi < 10) throw Object.assign(new Error("A resolution of at least 10 ppi is needed."), { code: "parameter" });
    if ((page ?? this.page + 1) !== this.page + 1) {
      throw Object.assign(new Error(`The recipe is for page ${page}.`), { code: "parameter" });
    }
    this.own = { ...structuredClone(DEFAULTS), ...recipe, scan: { page: page ?? this.own.scan.page, ppi: ppi ?? null } };
    this.piece = 0;
  }

  recipe() {
    return JSON.stringify(this.own);
  }

  preview() {
    this.called("preview");
    if (this.own.tolerance === 13) throw new Error("unreachable");
  }

  step() {
    this.called("step");
    this.piece += 1;
    return this.piece / this.pieces;
  }

  stage() {
    return ["paper", "cover", "tidy", "edges", "art"][Math.min(this.piece, 4)];
  }

  finished() {
    return this.piece >= this.pieces;
  }

  islands() {
    if (this.piece === 0) return "[]"; // found by the full lift alone
    const list = [
      { index: 0, at: [300, 240], box: [280, 220, 40, 40], area_mm2: 11.5, proposed: "keep", confidence: 0.51, asked: true },
      { index: 1, at: [520, 300], box: [500, 270, 60, 60], area_mm2: 25.8, proposed: "clear", confidence: 0.93, asked: false },
    ];
    return JSON.stringify(
      list.map((one) => {
        const said = this.own.islands.decided.findLast((entry) => SessionDouble.at(...entry.at) === one.index);
        return { ...one, decision: said?.do ?? one.proposed, decided: said !== undefined };
      }),
    );
  }

  island_at(x, y) {
    return SessionDouble.at(x, y);
  }

  piece_at(x, y) {
    return x >= 40 && x < 60 && y >= 40 && y < 60 ? JSON.stringify({ at: [50, 50], decision: "keep", follow: 3 }) : "null";
  }

  static at(x, y) {
    if (x >= 280 && x < 320 && y >= 220 && y < 260) return 0;
    if (x >= 500 && x < 560 && y >= 270 && y < 330) return 1;
    return -1;
  }

  island_outline(index) {
    const [x, y, w, h] = [
      [280, 220, 40, 40],
      [500, 270, 60, 60],
    ][index];
    return new Float32Array([x, y, x + w, y, x + w, y, x + w, y + h, x + w, y + h, x, y + h, x, y + h, x, y]);
  }

  report() {
    const paper = this.piece > 0 ? { color: [244, 238, 226], unevenness_percent: 2.1 } : undefined;
    return JSON.stringify({ paper, islands: JSON.parse(this.islands()) });
  }

  draw(x, y, scale, width, height, ground) {
    this.called(`draw ${ground}`);
    return new Uint8ClampedArray(width * height * 4).fill(255);
  }

  save(choices) {
    this.called(`save ${choices}`);
    if (!this.finished()) throw new Error("saved before it was finished");
    return new Uint8Array([137, 80, 78, 71, JSON.parse(choices).bits]);
  }
}
