// One scan in an instance of the module of its own; see lift.mjs.

import { readFileSync } from "node:fs";
import { parentPort, workerData } from "node:worker_threads";
import { initSync, Session } from "../dist/module/barewash.js";

const { module, scan, recipe, saving, page, ppi, width: original } = workerData;
const { memory } = initSync({ module });

// What the module says on its way down goes into the one line about the scan.
let lastWords = "";
console.error = (text) => {
  lastWords ||= String(text).split("\n\nStack:")[0];
};

const seconds = {};
/** Runs a piece of the work and adds its time to the stage's. */
function timed(stage, run) {
  const start = performance.now();
  try {
    return run();
  } finally {
    seconds[stage] = (seconds[stage] ?? 0) + (performance.now() - start) / 1000;
  }
}

const rounded = (value, digits) => Number(value.toFixed(digits));

/** The module's own errors have a code and a sentence; anything else is a fault of the module or a lack of memory. */
function faultOf(error, about) {
  if (error?.code) return { about, code: error.code, message: error.message };
  return {
    about,
    code: "crash",
    message:
      `This scan broke the program, which held ${(memory.buffer.byteLength / 1e6).toFixed(0)} MB (${lastWords || error}). ` +
      "Scan at a lower resolution, or report this line.",
  };
}

/** The resolution of a scan of so many pixels whose original is so wide. */
function ppiOf({ words, inches }, pixels) {
  const found = pixels / inches;
  if (found >= 10 && found <= 20000) return found;
  const message = `${pixels} pixels on ${words} would be ${rounded(found, 1)} pixels per inch, and a scan has 10 to 20000; check --width.`;
  throw Object.assign(new Error(message), { code: "parameter" });
}

function lift() {
  let about = "scan";
  try {
    // A page that is no number is the recipe's: what is wrong with it the module says, of the recipe.
    const asked = Number.isInteger(page) && page > 0 ? page - 1 : undefined;
    const session = timed("read", () => new Session(readFileSync(scan), asked));
    about = "recipe";
    if (recipe !== undefined) session.set_recipe(recipe);
    about = "ppi"; // after the recipe, so that the call has the last word
    if (ppi !== undefined) session.set_ppi(ppi);
    if (original !== undefined) session.set_ppi(ppiOf(original, JSON.parse(session.about()).width));
    about = "scan";
    session.check_saving(saving);
    while (timed(session.stage(), () => session.step()) < 1);
    const file = timed("save", () => session.save(saving));
    const report = JSON.parse(session.report());
    const { width, height } = JSON.parse(session.about());

    const total = Object.values(seconds).reduce((sum, value) => sum + value, 0);
    report.seconds = Object.fromEntries(Object.entries({ ...seconds, total }).map(([stage, value]) => [stage, rounded(value, 3)]));
    report.megapixels_per_second = rounded((width * height) / 1e6 / total, 2);
    // The module's memory never shrinks, so its size at the end is its peak.
    report.peak_wasm_memory_bytes = memory.buffer.byteLength;
    return { file, report };
  } catch (error) {
    return { fault: faultOf(error, about) };
  }
}

const answer = lift();
parentPort.postMessage(answer, answer.file ? [answer.file.buffer] : []);
