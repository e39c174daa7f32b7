// Step 1, Scan: what the file is, how large the original was, and what the painter may know better.

import { ppiFromWidth, rounded, sizeWords } from "../state/size.js";
import { make, need } from "./need.js";

/** @typedef {import("../engine/protocol.js").About} About */

/**
 * @param {(ppi: number) => void} stated the painter stated a resolution
 */
export function scanStep(stated) {
  const ppi = need("ppi", HTMLInputElement);
  const wide = need("original-width", HTMLInputElement);
  const unit = need("original-unit", HTMLSelectElement);
  /** @type {About|null} */
  let about = null;

  ppi.addEventListener("change", () => {
    if (ppi.valueAsNumber > 0) stated(ppi.valueAsNumber);
  });
  const fromWidth = () => {
    if (about && wide.valueAsNumber > 0) {
      stated(ppiFromWidth(about.width, wide.valueAsNumber, unit.value === "mm" ? "mm" : "inch"));
    }
  };
  wide.addEventListener("change", fromWidth);
  unit.addEventListener("change", () => about && showWidth(about));

  /** @param {About} now */
  function showWidth(now) {
    if (now.ppi === null) return;
    const inches = now.width / now.ppi;
    wide.value = rounded(unit.value === "mm" ? inches * 25.4 : inches);
  }

  return {
    /** @param {string} name */
    name(name) {
      need("scan-name").textContent = name;
    },
    /** @param {About} now */
    show(now) {
      about = now;
      const profile = now.profile ? `, profile ${now.profile}` : "";
      need("facts").textContent =
        `${now.format.toUpperCase()}, ${now.width} × ${now.height} pixels, ${now.bits} bit${profile}.`;
      ppi.value = now.ppi === null ? "" : rounded(now.ppi);
      if (now.ppi === null) wide.value = "";
      showWidth(now);
      need("resolution-words").textContent =
        now.ppi === null
          ? "The file does not say how large the original is. Until you do, sizes in mm are a guess."
          : `The original is ${sizeWords(now.width, now.height, now.ppi)} at ${rounded(now.ppi)} ppi.`;
      need("size-wanted").textContent = now.ppi === null ? "size not known" : "";
      need("resolution").classList.toggle("wanting", now.ppi === null);
      need("warnings").replaceChildren(...now.warnings.map((one) => make("li", {}, one.message)));
      need("save-words").textContent =
        `${now.width} × ${now.height} pixels` + (now.ppi === null ? ", resolution not known" : ` at ${rounded(now.ppi)} ppi`);
    },
    /** @param {import("../engine/protocol.js").Paper} paper */
    paper(paper) {
      const [r, g, b] = paper.color.map(Math.round);
      const swatch = make("span", { class: "swatch", "aria-hidden": true });
      swatch.style.background = `rgb(${r} ${g} ${b})`; // not an attribute, which the page's policy forbids
      need("paper-facts").replaceChildren(
        swatch,
        ` Bare paper scans as ${r}, ${g}, ${b}; the light on it varies by ${rounded(paper.unevenness_percent)} %.`,
      );
    },
  };
}
