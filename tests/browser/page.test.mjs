// The whole page as a painter uses it: a scan in, a few choices, a PNG out.

import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { PNG } from "pngjs";
import { root, startBrowser } from "./support/browser.mjs";
import { DROPS, SIZE, WHITE, writeSheet } from "./support/sheets.mjs";

let browser;
let study;
let second;
let spattered;
before(async () => {
  browser = await startBrowser();
  study = writeSheet(join(browser.home, "shell-study.png"));
  second = writeSheet(join(browser.home, "crab-study.png"), 99);
  spattered = writeSheet(join(browser.home, "spatter-study.png"), 7, DROPS);
});
after(() => browser?.close());

/** Runs a test on a fresh page that must come through without a complaint. */
function onPage(name, run, options) {
  test(name, async () => {
    const sheet = await browser.open(options);
    try {
      await run(sheet, sheet.page);
      assert.deepEqual(sheet.complaints, [], "no error on the console");
    } finally {
      await sheet.close();
    }
  });
}

const measures = (page, name) => page.evaluate((one) => performance.getEntriesByName(one).map((m) => m.duration), name);
const shownErrors = (page) => page.$$eval("#notices [role=alert]", (all) => all.map((one) => one.textContent));

onPage("a dropped scan is lifted without a question", async (sheet, page) => {
  await sheet.scan(study);
  assert.equal(await sheet.words("#scan-name"), "shell-study.png");
  assert.match(await page.$eval("#facts", (one) => one.textContent), /720 × 520/);
  assert.equal((await measures(page, "first-look")).length, 1);
  assert.equal((await measures(page, "lift-shown")).length, 1);
  assert.deepEqual(await shownErrors(page), []);
});

onPage("the demo sheet is lifted at a press", async (sheet, page) => {
  await page.click("#demo");
  await sheet.state("lifted");
  assert.match(await sheet.words("#scan-name"), /demo/);
});

onPage("a pasted scan is lifted", async (sheet, page) => {
  const bytes = readFileSync(study).toString("base64");
  await page.evaluate((text) => {
    const data = new DataTransfer();
    const raw = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
    data.items.add(new File([raw], "pasted.png", { type: "image/png" }));
    window.dispatchEvent(new ClipboardEvent("paste", { clipboardData: data, bubbles: true, cancelable: true }));
  }, bytes);
  await page.waitForFunction(() => document.body.dataset.state !== "empty");
  await sheet.state("lifted");
  assert.equal(await sheet.words("#scan-name"), "pasted.png");
});

onPage("of several scans the first is opened, and the page says so", async (sheet, page) => {
  await sheet.drop([study, second]);
  await page.waitForSelector("#notices .remark");
  assert.equal(await sheet.words("#scan-name"), "shell-study.png");
  assert.match(await sheet.words("#notices .remark p"), /2 scans.*shell-study\.png/);
});

onPage("one drag of a dial redraws the picture and is one step of undo", async (sheet, page) => {
  await sheet.scan(study);
  await page.keyboard.press("b");
  const first = await sheet.look();
  const box = await (await page.$("#dial-body")).boundingBox();
  const middle = box.y + box.height / 2;
  await page.mouse.move(box.x + box.width - 13, middle);
  await page.mouse.down();
  for (let i = 1; i <= 8; i += 1) await page.mouse.move(box.x + box.width - 13 - (i * box.width) / 12, middle);
  await page.mouse.up();
  await sheet.changed(first);
  const moved = Number(await sheet.value("#dial-body"));
  assert.ok(moved < 60, `the dial went down, to ${moved}`);
  assert.equal(Number(await sheet.value("#dial-body-number")), moved);
  assert.equal(await sheet.words("#undo"), "Undo body of the paint");
  await sheet.state("lifted");
  assert.ok((await measures(page, "redraw")).length >= 1);

  const sheer = await sheet.look();
  await page.click("#undo");
  assert.equal(await sheet.value("#dial-body"), "100", "one undo takes the whole drag back");
  assert.equal(await page.$eval("#undo", (one) => one.getAttribute("aria-disabled")), "true");
  await sheet.changed(sheer);
  await page.keyboard.down("Control");
  await page.keyboard.press("y");
  await page.keyboard.up("Control");
  assert.equal(Number(await sheet.value("#dial-body")), moved);
  await sheet.state("lifted");
});

