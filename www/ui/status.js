// What is going on: a bar with words for anything that takes longer than a moment, and a line read out to those who listen.

import { need } from "./need.js";

/** A bar that comes and goes faster than this only flickers; in milliseconds. */
const PATIENCE = 300;

/** Words for the stages of the module, and for the two that are the page's own. */
const STAGES = {
  read: "Reading the scan",
  paper: "Looking at the bare paper",
  cover: "Telling paint from paper",
  tidy: "Tidying specks and marks",
  edges: "Freeing the edges",
  art: "Lifting the paint off",
  write: "Writing the PNG",
};

/** @type {ReturnType<typeof setTimeout>|undefined} */
let timer;

/**
 * Shows progress once the work has gone on for a moment.
 * @param {string} stage
 * @param {number|null} done 0..1, null when nobody can tell
 */
export function showProgress(stage, done) {
  const words = STAGES[/** @type {keyof typeof STAGES} */ (stage)] ?? "Working";
  const bar = need("progress-bar", HTMLProgressElement);
  need("progress-words").textContent = words;
  if (done === null || stage === "write") bar.removeAttribute("value");
  else bar.value = done;
  timer ??= setTimeout(() => {
    need("progress").hidden = false;
    // Said only where one has to wait: at the dials it would talk without end.
    if (stage === "read" || stage === "write") say(words);
  }, PATIENCE);
}

/** Takes the bar away. */
export function endProgress() {
  clearTimeout(timer);
  timer = undefined;
  need("progress").hidden = true;
}

/**
 * Says a line to screen readers.
 * @param {string} words
 */
export function say(words) {
  const line = need("status");
  // The same words twice would not be read again.
  line.textContent = line.textContent === words ? `${words}\u00a0` : words;
}
