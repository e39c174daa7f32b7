// Step 2, Lift: the four dials that shape the whole painting.

import { dial } from "./dial.js";
import { need } from "./need.js";

/** @param {import("../state/store.js").Store} store */
export function liftStep(store) {
  need("step-lift").append(
    dial(
      {
        path: "tolerance",
        label: "What counts as bare paper",
        name: "bare paper",
        low: "only the barest",
        high: "stains too",
        help: "Lower it if a pale wash is lost, raise it if paper is left standing.",
      },
      store,
    ),
    dial(
      {
        path: "edge.soft",
        label: "Edge",
        name: "edge",
        low: "crisp",
        high: "soft",
        help: "How gently a wash may run out to nothing.",
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
        help: "The shaded or pale line of paper along the paint. A tideline is paint and stays.",
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
        help: "Sheer lets the new ground shine through a wash; solid keeps it as it looks on its paper.",
      },
      store,
    ),
  );
}