onPage("a number can be typed in place of a drag", async (sheet, page) => {
  await sheet.scan(study);
  await page.click("#dial-tolerance-number", { count: 3 });
  await page.keyboard.type("37");
  await page.keyboard.press("Enter");
  assert.equal(await sheet.value("#dial-tolerance"), "37");
  await page.click("#dial-tolerance-number", { count: 3 });
  await page.keyboard.type("900");
  await page.keyboard.press("Tab");
  assert.equal(await sheet.value("#dial-tolerance-number"), "100", "held within its range");
});

onPage("a click on a white shows the whites, a second click turns it over, undo turns it back", async (sheet, page) => {
  await sheet.scan(study);
  await page.mouse.click(...(await sheet.place(WHITE.x, WHITE.y, SIZE)));
  await page.waitForSelector("#tab-whites[aria-selected=true]");
  await page.waitForSelector("#whites [aria-current=true]");
  assert.equal(await sheet.words("#undo"), "Undo", "the first click changes nothing");
  const kept = () => page.$eval("#white-keep", (one) => one.getAttribute("aria-pressed"));
  const first = await kept();
  await page.waitForFunction(() => {
    const canvas = document.querySelector("#outlines");
    return canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height).data.some((count) => count > 0);
  });
  await page.mouse.click(...(await sheet.place(WHITE.x, WHITE.y, SIZE)));
  await page.waitForFunction((was) => document.querySelector("#white-keep").getAttribute("aria-pressed") !== was, {}, first);
  assert.match(await sheet.words("#undo"), /^Undo (keep|clear) a white$/);
  await sheet.state("lifted");
  await page.click("#undo");
  await page.waitForFunction((was) => document.querySelector("#white-keep").getAttribute("aria-pressed") === was, {}, first);
});

onPage("a click on a drop among the marks clears it and those like it, undo brings them back", async (sheet, page) => {
  await sheet.scan(spattered);
  await page.click("#tab-marks");
  const white = await sheet.look();
  await page.keyboard.press("b");
  await sheet.changed(white);
  const drops = async () => {
    await sheet.state("lifted");
    const box = await (await page.$("#picture")).boundingBox();
    const places = await Promise.all(DROPS.map(([x, y]) => sheet.place(x, y, SIZE)));
    const red = (/** @type {number[]} */ [x, y]) =>
      page.$eval("#picture", (canvas, at) => canvas.getContext("2d").getImageData(...at, 1, 1).data[0], [x - box.x, y - box.y]);
    return Promise.all(places.map(red));
  };
  const before = await drops();
  assert.ok(before.every((red) => red > 100), `drops of paint are there: ${before}`);
  const first = await sheet.look();
  await page.mouse.click(...(await sheet.place(...DROPS[1], SIZE)));
  await sheet.changed(first);
  assert.equal(await sheet.words("#piece-turned"), "Cleared, and 2 like it.");
  assert.equal(await sheet.words("#undo"), "Undo clear a piece");
  const after = await drops();
  assert.ok(after.every((red) => red < 30), `all are gone: ${after}`);
  const second = await sheet.look();
  await page.click("#undo");
  await sheet.changed(second);
  await sheet.state("lifted");
  assert.ok((await sheet.look()) === first, "the whole picture is as it was");
  await page.mouse.click(...(await sheet.place(300, 480, SIZE)));
  await page.waitForFunction(() => document.querySelector("#piece-turned").textContent.startsWith("Nothing"));
  assert.equal(await sheet.words("#undo"), "Undo", "paper is no piece");
});

onPage("the painting stays in its place when another step comes to the front", async (sheet, page) => {
  await sheet.scan(study);
  const heights = [];
  for (const step of ["lift", "whites", "marks", "save"]) {
    await page.click(`#tab-${step}`);
    heights.push((await (await page.$("#stage")).boundingBox()).height);
  }
  assert.equal(new Set(heights).size, 1, `${heights}`);
});

