// The timings of scripts/bench: the command's lift, and the page's answers to a dropped scan and a moved dial.

import { execFileSync } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync } from "node:fs";
import { cpus, tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { fileURLToPath } from "node:url";
import { startBrowser } from "../tests/browser/support/browser.mjs";

const scan = resolve(process.argv[2]);
const RUNS = 10;

const sorted = (values) => [...values].sort((a, b) => a - b);
const median = (values) => {
  const all = sorted(values);
  const middle = all.length >> 1;
  return all.length % 2 ? all[middle] : (all[middle - 1] + all[middle]) / 2;
};

function table(title, head, rows) {
  const widths = head.map((cell, i) => Math.max(...[head, ...rows].map((row) => String(row[i]).length)));
  const line = (row) => row.map((cell, i) => (i ? String(cell).padStart(widths[i]) : String(cell).padEnd(widths[i]))).join("   ");
  console.log([`\n${title}`, line(head), ...rows.map(line)].join("\n"));
}

/** Median, fastest and slowest of a figure. */
const spread = (name, values, digits) => [name, median(values), sorted(values)[0], sorted(values).at(-1)].map((v, i) => (i ? v.toFixed(digits) : v));

/** The command, as often: seconds by stage, speed and memory as its own report has them. */
function command() {
  const folder = mkdtempSync(join(tmpdir(), "barewash-bench-"));
  const reports = [];
  for (let run = 0; run < RUNS; run++) {
    const report = join(folder, "report.json");
    const lift = fileURLToPath(new URL("lift.mjs", import.meta.url));
    execFileSync("node", [lift, scan, "-o", join(folder, "art.png"), "--report", report]);
    reports.push(JSON.parse(readFileSync(report)));
  }
  rmSync(folder, { recursive: true });
  const stages = Object.keys(reports[0].seconds);
  table(`scripts/lift, ${RUNS} runs`, ["", "median", "fastest", "slowest"], [
    ...stages.map((stage) => spread(`${stage}, s`, reports.map((one) => one.seconds[stage]), 3)),
    spread("speed, megapixels/s", reports.map((one) => one.megapixels_per_second), 2),
    spread("peak memory of the module, MB", reports.map((one) => one.peak_wasm_memory_bytes / 1e6), 0),
  ]);
}

const measures = (page, name) => page.evaluate((one) => performance.getEntriesByName(one, "measure").map((entry) => entry.duration), name);

/** The page from disk: each drop on a fresh page, then one page for the dial. */
async function page() {
  const browser = await startBrowser();
  try {
    const first = [];
    const whole = [];
    let sheet;
    for (let run = 0; run < RUNS; run++) {
      await sheet?.close();
      sheet = await browser.open();
      await sheet.scan(scan);
      first.push(...(await measures(sheet.page, "first-look")));
      whole.push(...(await measures(sheet.page, "lift-shown")));
    }
    const redraws = [];
    await sheet.page.focus("#dial-tolerance");
    for (let run = 0; run < RUNS; run++) {
      const before = (await measures(sheet.page, "redraw")).length;
      await sheet.page.keyboard.press(run % 2 ? "ArrowLeft" : "ArrowRight");
      await sheet.page.waitForFunction((count) => performance.getEntriesByName("redraw", "measure").length > count, { polling: 20 }, before);
      redraws.push((await measures(sheet.page, "redraw")).at(-1));
      // Each move is timed from rest, as the first move of a hand is.
      await sheet.state("lifted");
    }
    table(`page in headless Chromium, from disk, ${RUNS} runs`, ["", "median", "fastest", "slowest"], [
      spread("drop to first look, ms", first, 0),
      spread("drop to the whole lift shown, ms", whole, 0),
      spread("tolerance moved to redraw, ms", redraws, 0),
    ]);
  } finally {
    await browser.close();
  }
}

const size = (readFileSync(scan).length / 1e6).toFixed(1);
console.log(`${scan} (${size} MB); ${cpus().length} x ${cpus()[0]?.model.trim()}; node ${process.version}`);
command();
await page();
