// Composes the page: every region is made here and told of the others through a few plain functions.

import { startWorker } from "./engine/client.js";
import { capabilityLine, missing } from "./platform/capability.js";
import { chooser, isRecipe, listenToFiles } from "./platform/files.js";
import { demoSheet, wasmModule, workerSource } from "./platform/parts.js";
import * as timing from "./platform/timing.js";
import { Store } from "./state/store.js";
import { Work } from "./state/work.js";
import { grounds } from "./ui/ground.js";
import { helpDialog } from "./ui/help.js";
import { historyButtons } from "./ui/history.js";
import { listenToKeys } from "./ui/keys.js";
import { liftStep } from "./ui/lift.js";
import { marksStep } from "./ui/marks.js";
import { need } from "./ui/need.js";
import { clearNotices, notice } from "./ui/notice.js";
import { drawOutlines } from "./ui/outlines.js";
import { saveStep } from "./ui/save.js";
import { scanStep } from "./ui/scan.js";
import { Stage } from "./ui/stage.js";
import { endProgress, say, showProgress } from "./ui/status.js";
import { steps } from "./ui/steps.js";
import { whitesStep } from "./ui/whites.js";

/** @typedef {"empty"|"reading"|"preview"|"lifted"} State  what there is to see; on the body as data-state, for tests too */

const store = new Store();
let before = /** @type {State} */ ("empty");

/** @param {State} state */
function setState(state) {
  document.body.dataset.state = state;
}

const work = new Work({
  startLine: async () => startWorker(workerSource(), await wasmModule()),
  store,
  hear: {
    reading() {
      const now = /** @type {State} */ (document.body.dataset.state);
      if (now !== "reading") before = now;
      setState("reading");
      showProgress("read", null);
    },
    opened({ name, about, turned }) {
      clearNotices();
      const full = about.pages > 1 ? `${name}, page ${about.page + 1} of ${about.pages}` : name;
      need("opening").hidden = true;
      need("easel").hidden = false;
      need("wall").append(need("progress"));
      document.title = `${full}, barewash`;
      timing.scanOpened();
      scan.show(full, about);
      whites.forget();
      if (!turned) row.show("lift");
      stage.begin(about);
      setState("preview");
      showProgress("paper", 0);
      say(`${full} is open`);
      if (!turned) need("stage").focus({ preventScroll: true });
    },
    unopened() {
      setState(before);
      endProgress();
    },
    changed(turn) {
      timing.asked(turn);
      setState("preview");
    },
    picture(picture) {
      stage.show(picture);
      wall(picture.ground);
      timing.drawn(picture);
    },
    found(found) {
      if (found.paper) {
        paper = found.paper.color;
        ground.paper(paper);
        scan.paper(found.paper);
      }
      whites.found(found);
    },
    progress({ stage: words, done }) {
      showProgress(words, done);
    },
    lifted() {
      endProgress();
      setState("lifted");
      say("Lifted");
    },
    fault(fault) {
      endProgress();
      notice(fault.message);
    },
    revived(words) {
      notice(words, "remark");
    },
  },
});

/** @type {[number, number, number]} */
let paper = [255, 255, 255];

/** The wall around the sheet takes the ground's color, so that the painting lies on one even ground.
 * @param {string} shown */
function wall(shown) {
  const color = shown === "paper" ? `rgb(${paper.map(Math.round).join(" ")})` : shown === "scan" ? "" : shown;
  need("wall").style.background = color;
}

const stage = new Stage({
  look: (pane) => {
    if (pane) work.look({ pane, ground: ground.value(), outlines: row.current() === "whites" });
  },
  pick,
  moved: () => outline(),
});
const ground = grounds(() => stage.again());
const scan = scanStep(store, { turnTo: (page) => work.turnTo(page).catch(complain), refused: (words) => notice(words) });
const row = steps((step) => {
  if (step === "whites") whites.show();
  stage.again();
});
const whites = whitesStep(store, { redraw: () => outline(), look: (island) => stage.lookAt(island.box) });
const undo = historyButtons(store);
const help = helpDialog(capabilityLine());
liftStep(store);
const marks = marksStep(store);

function outline() {
  drawOutlines(stage.view, stage.ratio, row.current() === "whites" ? whites.outlined() : []);
}

/** A hand points as exactly as this, in screen pixels. */
const HAND = 3;

/**
 * A click in the picture. With the whites in view it turns an area over, among the marks a loose piece; before that it only
 * shows the whites, since a stray click must change nothing.
 * @param {number} x
 * @param {number} y
 */
async function pick(x, y) {
  if (row.current() === "marks") {
    const piece = await work.client?.pieceAt(x, y, Math.ceil(HAND / stage.view.scale)).catch(complain);
    return piece === undefined ? undefined : marks.clicked(piece);
  }
  const index = (await work.client?.islandAt(x, y).catch(complain)) ?? -1;
  if (index < 0) return;
  const looking = row.current() === "whites";
  row.show("whites");
  whites.clicked(index, looking);
}