onPage("a cleared white lets the ground through, a kept one does not", async (sheet, page) => {
  await sheet.scan(study);
  await page.keyboard.press("b");
  await page.keyboard.press("n");
  const pixel = async () => {
    await sheet.state("lifted");
    await page.keyboard.press("0");
    const [x, y] = await sheet.place(WHITE.x, WHITE.y, SIZE);
    const box = await (await page.$("#picture")).boundingBox();
    return page.$eval("#picture", (canvas, at) => [...canvas.getContext("2d").getImageData(...at, 1, 1).data], [x - box.x, y - box.y]);
  };
  const settled = (wanted) =>
    page.waitForFunction((id) => document.querySelector(id).getAttribute("aria-pressed") === "true", {}, wanted);
  await page.keyboard.press("Delete");
  await settled("#white-clear");
  const cleared = await pixel();
  await page.keyboard.press("k");
  await settled("#white-keep");
  const kept = await pixel();
  assert.ok(Math.max(...cleared.slice(0, 3)) < 40, `cleared: ${cleared}`);
  assert.ok(Math.min(...kept.slice(0, 3)) > 180, `kept: ${kept}`);
});

for (const bits of [8, 16]) {
  onPage(`the saved PNG of ${bits} bits is what scripts/lift makes of the same scan and recipe`, async (sheet, page) => {
    await sheet.scan(study);
    await page.click("#dial-body-number", { count: 3 });
    await page.keyboard.type("80");
    await page.keyboard.press("Enter");
    await page.click("#tab-save");
    await page.click(`[name=bits][value="${bits}"]`);
    await page.click("#save"); // the lift is not finished here: saving finishes it first
    const picture = await sheet.saved(/\.png$/);
    assert.equal(picture.name, "shell-study.lifted.png");
    await page.click("#recipe-save");
    const recipe = await sheet.saved(/\.json$/);
    assert.equal(recipe.name, "shell-study.barewash.json");
    assert.equal(JSON.parse(recipe.bytes.toString()).body, 80);

    const out = join(browser.home, `by-command-${bits}.png`);
    execFileSync(join(root, "scripts/lift"), [study, "-o", out, "--recipe", recipe.path, "--bits", String(bits)], { stdio: "pipe" });
    const [here, there] = [PNG.sync.read(picture.bytes, { skipRescale: true }), PNG.sync.read(readFileSync(out), { skipRescale: true })];
    assert.deepEqual([here.width, here.height, here.depth], [SIZE.width, SIZE.height, bits]);
    assert.ok(Buffer.from(here.data.buffer).equals(Buffer.from(there.data.buffer)), "the same pixels");
    assert.ok(picture.bytes.equals(readFileSync(out)), "the same bytes");
    const alphas = new Set();
    for (let i = 3; i < here.data.length; i += 4) alphas.add(here.data[i]);
    assert.ok(alphas.has(0) && alphas.size > 2, "there is bare ground and there are soft edges");
  });
}

onPage("the painting is saved as TIFF and WebP too, signed, as scripts/lift does it", async (sheet, page) => {
  await sheet.scan(study);
  await page.click("#tab-save");
  await page.click("[name=bits][value='16']");
  await page.click("#step-save summary");
  const signed = { title: "Shell", artist: "Saltmarsh Row", copyright: "© 2026" };
  for (const [what, words] of Object.entries(signed)) await page.type(`#sign-${what}`, words);
  // Words are taken back in their field; the painting is as it was.
  await page.keyboard.down("Control");
  await page.keyboard.press("z");
  await page.keyboard.up("Control");
  assert.notEqual(await sheet.value("#sign-copyright"), signed.copyright);
  await page.$eval("#sign-copyright", (field, words) => (field.value = words), signed.copyright);
  await page.click("#sign-profile");
  for (const [format, ending, name, bits] of [["tiff", ".tif", "TIFF", "16"], ["webp", ".webp", "WebP", "8"]]) {
    await page.click(`[name=format][value="${format}"]`);
    assert.equal(await sheet.words("#save"), `Save ${name}`);
    assert.equal(await page.$eval("[name=bits][value='16']", (one) => one.disabled), format === "webp");
    await page.click("#save");
    const file = await sheet.saved(new RegExp(`\\${ending}$`));
    assert.equal(file.name, `shell-study.lifted${ending}`);
    const out = join(browser.home, `signed${ending}`);
    const texts = Object.entries(signed).flatMap(([what, words]) => [`--${what}`, words]);
    execFileSync(join(root, "scripts/lift"), [study, "-o", out, "--bits", bits, "--profile", ...texts], { stdio: "pipe" });
    assert.ok(file.bytes.equals(readFileSync(out)), "the same bytes");
  }
  await page.click("[name=format][value=png]");
  assert.equal(await page.$eval("[name=bits]:checked", (one) => one.value), "16", "what waited for a WebP is back");
});

