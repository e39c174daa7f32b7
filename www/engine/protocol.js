// What the page and its worker say to each other. Shapes only; nothing here runs but the two small helpers.
//
// Three ways of speaking:
// - `ask`: a question with an id; exactly one `answer` or `refusal` with the same id comes back.
// - `recipe`, `view`: states. The newest one counts, older ones may be skipped unseen. They have no answer of their own.
// - news: `progress`, `picture`, `found`, `lifted`, `fault` come whenever they are ready.
//
// `turn` counts the page's recipes. News carries the turn it was made from, so the page knows what it is looking at.

/**
 * @typedef {import("../state/recipe.js").Recipe} Recipe
 * @typedef {import("../state/view.js").Pane} Pane
 *
 * @typedef {object} About            what the file said of itself
 * @property {number} width           pixels
 * @property {number} height          pixels
 * @property {number} bits            per channel
 * @property {number|null} ppi        null when the file does not say
 * @property {string} format
 * @property {string|null} profile
 * @property {number} pages           how many the file holds
 * @property {number} page            which one this is, counted from 0
 * @property {{code: string, message: string}[]} warnings
 *
 * @typedef {object} Island           a white area enclosed by paint
 * @property {number} index
 * @property {[number, number]} at    a sheet pixel inside it
 * @property {[number, number, number, number]} box  x, y, width, height
 * @property {number} area_mm2
 * @property {boolean} gap            whether its contour is open at a gap
 * @property {"keep"|"clear"} proposed
 * @property {number} confidence      0..1
 * @property {boolean} asked          to look at: in doubt, and no answer before it would settle it
 * @property {"keep"|"clear"} decision
 * @property {boolean} decided
 *
 * @typedef {object} Piece            something that lies apart from the painting or hangs on it
 * @property {[number, number]} at    a sheet pixel of it
 * @property {"keep"|"clear"} decision
 * @property {number} follow          how many others would go along, were it turned over
 *
 * @typedef {object} Paper
 * @property {[number, number, number]} color
 * @property {number} unevenness_percent
 *
 * @typedef {object} Wish             what the page wants to see
 * @property {Pane} pane
 * @property {string} ground          "#rrggbb", "paper" or "scan"
 * @property {boolean} outlines       whether the outlines of white areas are wanted
 *
 * @typedef {object} Saving           how the painting is saved; texts are written into the file, empty ones are not
 * @property {"png"|"tiff"|"webp"} format
 * @property {8|16} bits              8 in a WebP
 * @property {string} [title]
 * @property {string} [artist]
 * @property {string} [copyright]
 * @property {boolean} [profile]      whether the color profile of sRGB is embedded
 *
 * @typedef {{say: "start", module: WebAssembly.Module}} Start          page -> worker, once, before all else
 * @typedef {{say: "ask", id: number, what: "open", bytes: Uint8Array<ArrayBuffer>, page: number|null, recipe: unknown, turn: number}} Open
 * @typedef {{say: "ask", id: number, what: "check", recipe: unknown}} Check      answers the whole recipe, every key filled in
 * @typedef {{say: "ask", id: number, what: "island", x: number, y: number}} IslandAt  answers an index, -1 for none
 * @typedef {{say: "ask", id: number, what: "piece", x: number, y: number, reach: number}} PieceAt  answers a Piece, or null for none
 * @typedef {{say: "ask", id: number, what: "save", choices: Saving}} Save     answers the bytes of a file
 * @typedef {{say: "recipe", recipe: Recipe, turn: number}} RecipeState
 * @typedef {{say: "view", wish: Wish}} ViewState
 * @typedef {Start|Open|Check|IslandAt|PieceAt|Save|RecipeState|ViewState} ToWorker
 *
 * @typedef {{about: About, recipe: Recipe}} Opened
 *
 * @typedef {{say: "answer", id: number, value: any}} Answer
 * @typedef {{say: "refusal", id: number, fault: Fault}} Refusal
 * @typedef {{say: "progress", stage: string, done: number}} Progress    stage words of the module, and "write"; done 0..1
 * @typedef {{say: "picture", pane: Pane, ground: string, pixels: Uint8ClampedArray<ArrayBuffer>, turn: number, whole: boolean}} Picture
 * @typedef {{say: "found", list: Island[], outlines: Float32Array[], paper: Paper|undefined, turn: number}} Found  outlines: one for each of the first of the list
 * @typedef {{say: "lifted", turn: number}} Lifted         the full-resolution lift of that turn is done
 * @typedef {{say: "fault", fault: Fault}} FaultNews
 * @typedef {Answer|Refusal|Progress|Picture|Found|Lifted|FaultNews} FromWorker
 *
 * @typedef {object} Fault
 * @property {string} code     malformed, unsupported, limit, parameter, cancelled; "crash" when the module itself gave way
 * @property {string} message  a sentence for the painter
 */

/**
 * Turns whatever was thrown into a fault. A trap in the module (out of memory, a defect) is a "crash":
 * the session behind it must not be used again.
 * @param {unknown} thrown
 * @returns {Fault}
 */
export function faultOf(thrown) {
  const error = /** @type {{code?: unknown, message?: unknown}} */ (thrown ?? {});
  const message = typeof error.message === "string" ? error.message : String(thrown);
  return { code: typeof error.code === "string" ? error.code : "crash", message };
}

/** A fault as the page throws it on. */
export class LiftError extends Error {
  /** @param {Fault} fault */
  constructor(fault) {
    super(fault.message);
    this.name = "LiftError";
    this.code = fault.code;
  }
}
