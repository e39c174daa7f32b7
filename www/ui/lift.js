// Step 2, Lift: the four dials that shape the whole painting.

import { dial } from "./dial.js";
import { need } from "./need.js";

/** @param {import("../state/store.js").Store} store */
export function liftStep(store) {
  need("step-lift").append(
    dial(
      {
        path: "tolerance",
        label: "Taken as bare paper",
        name: "bare paper",
        low: "only the barest",
        high: "stains too",
        help: "Lower it where a pale wash is lost.",
      },
      store,
    ),
    dial(
      {
        path: "edge.soft",
        label: "Edge of the paint",
        name: "edge of the paint",
        low: "crisp",
        high: "soft",
        help: "How gently a wash may run out.",
      },
      store,
    ),
    dial(
      {
        path: "edge.rim",
        label: "Rim of paper",
        name: "rim of paper",
        low: "leave",
        high: "take away",
        help: "Shade beside the paint; tidelines stay.",
      },
      store,
    ),
    dial(
      {
        path: "body",
        label: "Body of the paint",
        name: "body of the paint",
        low: "sheer",
        high: "solid",
        help: "Sheer lets the ground shine through.",
      },
      store,
    ),
  );
}