onPage("a file that is no scan is refused in words, and the work stays", async (sheet, page) => {
  await sheet.scan(study);
  await page.click("#dial-body-number", { count: 3 });
  await page.keyboard.type("70");
  await page.keyboard.press("Enter");
  await sheet.state("lifted");
  const before = await sheet.look();
  const bad = join(browser.home, "notes.png");
  writeFileSync(bad, "bad: this is a letter and no picture");
  await sheet.drop([bad]);
  await page.waitForSelector("#notices [role=alert]");
  const [words] = await shownErrors(page);
  assert.ok(words.length > 20 && /[.!]$/.test(words), `a sentence: ${words}`);
  assert.equal(await sheet.words("#scan-name"), "shell-study.png");
  await sheet.state("lifted");
  await page.click("#notices button");
  assert.deepEqual(await shownErrors(page), []);
  // With the message gone the picture has its old room again, and is the old picture.
  await page.waitForFunction((old) => document.querySelector("#picture").toDataURL() === old, { polling: 50 }, before);
  await page.click("#undo");
  assert.equal(await sheet.value("#dial-body"), "100");
});

onPage("a recipe file is taken on as one step; one with an unknown key is refused by name", async (sheet, page) => {
  await sheet.scan(study);
  const good = join(browser.home, "other.barewash.json");
  writeFileSync(good, JSON.stringify({ barewash: 1, tolerance: 66, edge: { soft: 20 } }));
  await sheet.drop([good]);
  await page.waitForFunction(() => document.querySelector("#dial-tolerance").value === "66");
  assert.equal(await sheet.words("#undo"), "Undo opened recipe");
  assert.equal(await sheet.value("#dial-body"), "100", "keys that are not in the file have their usual value");

  const wrong = join(browser.home, "wrong.barewash.json");
  writeFileSync(wrong, JSON.stringify({ barewash: 1, tollerance: 10 }));
  await sheet.drop([wrong]);
  await page.waitForSelector("#notices [role=alert]");
  assert.match((await shownErrors(page))[0], /tollerance/);
  assert.equal(await sheet.value("#dial-tolerance"), "66");
  await sheet.state("lifted");
});

onPage("a scan without a resolution asks for it; the width of the original will do", async (sheet, page) => {
  await sheet.scan(study);
  await page.click("#tab-scan");
  assert.match(await sheet.words("#resolution-words"), /does not say/);
  await page.type("#original-width", "61");
  await page.keyboard.press("Tab");
  await page.waitForFunction(() => /The original is/.test(document.querySelector("#resolution-words").textContent));
  assert.match(await sheet.words("#resolution-words"), /61 × 44\.1 mm.*300 ppi/);
  await sheet.state("lifted");
});

onPage("a width or a resolution that cannot be is refused, and what is right is one step of undo", async (sheet, page) => {
  await sheet.scan(study);
  await page.click("#tab-scan");
  const type = async (field, text) => {
    await page.click(field, { count: 3 });
    await page.keyboard.type(text);
    await page.keyboard.press("Tab");
  };
  await type("#original-width", "0.1");
  await page.waitForSelector("#notices [role=alert]");
  assert.match((await shownErrors(page))[0], /720 pixels on 0\.1 mm would be 182880 pixels per inch/);
  assert.equal(await sheet.value("#original-width"), "");
  await page.select("#original-unit", "cm");
  await type("#original-width", "7.2");
  await page.waitForFunction(() => /72 × 52 mm.*254 ppi/.test(document.querySelector("#resolution-words").textContent));
  assert.equal(await sheet.value("#ppi"), "254");
  assert.equal(await sheet.words("#undo"), "Undo resolution");
  assert.equal(await sheet.words("#warnings"), "", "what is stated is not asked for");
  await page.select("#original-unit", "inch");
  assert.equal(await sheet.value("#original-width"), "2.83");
  await type("#ppi", "100");
  await page.waitForFunction(() => /100 ppi/.test(document.querySelector("#resolution-words").textContent));
  await page.click("#undo");
  assert.equal(await sheet.value("#ppi"), "254");
  await type("#ppi", " ");
  await page.waitForFunction(() => /does not say/.test(document.querySelector("#resolution-words").textContent));
  await sheet.state("lifted");
});

