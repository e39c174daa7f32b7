// scripts/lift from the outside: what it writes, what it refuses, and what it leaves behind.

import assert from "node:assert/strict";
import { spawnSync } from "node:child_process";
import { copyFileSync, mkdirSync, mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { after, before, beforeEach, describe, test } from "node:test";
import { PNG } from "pngjs";

const root = new URL("../../", import.meta.url).pathname;
const folders = [];

function folder() {
  const made = mkdtempSync(join(tmpdir(), "barewash-"));
  folders.push(made);
  return made;
}

after(() => folders.forEach((made) => rmSync(made, { recursive: true })));

/** A scan as PNG: warm paper with a light tooth, and a round blue wash in the middle. */
function scan(width = 240, height = 180) {
  const png = new PNG({ width, height });
  for (let y = 0; y < height; y++) {
    for (let x = 0; x < width; x++) {
      const tooth = (x * 7919 + y * 104729) % 5;
      const painted = Math.hypot(x - width / 2, y - height / 2) < 50;
      png.data.set([...(painted ? [70, 110, 170] : [240, 236, 226]).map((v) => v + tooth), 255], (y * width + x) * 4);
    }
  }
  return PNG.sync.write(png, { colorType: 2 });
}

const sound = scan();
let here;

/** Runs scripts/lift in the test's own folder. */
function lift(...args) {
  const { status, stdout, stderr } = spawnSync(join(root, "scripts/lift"), args, { cwd: here, encoding: "utf8" });
  return { status, stdout, complaints: stderr.split("\n").filter(Boolean) };
}

const put = (name, bytes = sound) => writeFileSync(join(here, name), bytes);
const get = (name) => readFileSync(join(here, name));
const files = () => readdirSync(here).sort();
const json = (name) => JSON.parse(get(name));

describe("scripts/lift", () => {
  // What has to be built is built, and said, before anyone counts lines.
  before(() => {
    here = folder();
    assert.equal(lift("--help").status, 0);
  });

  beforeEach(() => {
    here = folder();
  });

  test("writes the art beside the scan and leaves the scan alone", () => {
    put("shell.png");
    const { status, complaints } = lift("shell.png");
    assert.deepEqual({ status, complaints }, { status: 0, complaints: [] });
    assert.deepEqual(files(), ["shell.lifted.png", "shell.png"]);
    assert.deepEqual(get("shell.png"), sound);
    const art = PNG.sync.read(get("shell.lifted.png"));
    const alpha = (x, y) => art.data[(y * art.width + x) * 4 + 3];
    assert.deepEqual([art.width, art.height], [240, 180]);
    assert.equal(alpha(120, 90), 255, "the middle of the wash is solid");
    assert.equal(alpha(20, 20), 0, "the bare paper is gone");
  });

  test("writes where -o says, at the depth that --bits says", () => {
    put("shell.png");
    assert.equal(lift("shell.png", "-o", "deep.png", "--bits", "16").status, 0);
    assert.deepEqual(files(), ["deep.png", "shell.png"]);
    assert.equal(get("deep.png")[24], 16, "bit depth in the header");
  });

  test("writes the format that --format says, or that the picture is named for", () => {
    put("shell.png");
    const begin = (name, from, to) => get(name).subarray(from, to).toString("latin1");
    assert.equal(lift("shell.png", "-o", "shell.TIF", "--bits", "16").status, 0);
    assert.equal(begin("shell.TIF", 0, 4), "II*\0");
    assert.equal(lift("shell.png", "--format", "webp").status, 0);
    assert.equal(begin("shell.lifted.webp", 8, 12), "WEBP");
    assert.equal(lift("shell.png", "--format", "tiff", "--out-dir", "art").status, 0);
    assert.equal(begin("art/shell.lifted.tif", 0, 4), "II*\0");
  });

  test("writes title, painter, copyright and profile beside the pixels", () => {
    put("shell.png");
    assert.equal(lift("shell.png", "--title", "Tide pool", "--artist", "Zoë of Saltmarsh Row", "--copyright", "© 2026", "--profile").status, 0);
    const file = get("shell.lifted.png");
    for (const text of ["Title\0\0\0\0\0Tide pool", "Author\0\0\0\0\0Zoë of Saltmarsh Row", "Copyright\0\0\0\0\0© 2026", "iCCP", "eXIf"]) {
      assert.ok(file.includes(Buffer.from(text)), text);
    }
  });

  test("lifts a series into a folder, the sound scans in spite of a bad one", () => {
    put("shell.png");
    put("cut.png", sound.subarray(0, 900));
    put("note.tif", "this is not a picture");
    put("weed.png");
    const { status, complaints } = lift("shell.png", "cut.png", "note.tif", "gone.tif", "weed.png", "--out-dir", "art", "--report", "all.json");
    assert.equal(status, 2);
    assert.deepEqual(complaints.map((line) => line.match(/^barewash: (.*?): ./)?.[1]), ["cut.png", "note.tif", "gone.tif"]);
    assert.deepEqual(readdirSync(join(here, "art")).sort(), ["shell.lifted.png", "weed.lifted.png"]);
    const reports = json("all.json");
    assert.deepEqual(reports.map((one) => one.error?.code ?? "lifted"), ["lifted", "malformed", reports[2].error.code, "ENOENT", "lifted"]);
    assert.ok(["malformed", "unsupported"].includes(reports[2].error.code));
  });

  test("leaves nothing behind for a bad scan", () => {
    put("cut.png", sound.subarray(0, 900));
    const { status, complaints } = lift("cut.png", "--report", "report.json");
    assert.equal(status, 2);
    assert.equal(complaints.length, 1);
    assert.deepEqual(files(), ["cut.png"]);
  });

  test("keeps an earlier picture when the scan turns bad", () => {
    put("cut.png", sound.subarray(0, 900));
    put("cut.lifted.png", "an earlier picture");
    assert.equal(lift("cut.png").status, 2);
    assert.equal(get("cut.lifted.png").toString(), "an earlier picture");
  });

  test("reports what was found and how long it took", () => {
    put("shell.png");
    assert.equal(lift("shell.png", "--ppi", "300", "--report", "report.json").status, 0);
    const report = json("report.json");
    assert.equal(report.scan, "shell.png");
    assert.equal(report.ppi, 300);
    for (const key of ["size", "profile", "paper", "tooth_counts", "islands", "marks_removed", "warnings"]) assert.ok(key in report, key);
    const { total, ...stages } = report.seconds;
    const sum = Object.values(stages).reduce((a, b) => a + b, 0);
    assert.ok("read" in stages && "save" in stages, Object.keys(stages).join());
    assert.ok(Math.abs(sum - total) < 0.01, `${sum} and ${total}`);
    assert.ok(report.megapixels_per_second > 0);
    assert.ok(report.peak_wasm_memory_bytes >= 240 * 180 * 4, "at least the art itself");
  });

  test("follows a recipe, and refuses one that it does not understand", () => {
    put("shell.png");
    put("body.json", '{ "barewash": 1, "body": 0 }');
    assert.equal(lift("shell.png", "-o", "solid.png").status, 0);
    assert.equal(lift("shell.png", "-o", "sheer.png", "--recipe", "body.json").status, 0);
    const middle = (name) => PNG.sync.read(get(name)).data[(90 * 240 + 120) * 4 + 3];
    assert.ok(middle("sheer.png") < middle("solid.png"), "a sheer wash lets the ground through");

    put("typo.json", '{ "barewash": 1, "tolerence": 40 }');
    const typo = lift("shell.png", "--recipe", "typo.json");
    assert.equal(typo.status, 2);
    assert.equal(typo.complaints.length, 1);
    assert.match(typo.complaints[0], /typo\.json.*tolerence/);

    put("broken.json", "{ tolerance");
    assert.match(lift("shell.png", "--recipe", "broken.json").complaints.join("\n"), /^barewash: .*broken\.json.*not JSON.*$/);
    assert.ok(!files().includes("shell.lifted.png"));
  });

  test("lifts the page that --page or the recipe names, and remembers it", () => {
    put("pages.pdf", readFileSync(join(root, "tests/data/formats/pdf/pillow-pages.pdf")));
    const size = (name) => [get(name).readUInt32BE(16), get(name).readUInt32BE(20)];
    assert.equal(lift("pages.pdf", "--report", "report.json").status, 0);
    assert.deepEqual(size("pages.lifted.png"), [61, 47], "the largest");
    assert.deepEqual([json("report.json").page, json("report.json").pages, json("report.json").recipe.scan.page], [2, 3, null]);
    assert.equal(lift("pages.pdf", "--page", "3", "--report", "report.json").status, 0);
    assert.deepEqual(size("pages.page-3.lifted.png"), [20, 15]);
    put("third.json", JSON.stringify(json("report.json").recipe));
    assert.equal(lift("pages.pdf", "--recipe", "third.json", "-o", "third.png").status, 0);
    assert.deepEqual(get("third.png"), get("pages.page-3.lifted.png"), "scan and recipe give the same art");
    assert.equal(lift("pages.pdf", "--recipe", "third.json", "--page", "2", "-o", "second.png").status, 0);
    assert.deepEqual(size("second.png"), [61, 47], "the call has the last word");

    const none = lift("pages.pdf", "--page", "4");
    assert.deepEqual([none.status, none.complaints], [2, ["barewash: pages.pdf: There is no page 4 in this PDF: it holds 3 pages."]]);
    put("odd.json", '{ "barewash": 1, "scan": { "page": "two" } }');
    assert.match(lift("pages.pdf", "--recipe", "odd.json").complaints.join("\n"), /^barewash: pages\.pdf: the recipe odd\.json: .*scan\.page/);
  });

  test("takes the width of the original for its resolution", () => {
    put("shell.png");
    for (const [width, ppi] of [["60.96mm", 100], ["6.096 cm", 100], ["2.4in", 100]]) {
      assert.equal(lift("shell.png", "--width", width, "--report", "report.json").status, 0);
      assert.ok(Math.abs(json("report.json").ppi - ppi) < 1e-6, `${width}: ${json("report.json").ppi}`);
    }
    assert.deepEqual(json("report.json").warnings, [], "what was said is not asked for");
    assert.equal(lift("shell.png", "--report", "report.json").status, 0);
    assert.deepEqual(json("report.json").warnings.map((one) => one.code), ["no-ppi"]);
    const narrow = lift("shell.png", "--width", "0.1mm");
    assert.equal(narrow.status, 2);
    assert.match(narrow.complaints.join("\n"), /^barewash: shell\.png: 240 pixels on 0\.1mm would be 60960 pixels per inch, .*check --width\.$/);
    put("wide.json", '{ "barewash": 1, "scan": { "ppi": 200 } }');
    assert.equal(lift("shell.png", "--recipe", "wide.json", "--report", "report.json").status, 0);
    assert.equal(json("report.json").ppi, 200);
    assert.equal(lift("shell.png", "--recipe", "wide.json", "--ppi", "300", "--report", "report.json").status, 0);
    assert.equal(json("report.json").ppi, 300, "the call has the last word");
  });

  test("says what a PDF holds when it is no scan", () => {
    put("words.pdf", readFileSync(join(root, "tests/data/formats/pdf/reportlab-words.pdf")));
    const { status, complaints } = lift("words.pdf");
    assert.deepEqual([status, complaints.length], [2, 1]);
    assert.match(complaints[0], /no picture/);
    assert.deepEqual(files(), ["words.pdf"]);
  });

  test("refuses a scan too long for a WebP before it is lifted, and lifts it trimmed", () => {
    const wide = new PNG({ width: 16384, height: 4 });
    wide.data.fill(0xf0);
    put("wide.png", PNG.sync.write(wide, { colorType: 2 }));
    const { status, complaints } = lift("wide.png", "--format", "webp", "--report", "report.json");
    assert.deepEqual([status, complaints.length], [2, 1]);
    assert.match(complaints[0], /^barewash: wide\.png: 16384 x 4 pixels do not fit into a WebP\. .*16383 pixels along a side\. .*PNG or TIFF, or trim/);
    put("trim.json", '{ "barewash": 1, "trim": [1, 0, 16383, 4] }');
    assert.equal(lift("wide.png", "--format", "webp", "--recipe", "trim.json").status, 0);
    assert.deepEqual(files(), ["trim.json", "wide.lifted.webp", "wide.png"]);
  });

  test("refuses to write over a scan, or two pictures into one file", () => {
    put("shell.png");
    put("shell.tif");
    for (const args of [
      ["shell.png", "-o", "./shell.png"],
      ["shell.png", "--report", "shell.png"],
      ["shell.png", "shell.tif"],
      ["shell.png", "-o", "x.png", "--report", "x.png"],
    ]) {
      const { status, complaints } = lift(...args);
      assert.equal(status, 2, args.join(" "));
      assert.equal(complaints.length, 1, args.join(" "));
    }
    assert.deepEqual(files(), ["shell.png", "shell.tif"]);
    assert.deepEqual(get("shell.png"), sound);
  });

  test("refuses a wrong call in one line that points to the help", () => {
    put("shell.png");
    for (const args of [
      [],
      ["--soft", "shell.png"],
      ["shell.png", "-o"],
      ["shell.png", "--bits", "12"],
      ["shell.png", "--ppi", "none"],
      ["shell.png", "--format", "jpeg"],
      ["shell.png", "--format", "tiff", "-o", "x.png"],
      ["shell.png", "-o", "x.jpg"],
      ["shell.png", "--format", "webp", "--bits", "16"],
      ["shell.png", "--title", "two\nlines"],
      ["shell.png", "--copyright", "x".repeat(2001), "--out-dir", "art"],
      ["shell.png", "--ppi", "300", "--width", "210mm"],
      ["shell.png", "--width", "210"],
      ["shell.png", "--width", "0mm"],
      ["shell.png", "--page", "0"],
      ["shell.png", "--page", "1.5"],
      ["shell.png", "shell.png", "-o", "x.png"],
      ["shell.png", "-o", "x.png", "--out-dir", "art"],
      ["shell.png", "--recipe", "gone.json"],
    ]) {
      const { status, stdout, complaints } = lift(...args);
      assert.deepEqual([status, stdout, complaints.length], [2, "", 1], args.join(" "));
    }
    assert.deepEqual(files(), ["shell.png"]);
    const { status, stdout } = lift("--help");
    assert.equal(status, 0);
    assert.match(stdout, /--out-dir DIR/);
  });
});

test("a scan that breaks the module costs one line, and the next scan is lifted", () => {
  // The command beside a module that breaks on demand, as a panic in the real one does.
  here = folder();
  mkdirSync(join(here, "scripts"));
  mkdirSync(join(here, "dist/module"), { recursive: true });
  for (const name of ["lift.mjs", "lift-worker.mjs"]) copyFileSync(join(root, "scripts", name), join(here, "scripts", name));
  put("package.json", '{ "type": "module" }');
  put("dist/module/barewash_bg.wasm", Buffer.from([0, 0x61, 0x73, 0x6d, 1, 0, 0, 0]));
  put(
    "dist/module/barewash.js",
    `export const initSync = () => ({ memory: new WebAssembly.Memory({ initial: 1 }) });
     export const check_saving = () => {};
     export class Session {
       constructor(file) { this.long = file[0] === 76; this.breaks = this.long || file[0] === 66; }
       about() { return '{"width":1,"height":1}'; }
       check_saving() { if (this.long) throw Object.assign(new Error("Too long."), { code: "limit" }); }
       stage() { return "paper"; }
       step() {
         if (!this.breaks) return 1;
         console.error("panicked at src/paper/field.rs:1:1:\\nindex out of bounds\\n\\nStack:\\n\\nError at x");
         throw new WebAssembly.RuntimeError("unreachable");
       }
       save() { return new Uint8Array([1, 2, 3]); }
       report() { return "{}"; }
     }`,
  );
  put("bad.tif", "B");
  put("good.tif", "G");
  const { status, stderr } = spawnSync("node", ["scripts/lift.mjs", "bad.tif", "good.tif"], { cwd: here, encoding: "utf8" });
  assert.equal(status, 2);
  assert.match(stderr, /^barewash: bad\.tif: [^\n]*panicked at src\/paper\/field\.rs:1:1: index out of bounds[^\n]*\n$/);
  assert.deepEqual(get("good.lifted.png"), Buffer.from([1, 2, 3]));
  assert.ok(!files().includes("bad.lifted.png"));

  // What cannot be saved is refused before the first step of the lift, which would break.
  put("long.tif", "L");
  const long = spawnSync("node", ["scripts/lift.mjs", "long.tif"], { cwd: here, encoding: "utf8" });
  assert.deepEqual([long.status, long.stderr], [2, "barewash: long.tif: Too long.\n"]);
});