/** @param {unknown} error */
function complain(error) {
  notice(error instanceof Error ? error.message : String(error));
}

/** @param {File[]} files */
async function take(files) {
  const recipes = files.filter(isRecipe);
  const scans = files.filter((file) => !isRecipe(file));
  try {
    if (scans.length > 0) {
      timing.scanDropped();
      if (!(await work.open(scans[0]))) return;
      if (scans.length > 1) {
        notice(`${scans.length} scans came at once. “${scans[0].name}” is open; bring the others one at a time.`, "remark");
      }
    }
    if (recipes.length > 0) await takeRecipe(recipes[0]);
  } catch (error) {
    complain(error);
  }
}

/** @param {File} file */
async function takeRecipe(file) {
  if (!work.client) throw new Error("A recipe needs a scan. Open the scan first, then this recipe.");
  let read;
  try {
    read = JSON.parse(await file.text());
  } catch {
    throw new Error(`“${file.name}” is not a recipe: it cannot be read as JSON. Choose a file that was saved here as a recipe.`);
  }
  await work.takeRecipe(read);
  say(`Recipe ${file.name} is open`);
}

const chooseScan = chooser(need("scan-file", HTMLInputElement), take);
const chooseRecipe = chooser(need("recipe-file", HTMLInputElement), take);
const saving = saveStep(work, store, chooseRecipe);
for (const button of document.querySelectorAll("[data-choose]")) button.addEventListener("click", chooseScan);
need("demo").addEventListener("click", () => take([demoSheet()]));
listenToFiles({
  take,
  hover: (over) => {
    need("drop-here").hidden = !over;
  },
});

need("fit").addEventListener("click", () => stage.fit());
need("one").addEventListener("click", () => stage.scaleTo(1));
need("four").addEventListener("click", () => stage.scaleTo(4));
need("nearer").addEventListener("click", () => stage.nearer(1));
need("farther").addEventListener("click", () => stage.nearer(-1));

/** For keys that mean something only while a painting is there. @param {() => void} run */
const there = (run) => () => {
  if (work.client) run();
};
/** Keys for the whites bring their step into view. @param {() => void} run */
const atWhites = (run) =>
  there(() => {
    row.show("whites");
    run();
  });

listenToKeys([
  { shown: "Ctrl O", words: "Choose a scan", keys: ["o"], control: true, down: chooseScan },
  { shown: "Ctrl S", words: "Save the painting", keys: ["s"], control: true, down: there(saving.save) },
  { shown: "Ctrl Z", words: "Undo", keys: ["z"], control: true, down: undo.back },
  { shown: "Ctrl Shift Z", words: "Redo", keys: ["z"], control: true, shift: true, down: undo.forth },
  { shown: "Ctrl Y", words: "Redo", keys: ["y"], control: true, down: undo.forth },
  { shown: "W", words: "White ground", keys: ["w"], down: there(() => ground.choose("white")) },
  { shown: "B", words: "Black ground", keys: ["b"], down: there(() => ground.choose("black")) },
  { shown: "M", words: "Mid gray ground", keys: ["m"], down: there(() => ground.choose("gray")) },
  { shown: "O", words: "The painting's own paper as ground", keys: ["o"], down: there(() => ground.choose("paper")) },
  { shown: "C", words: "A color as ground", keys: ["c"], down: there(() => ground.choose("color")) },
  {
    shown: "S held",
    words: "See the scan itself",
    keys: ["s"],
    down: there(() => ground.holdScan(true)),
    up: () => ground.holdScan(false),
  },
  { shown: "0", words: "Fit the whole sheet", keys: ["0"], down: there(() => stage.fit()) },
  { shown: "1", words: "1:1, one scan pixel on one screen pixel", keys: ["1"], down: there(() => stage.scaleTo(1)) },
  { shown: "4", words: "4:1", keys: ["4"], down: there(() => stage.scaleTo(4)) },
  { shown: "+", words: "Nearer", keys: ["+", "="], down: there(() => stage.nearer(1)) },
  { shown: "-", words: "Farther", keys: ["-"], down: there(() => stage.nearer(-1)) },
  { shown: "← ↑ → ↓", words: "Move the picture, when it has the focus; with Shift in larger strides" },
  { shown: "N", words: "Next white area", keys: ["n"], down: atWhites(() => whites.go(1)) },
  { shown: "P", words: "Previous white area", keys: ["p"], down: atWhites(() => whites.go(-1)) },
  { shown: "K", words: "Keep this white", keys: ["k"], down: atWhites(() => whites.decideInHand("keep")) },
  { shown: "Delete", words: "Clear it", keys: ["delete", "backspace"], down: atWhites(() => whites.decideInHand("clear")) },
  { shown: "?", words: "This help", keys: ["?"], down: help.show },
]);
const lack = missing();
if (lack) notice(lack);
else wasmModule().catch(() => notice("The page is damaged: its module cannot be started. Get a fresh copy of the page."));