const sample = (name) => join(root, "tests/data/formats", name);

onPage("of a file of several pages any can be shown, by keyboard; the recipe remembers which", async (sheet, page) => {
  await sheet.scan(sample("pdf/pillow-pages.pdf"));
  assert.equal(await sheet.words("#scan-name"), "pillow-pages.pdf, page 2 of 3");
  await page.click("#tab-scan");
  assert.match(await sheet.words("#facts"), /^PDF, 61 × 47 pixels/);
  assert.match(await sheet.words("#warnings"), /holds 3 pages; the largest, page 2, was read/);
  assert.match(await sheet.words("#pages"), /^Page of 3 Show this page/);
  const show = async (number) => {
    await page.focus("#page");
    await page.keyboard.press("ArrowUp"); // any value, so that all of it is selected next
    await page.click("#page", { count: 3 });
    await page.keyboard.type(number);
    await page.keyboard.press("Enter");
  };
  await show("3");
  await page.waitForFunction(() => /page 3 of 3/.test(document.querySelector("#scan-name").textContent));
  await sheet.state("lifted");
  assert.match(await sheet.words("#facts"), /20 × 15 pixels/);
  assert.equal(await page.$eval("#tab-scan", (one) => one.getAttribute("aria-selected")), "true", "the step stays");
  await show("9");
  assert.equal(await page.$eval("#page", (field) => field.validity.rangeOverflow), true);
  assert.match(await sheet.words("#scan-name"), /page 3 of 3/);

  await page.click("#tab-save");
  await page.click("#recipe-save");
  const recipe = await sheet.saved(/\.json$/);
  assert.equal(recipe.name, "pillow-pages.page-3.barewash.json");
  assert.equal(JSON.parse(recipe.bytes.toString()).scan.page, 3);
  await page.click("#save");
  assert.equal((await sheet.saved(/\.png$/)).name, "pillow-pages.page-3.lifted.png", "as scripts/lift --page 3 names it");
  await sheet.drop([sample("pdf/pillow-pages.pdf")]);
  await page.waitForFunction(() => /page 2 of 3/.test(document.querySelector("#scan-name").textContent));
  await sheet.state("lifted");
  await sheet.drop([recipe.path]);
  await page.waitForFunction(() => /page 3 of 3/.test(document.querySelector("#scan-name").textContent));
  await sheet.state("lifted");
});

onPage("a scan of one page shows nothing of pages, and a PDF without a picture says so", async (sheet, page) => {
  await sheet.scan(study);
  await page.click("#tab-scan");
  assert.equal(await page.$eval("#pages", (one) => one.hidden), true);
  await sheet.drop([sample("pdf/reportlab-words.pdf")]);
  await page.waitForSelector("#notices [role=alert]");
  assert.match((await shownErrors(page))[0], /no picture/);
  assert.equal(await sheet.words("#scan-name"), "shell-study.png", "the scan before is still there");
  assert.match(await page.$eval("#scan-file", (field) => field.accept), /\.pdf/);
});

onPage("the ground changes with one key, and the scan shows while its key is down", async (sheet, page) => {
  await sheet.scan(study);
  const corner = async () => {
    const [x, y] = await sheet.place(20, 20, SIZE);
    const box = await (await page.$("#picture")).boundingBox();
    return page.$eval("#picture", (canvas, at) => [...canvas.getContext("2d").getImageData(...at, 1, 1).data], [x - box.x, y - box.y]);
  };
  let shown = await sheet.look();
  const press = async (key) => {
    await page.keyboard.press(key);
    await sheet.changed(shown);
    shown = await sheet.look();
    return corner();
  };
  assert.deepEqual(await corner(), [255, 255, 255, 255]);
  assert.deepEqual(await press("b"), [0, 0, 0, 255]);
  assert.deepEqual(await press("m"), [128, 128, 128, 255]);
  const paper = await press("o");
  assert.ok(paper[0] > 230 && paper[2] < paper[0], `cream: ${paper}`);
  assert.deepEqual(await press("c"), [47, 111, 115, 255]);
  assert.deepEqual(await press("w"), [255, 255, 255, 255]);

  const white = shown;
  await page.keyboard.down("s");
  await sheet.changed(white);
  const scan = await corner();
  assert.ok(scan[2] < 245 && scan[0] > 230, `the scan's own paper: ${scan}`);
  await page.keyboard.up("s");
  await page.waitForFunction((old) => document.querySelector("#picture").toDataURL() === old, { polling: 50 }, white);
});

