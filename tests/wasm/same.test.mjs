// Native and WebAssembly give the same bytes: the same scans and recipes through both, picture and report compared.

import assert from "node:assert/strict";
import { execFileSync, spawnSync } from "node:child_process";
import { createHash } from "node:crypto";
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { after, before, describe, test } from "node:test";

const root = new URL("../../", import.meta.url).pathname;
const here = mkdtempSync(join(tmpdir(), "barewash-"));
after(() => rmSync(here, { recursive: true }));

/** Runs an example of the native crate; the answer is what it prints. */
function native(example, ...args) {
  const { status, stdout, stderr } = spawnSync("cargo", ["run", "--quiet", "--example", example, "--", ...args], { cwd: root, encoding: "utf8" });
  assert.equal(status, 0, stderr.slice(0, 600));
  return stdout;
}

const recipes = {
  default: {},
  sheer: { body: 0, edge: { soft: 0, rim: 0 } },
  "clears all": { tolerance: 80, body: 60, edge: { soft: 100, rim: 50 }, islands: { default: "clear" }, tidy: { specks_mm: 2, pencil: "clear" } },
  "keeps all": { tolerance: 15, islands: { default: "keep" }, tidy: { specks_mm: 0, hairs: "keep", stains: "keep", sheet_edge: "keep" } },
  "by hand": { strokes: [{ do: "clear", radius: 9, path: [[20, 20], [120, 160]] }, { do: "keep", radius: 5, path: [[200, 40], [60, 210]] }] },
};

/** The first byte in which two files differ, in words for the one who has to find out why. */
function difference(a, b) {
  const sum = (bytes) => createHash("sha256").update(bytes).digest("hex").slice(0, 12);
  const at = a.findIndex((byte, i) => byte !== b[i]);
  return `native ${a.length} bytes ${sum(a)}, WebAssembly ${b.length} bytes ${sum(b)}, first difference at byte ${at}`;
}

/** Lifts a scan with the module, and holds picture and report against the native ones. */
function sameAs(module, scan, recipe, nativeArt, nativeReport, what = "") {
  const session = new module.Session(scan);
  session.set_recipe(recipe);
  while (session.step() < 1);
  const art = Buffer.from(session.save());
  const report = JSON.parse(session.report());
  session.free();
  assert.ok(art.equals(nativeArt), what + difference(nativeArt, art));
  // The session adds what the file said to what the lift found.
  for (const [key, value] of Object.entries(nativeReport)) assert.deepEqual(report[key], value, what + key);
}

describe("native and WebAssembly", () => {
  let module;
  before(async () => {
    execFileSync(join(root, "scripts/build"), ["module"], { stdio: "inherit" });
    module = await import("../../dist/module/barewash.node.js");
  });

  for (const seed of [1, 2, 3]) {
    describe(`scene ${seed}`, () => {
      const folder = join(here, String(seed));
      const scan = join(folder, "sheet.png");
      before(() => {
        mkdirSync(folder);
        native("truth_scene", String(seed), "300", "360", folder);
      });

      for (const [name, choices] of Object.entries(recipes)) {
        test(`recipe: ${name}`, () => {
          const recipe = JSON.stringify({ barewash: 1, ...choices });
          const recipeFile = join(folder, "recipe.json");
          const out = join(folder, "native.png");
          writeFileSync(recipeFile, recipe);
          const nativeReport = JSON.parse(native("lift", scan, out, recipeFile));
          const nativeArt = readFileSync(out);

          sameAs(module, readFileSync(scan), recipe, nativeArt, nativeReport);
        });
      }
    });
  }

  // Sizes have 32 bits here, and 64 natively.
  test("every sample file opens or is refused as natively", () => {
    const folder = join(root, "tests/data/formats");
    for (const row of readFileSync(join(folder, "expected.txt"), "utf8").trim().split("\n")) {
      const [name, outcome, ...facts] = row.split("|");
      const bytes = readFileSync(join(folder, name));
      if (outcome === "refused") {
        assert.throws(() => new module.Session(bytes), (error) => error.code === facts[0] && error.message.startsWith(facts[1]), name);
        continue;
      }
      const session = new module.Session(bytes);
      const { width, height, bits, ppi, warnings } = JSON.parse(session.about());
      session.free();
      assert.deepEqual([`${width}x${height}`, `${bits}`, `${ppi ?? "-"}`, warnings.map((one) => one.code).join()], facts, name);
    }
  });

  test("pictures of PDFs", () => {
    const out = join(here, "pdf.png");
    const recipeFile = join(here, "pdf.json");
    const recipe = JSON.stringify({ barewash: 1, tolerance: 0, islands: { default: "keep" } });
    writeFileSync(recipeFile, recipe);
    for (const name of ["img2pdf-16-bits", "img2pdf-inks", "img2pdf-jpeg", "jpx-lossy", "lab", "profile", "strips"]) {
      const scan = join(root, "tests/data/formats/pdf", `${name}.pdf`);
      const report = JSON.parse(native("lift", scan, out, recipeFile));
      sameAs(module, readFileSync(scan), recipe, readFileSync(out), report, `${name}: `);
    }
  });

  // Paper, surface, scanner and resolution of every kind, each lifted once as the painter would: written and lifted natively
  // in one go, since starting a program for each would take longer than all the lifts.
  test("50 scenes under any conditions", () => {
    const seeds = Array.from({ length: 50 }, (_, i) => String(i + 1));
    const folder = join(here, "any");
    native("truth_table", "--seeds", "1..50", "--size", "300x375", "--write", folder);
    const recipe = (seed) => {
      const decided = JSON.parse(readFileSync(join(folder, seed, "pockets.json"), "utf8")).map((at) => ({ at, do: "clear" }));
      return JSON.stringify({ barewash: 1, islands: { default: "keep", decided } });
    };
    for (const seed of seeds) writeFileSync(join(folder, seed, "recipe.json"), recipe(seed));
    native("lift", "--each", folder);
    for (const seed of seeds) {
      const file = (name) => readFileSync(join(folder, seed, name));
      sameAs(module, file("sheet.png"), recipe(seed), file("art.png"), JSON.parse(file("report.json")), `scene ${seed}: `);
    }
  });
});
