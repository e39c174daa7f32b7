// Step 1, Scan: what the file is, which of its pages, how large the original was, and what the painter may know better.

import { LEAST_PPI, MM_IN, MOST_PPI, millimeters, ppiFromWidth, rounded, sizeWords } from "../state/size.js";
import { make, need } from "./need.js";

/** @typedef {import("../engine/protocol.js").About} About */

/**
 * @param {import("../state/store.js").Store} store
 * @param {object} hooks
 * @param {(page: number) => Promise<unknown>} hooks.turnTo  another page is wanted, counted from 0
 * @param {(words: string) => void} hooks.refused            what was typed cannot be
 */
export function scanStep(store, { turnTo, refused }) {
  const ppi = need("ppi", HTMLInputElement);
  const wide = need("original-width", HTMLInputElement);
  const unit = need("original-unit", HTMLSelectElement);
  const page = need("page", HTMLInputElement);
  /** @type {About|null} what the file said */
  let about = null;

  const unitNow = () => /** @type {import("../state/size.js").Unit} */ (unit.value);
  /** What the painter stated, or else what the file says. */
  const known = () => store.recipe?.scan.ppi ?? about?.ppi ?? null;

  /** @param {number|null} value @param {string} from words for what was typed */
  function state(value, from) {
    if (value !== null && !(value >= LEAST_PPI && value <= MOST_PPI)) {
      refused(`${from} A scan has ${LEAST_PPI} to ${MOST_PPI} pixels per inch.`);
      show();
      return;
    }
    const stated = value === null ? null : Math.round(value * 1000) / 1000;
    if (stated !== store.recipe?.scan.ppi) store.set("scan.ppi", stated, "resolution");
  }

  ppi.addEventListener("change", () => {
    // Left empty, the file's own word holds again.
    if (ppi.value === "") state(null, "");
    else state(ppi.valueAsNumber, `${ppi.value} is no resolution.`);
  });
  wide.addEventListener("change", () => {
    if (!about) return;
    if (wide.value === "") {
      state(null, "");
      return;
    }
    const found = ppiFromWidth(about.width, wide.valueAsNumber, unitNow());
    const would = Number.isFinite(found) && found > 0 ? ` would be ${rounded(found)} pixels per inch` : " is no size";
    state(found, `${about.width} pixels on ${wide.value} ${unit.value}${would}: check the width and its unit.`);
  });
  unit.addEventListener("change", show);
  store.listen(show);
  need("pages", HTMLFormElement).addEventListener("submit", (event) => {
    event.preventDefault();
    if (about && page.valueAsNumber - 1 !== about.page) turnTo(page.valueAsNumber - 1).finally(show);
  });

  function show() {
    if (!about) return;
    const now = known();
    const stated = store.recipe?.scan.ppi != null;
    ppi.value = now === null ? "" : rounded(now);
    wide.value = now === null ? "" : rounded(millimeters(about.width, now) / MM_IN[unitNow()]);
    need("resolution-words").textContent =
      now === null
        ? "The file does not say how large the original is. Until you do, sizes in mm are a guess."
        : `The original is ${sizeWords(about.width, about.height, now)} at ${rounded(now)} ppi.`;
    const noted = [now === null && "size not known", about.pages > 1 && `page ${about.page + 1} of ${about.pages}`];
    need("scan-noted").textContent = noted.filter(Boolean).join(", ");
    need("resolution").classList.toggle("wanting", now === null);
    // What is wrong with the file's resolution is of no concern once the painter has stated it.
    const remarks = about.warnings.filter((one) => !(stated && one.code.endsWith("-ppi")));
    need("warnings").replaceChildren(...remarks.map((one) => make("li", {}, one.message)));
    need("save-words").textContent =
      `${about.width} × ${about.height} pixels` + (now === null ? ", resolution not known" : ` at ${rounded(now)} ppi`);
    need("pages").hidden = about.pages < 2;
    page.max = String(about.pages);
    page.value = String(about.page + 1);
    need("page-count").textContent = `of ${about.pages}`;
  }

  return {
    /** @param {string} name @param {About} now */
    show(name, now) {
      about = now;
      need("scan-name").textContent = name;
      const profile = now.profile ? `, profile ${now.profile}` : "";
      need("facts").textContent =
        `${now.format.toUpperCase()}, ${now.width} × ${now.height} pixels, ${now.bits} bit${profile}.`;
      show();
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
