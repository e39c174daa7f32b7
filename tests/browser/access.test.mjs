// For every hand, eye and screen: keyboard alone, screen readers, large letters, small screens.

import assert from "node:assert/strict";
import { createRequire } from "node:module";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { startBrowser } from "./support/browser.mjs";
import { writeSheet } from "./support/sheets.mjs";

const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
const STEPS = ["scan", "lift", "whites", "marks", "save"];

let browser;
let study;
before(async () => {
  browser = await startBrowser();
  study = writeSheet(join(browser.home, "glass-study.png"));
});
after(() => browser?.close());

async function onPage(options, run) {
  const sheet = await browser.open(options);
  try {
    await run(sheet, sheet.page);
    assert.deepEqual(sheet.complaints, []);
  } finally {
    await sheet.close();
  }
}

/** Every rule of WCAG 2.2 AA that can be checked by a program, and the good practices. */
async function scanned(page, where) {
  await page.evaluate(axe);
  const found = await page.evaluate(async () => {
    const tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"];
    const { violations } = await globalThis.axe.run(document, { runOnly: tags });
    return violations.map((one) => `${one.id}: ${one.nodes.map((node) => node.html.slice(0, 160)).join(" | ")}`);
  });
  assert.deepEqual(found, [], where);
}

for (const scheme of ["light", "dark"]) {
  test(`no state of the page breaks an accessibility rule, ${scheme}`, async () => {
    await onPage({ features: [{ name: "prefers-color-scheme", value: scheme }] }, async (sheet, page) => {
      await scanned(page, "empty");
      await page.keyboard.press("?");
      await page.waitForSelector("#help[open]");
      await scanned(page, "help");
      await page.keyboard.press("Escape");
      await sheet.scan(study);
      for (const step of STEPS) {
        await page.click(`#tab-${step}`);
        await page.$$eval(`#step-${step} summary`, (all) => all.forEach((one) => one.click()));
        await scanned(page, step);
      }
      await page.keyboard.press("n");
      await scanned(page, "a white in hand");
      await sheet.drop([study, study]);
      await page.waitForSelector("#notices .remark");
      await sheet.state("lifted");
      await scanned(page, "with a message");
    });
  });
}

/** Presses Tab until the element with the focus matches. */
async function tabTo(page, selector) {
  for (let presses = 0; presses < 80; presses += 1) {
    if (await page.evaluate((wanted) => document.activeElement?.matches(wanted) ?? false, selector)) return;
    await page.keyboard.press("Tab");
  }
  assert.fail(`Tab never came to ${selector}`);
}

test("from an empty page to a saved painting by keyboard alone", async () => {
  await onPage({}, async (sheet, page) => {
    await tabTo(page, "#opening [data-choose]");
    const chooser = await sheet.chooser(() => page.keyboard.press("Enter"));
    await chooser.accept([study]);
    await page.waitForFunction(() => document.body.dataset.state !== "empty");
    await sheet.state("lifted");
    assert.equal(await page.evaluate(() => document.activeElement.id), "stage", "the focus is on the painting");

    await tabTo(page, "[name=ground]");
    await page.keyboard.press("ArrowDown");
    assert.equal(await page.$eval("[name=ground]:checked", (one) => one.value), "black");
    await tabTo(page, "#tab-lift");
    await tabTo(page, "#dial-body");
    for (let i = 0; i < 5; i += 1) await page.keyboard.press("ArrowLeft");
    assert.equal(await sheet.value("#dial-body"), "95");

    await tabTo(page, "#undo");
    await page.keyboard.press("Enter");
    assert.equal(await sheet.value("#dial-body"), "100", "five quick presses are one step");
    assert.equal(await page.evaluate(() => document.activeElement.id), "undo", "the focus stays");

    await tabTo(page, "#tab-lift");
    await page.keyboard.press("ArrowRight");
    await page.waitForSelector("#step-whites:not([hidden])");
    await page.keyboard.press("n");
    await page.waitForSelector("#whites [aria-current=true]");
    await page.keyboard.press("Delete");
    await page.waitForFunction(() => document.querySelector("#white-clear").getAttribute("aria-pressed") === "true");
    await tabTo(page, "#tab-whites");
    await page.keyboard.press("End");
    await tabTo(page, "#save");
    await page.keyboard.press("Enter");
    assert.equal((await sheet.saved(/\.png$/)).name, "glass-study.lifted.png");
  });
});