onPage("nearer, farther, fit, by wheel, keys, buttons and hand", async (sheet, page) => {
  await sheet.scan(study);
  const scale = () => sheet.words("#scale");
  await page.keyboard.press("4");
  await page.waitForFunction(() => document.querySelector("#scale").textContent === "4:1");
  assert.equal(await page.$eval("#four", (one) => one.getAttribute("aria-pressed")), "true");
  let before = await sheet.look();
  await page.focus("#stage");
  await page.keyboard.press("ArrowRight");
  await sheet.changed(before);
  before = await sheet.look();
  const box = await (await page.$("#stage")).boundingBox();
  await page.mouse.move(box.x + 300, box.y + 150);
  await page.mouse.down();
  await page.mouse.move(box.x + 380, box.y + 190, { steps: 4 });
  await page.mouse.up();
  await sheet.changed(before);
  assert.equal(await scale(), "4:1", "a hand moves and does not zoom");
  await page.mouse.wheel({ deltaY: -240 });
  await page.waitForFunction(() => Number.parseFloat(document.querySelector("#scale").textContent) > 4);
  await page.click("#one");
  await page.waitForFunction(() => document.querySelector("#scale").textContent === "1:1");
  await page.click("#fit");
  await page.waitForFunction(() => document.querySelector("#fit").getAttribute("aria-pressed") === "true");
});

test("when the module breaks down, the scan comes back by itself and nothing chosen is lost", async () => {
  // The same page with a fault put into its worker: the module gives way whenever it meets body 41.
  const html = readFileSync(join(root, "dist/barewash.html"), "utf8");
  const fault = `;{const of=wasm_bindgen.Session.prototype,whole=of.preview;of.preview=function(){
    if(JSON.parse(this.recipe()).body===41)throw new WebAssembly.RuntimeError("unreachable");return whole.call(this)}}`;
  const once = html.replace(/(<script type="text\/plain" id="worker-source">)([^]*?)(<\/script>)/, (_, open, text, close) => open + text + fault + close);
  assert.notEqual(once, html);
  const file = join(browser.home, "breaking.html");
  writeFileSync(file, once);
  const sheet = await browser.open({ file });
  try {
    const { page } = sheet;
    await sheet.scan(study);
    await page.click("#dial-tolerance-number", { count: 3 });
    await page.keyboard.type("58");
    await page.keyboard.press("Enter");
    await sheet.state("lifted");
    await page.click("#dial-body-number", { count: 3 });
    await page.keyboard.type("41");
    await page.keyboard.press("Enter");
    // A fresh worker breaks at 41 just the same, so the page must go back to the last recipe that lifted.
    await page.waitForSelector("#notices .remark");
    assert.match(await sheet.words("#notices .remark p"), /last one that worked is back/);
    assert.equal(await sheet.value("#dial-body"), "100");
    assert.equal(await sheet.value("#dial-tolerance"), "58");
    await sheet.state("lifted");
    await page.click("#undo");
    assert.equal(await sheet.value("#dial-body"), "41", "nothing the painter chose is lost");
  } finally {
    await sheet.close();
  }
});

