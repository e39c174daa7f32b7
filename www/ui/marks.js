// Step 4, Marks: what is on the sheet besides the painting.

import { dial } from "./dial.js";
import { make, need } from "./need.js";
import { say } from "./status.js";
import { valueAt } from "../state/recipe.js";

const MARKS = [
  { path: "tidy.hairs", label: "Hairs and threads", name: "hairs" },
  { path: "tidy.pencil", label: "Pencil", name: "pencil" },
  { path: "tidy.stains", label: "Stains", name: "stains" },
  { path: "tidy.sheet_edge", label: "Edge of the sheet", name: "edge of the sheet" },
];

const TURN = "Click a scrap or stain in the picture, left or gone: it is turned over, and what looks like it goes along.";

/** @param {import("../engine/protocol.js").Piece} piece as it was */
function turnedWords({ decision, follow }) {
  const done = decision === "keep" ? "Cleared" : "Back again";
  return follow === 0 ? `${done}.` : `${done}, and ${follow === 1 ? "one" : follow} like it.`;
}

/** @param {import("../state/store.js").Store} store */
export function marksStep(store) {
  const choices = make("div", { class: "marks" });
  const last = make("p", { id: "piece-turned" });
  for (const { path, label, name } of MARKS) {
    const field = make("fieldset", { class: "mark" }, make("legend", {}, label));
    /** @type {HTMLInputElement[]} */
    const radios = [];
    for (const choice of ["keep", "clear"]) {
      const radio = make("input", { type: "radio", name: path, value: choice });
      radio.addEventListener("change", () => store.set(path, choice, name));
      radios.push(radio);
      field.append(make("label", {}, radio, ` ${choice}`));
    }
    store.listen((recipe) => {
      for (const radio of radios) radio.checked = radio.value === valueAt(recipe, path);
    });
    choices.append(field);
  }
  need("step-marks").append(
    dial(
      {
        path: "tidy.specks_mm",
        label: "Specks to clear, up to",
        name: "specks",
        max: 10,
        step: 0.1,
        unit: "mm",
        low: "none",
        high: "large",
        help: "Loose dots of dust or spatter. At 0 all stay.",
      },
      store,
    ),
    choices,
    make("div", { class: "note" }, make("p", { class: "fine" }, TURN), last),
  );

  return {
    /**
     * A click in the picture turns the piece there over.
     * @param {import("../engine/protocol.js").Piece|null} piece
     */
    clicked(piece) {
      if (piece) store.decide(piece.at, piece.decision === "keep" ? "clear" : "keep", [], "piece");
      last.textContent = piece ? turnedWords(piece) : "Nothing lies apart from the painting there.";
      say(last.textContent);
    },
  };
}