test("every control shows where the focus is", async () => {
  await onPage({}, async (sheet, page) => {
    await sheet.scan(study);
    for (const step of STEPS) {
      await page.click(`#tab-${step}`);
      await page.focus("#undo");
      for (let presses = 0; presses < 60; presses += 1) {
        await page.keyboard.press("Tab");
        const [what, ring] = await page.evaluate(() => {
          const at = document.activeElement;
          if (!at || at === document.body) return ["", "end"];
          const shown = [at, at.closest("label"), at.parentElement].filter(Boolean).some((one) => {
            const style = getComputedStyle(one);
            return style.outlineStyle !== "none" && Number.parseFloat(style.outlineWidth) >= 2;
          });
          return [at.outerHTML.slice(0, 100), shown ? "ring" : "none"];
        });
        if (ring === "end") break;
        assert.equal(ring, "ring", what);
      }
    }
  });
});

test("targets are large enough, and at 320 pixels nothing has to be scrolled sideways", async () => {
  await onPage({ width: 320, height: 640 }, async (sheet, page) => {
    const sideways = () => page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
    assert.equal(await sideways(), 0, "empty");
    await page.click("#demo");
    await sheet.state("lifted");
    for (const step of STEPS) {
      await page.click(`#tab-${step}`);
      assert.equal(await sideways(), 0, step);
      const small = await page.evaluate(() =>
        [...document.querySelectorAll("button, select, input:not([type=file])")]
          .map((one) => [one.outerHTML.slice(0, 90), (one.closest("label:has([type=radio], [type=checkbox])") ?? one).getBoundingClientRect()])
          .filter(([, box]) => box.width > 0 && (box.width < 24 || box.height < 24))
          .map(([html]) => html),
      );
      assert.deepEqual(small, [], step);
    }
    const [stage, page_] = await page.evaluate(() => [document.querySelector("#stage").clientHeight, innerHeight]);
    assert.ok(stage >= page_ / 2, "the painting has half of a small screen");
  });
});

test("at 4K the painting has most of the screen", async () => {
  await onPage({ width: 3840, height: 2160 }, async (sheet, page) => {
    await sheet.scan(study);
    const share = await page.evaluate(() => document.querySelector("#stage").clientHeight / innerHeight);
    assert.ok(share > 0.75, `only ${share}`);
  });
});

test("with a palette forced by the system the chosen ground and step still stand out", async () => {
  await onPage({ features: [{ name: "forced-colors", value: "active" }] }, async (sheet, page) => {
    await sheet.scan(study);
    const outlined = (selector) => page.$eval(selector, (one) => getComputedStyle(one).outlineStyle);
    assert.equal(await outlined("[name=ground]:checked + .swatch"), "solid");
    assert.equal(await outlined("[name=ground]:not(:checked) + .swatch"), "none");
    assert.equal(await outlined("#steps [aria-selected=true]"), "solid");
    assert.equal(await outlined("#steps [aria-selected=false]"), "none");
  });
});

test("with motion not wanted nothing moves by itself", async () => {
  await onPage({ features: [{ name: "prefers-reduced-motion", value: "reduce" }] }, async (sheet, page) => {
    await sheet.scan(study);
    const moving = await page.evaluate(() =>
      [...document.querySelectorAll("*")].filter((one) => {
        const style = getComputedStyle(one);
        return style.animationName !== "none" || Number.parseFloat(style.transitionDuration) > 0;
      }).length,
    );
    assert.equal(moving, 0);
  });
});

test("single letters stop being keys when the painter says so, and never act inside a field", async () => {
  await onPage({}, async (sheet, page) => {
    await sheet.scan(study);
    const ground = () => page.$eval("[name=ground]:checked", (one) => one.value);
    await page.focus("#dial-body-number");
    await page.keyboard.press("b");
    assert.equal(await ground(), "white");
    await page.focus("#stage");
    await page.keyboard.press("b");
    assert.equal(await ground(), "black");
    await page.keyboard.press("?");
    await page.waitForSelector("#help[open]");
    await page.click("#single-keys");
    await page.keyboard.press("Escape");
    await page.focus("#stage");
    await page.keyboard.press("m");
    assert.equal(await ground(), "black");
  });
});

test("what happens is said to those who do not see it", async () => {
  await onPage({}, async (sheet, page) => {
    await page.evaluate(() => {
      globalThis.heard = [];
      new MutationObserver(() => globalThis.heard.push(document.querySelector("#status").textContent.trim())).observe(
        document.querySelector("#status"),
        { childList: true, characterData: true, subtree: true },
      );
    });
    await sheet.scan(study);
    await page.click("#tab-whites");
    await page.click("#white-next");
    await page.click("#white-keep");
    await page.waitForFunction(() => globalThis.heard.some((one) => /White area 1 of/.test(one)));
    const heard = await page.evaluate(() => globalThis.heard);
    for (const words of [/is open/, /^Lifted$/, /White area 1 of \d+, [\d.]+ mm²/, /^Kept white$/]) {
      assert.ok(heard.some((one) => words.test(one)), `${words} in ${heard.join(" / ")}`);
    }
  });
});