/** What each key of the help must bring about. A row of the help without an entry here fails the test. */
const KEYS = {
  "Ctrl O": (sheet, page) => sheet.chooser(() => together(page, ["Control"], "o")),
  "Ctrl S": async (sheet, page) => {
    await together(page, ["Control"], "s");
    await sheet.saved(/\.png$/);
  },
  "Ctrl Z": (sheet, page) => undone(sheet, page, () => together(page, ["Control"], "z"), "100"),
  "Ctrl Shift Z": (sheet, page) => redone(sheet, page, () => together(page, ["Control", "Shift"], "z")),
  "Ctrl Y": (sheet, page) => redone(sheet, page, () => together(page, ["Control"], "y")),
  W: (sheet, page) => chosen(page, "w", "white"),
  B: (sheet, page) => chosen(page, "b", "black"),
  M: (sheet, page) => chosen(page, "m", "gray"),
  O: (sheet, page) => chosen(page, "o", "paper"),
  C: (sheet, page) => chosen(page, "c", "color"),
  "S held": async (sheet, page) => {
    await page.keyboard.press("b");
    const before = await settledLook(sheet, page);
    await page.keyboard.down("s");
    await sheet.changed(before);
    await page.keyboard.up("s");
    await page.waitForFunction((old) => document.querySelector("#picture").toDataURL() === old, { polling: 50 }, before);
  },
  0: (sheet, page) => near(page, "0", () => document.querySelector("#fit").getAttribute("aria-pressed") === "true"),
  1: (sheet, page) => near(page, "1", () => document.querySelector("#scale").textContent === "1:1"),
  4: (sheet, page) => near(page, "4", () => document.querySelector("#scale").textContent === "4:1"),
  "+": async (sheet, page) => {
    await page.keyboard.press("4");
    await near(page, "+", () => document.querySelector("#scale").textContent === "5:1");
  },
  "-": async (sheet, page) => {
    await page.keyboard.press("4");
    await near(page, "-", () => document.querySelector("#scale").textContent === "3.2:1");
  },
  "← ↑ → ↓": async (sheet, page) => {
    await page.keyboard.press("4");
    await page.focus("#stage");
    for (const key of ["ArrowLeft", "ArrowUp", "ArrowRight", "ArrowDown"]) {
      const before = await settledLook(sheet, page);
      await page.keyboard.press(key);
      await sheet.changed(before);
    }
  },
  N: (sheet, page) => inHand(page, "n"),
  P: (sheet, page) => inHand(page, "p"),
  K: (sheet, page) => decided(page, "k", "#white-keep"),
  Delete: (sheet, page) => decided(page, "Delete", "#white-clear"),
  "?": (sheet, page) => near(page, "?", () => document.querySelector("#help").open),
};

async function together(page, held, key) {
  for (const one of held) await page.keyboard.down(one);
  await page.keyboard.press(key);
  for (const one of held) await page.keyboard.up(one);
}

async function undone(sheet, page, undo, wanted) {
  await page.click("#dial-body-number", { count: 3 });
  await page.keyboard.type("90");
  await page.keyboard.press("Enter");
  assert.equal(await sheet.value("#dial-body"), "90");
  await undo();
  assert.equal(await sheet.value("#dial-body"), wanted);
}

async function redone(sheet, page, redo) {
  await undone(sheet, page, () => together(page, ["Control"], "z"), "100");
  await redo();
  assert.equal(await sheet.value("#dial-body"), "90");
}

async function chosen(page, key, ground) {
  await page.click(ground === "white" ? "#swatch-black" : "#swatch-white");
  await page.focus("#stage");
  await page.keyboard.press(key);
  assert.equal(await page.$eval("[name=ground]:checked", (one) => one.value), ground);
}

async function near(page, key, reached) {
  await page.keyboard.press(key);
  await page.waitForFunction(reached);
}

async function inHand(page, key) {
  await page.keyboard.press(key);
  await page.waitForSelector("#step-whites:not([hidden]) #whites [aria-current=true]");
}

async function decided(page, key, button) {
  await inHand(page, "n");
  await page.keyboard.press(key);
  await page.waitForFunction((id) => document.querySelector(id).getAttribute("aria-pressed") === "true", {}, button);
  await page.waitForSelector("#whites .decided");
}

/** The picture once nothing changes any more. */
async function settledLook(sheet, page) {
  await sheet.state("lifted");
  let look = "";
  for (let now = await sheet.look(); now !== look; now = await sheet.look()) {
    look = now;
    await new Promise((rest) => setTimeout(rest, 200));
  }
  return look;
}

test("every key in the help does what the help says", async () => {
  const sheet = await browser.open();
  const listed = await sheet.page.$$eval("#keys tbody tr", (rows) =>
    rows.map((row) => [...row.cells[0].childNodes].map((part) => part.textContent.trim()).join(" ").trim()),
  );
  await sheet.close();
  assert.deepEqual(listed.toSorted(), Object.keys(KEYS).toSorted());
  for (const key of listed) {
    const one = await browser.open();
    try {
      await one.scan(study);
      await KEYS[key](one, one.page).catch((error) => {
        throw new Error(`${key}: ${error.message}`, { cause: error });
      });
    } finally {
      await one.close();
    }
  }
});
