// Step 5, Save: the painting as a file of any of three formats, and the recipe as a file. What is chosen here stays until the page is
// closed, for the next scan too.

import { download, nameFrom } from "../platform/download.js";
import { need } from "./need.js";
import { notice } from "./notice.js";
import { endProgress, say, showProgress } from "./status.js";

/** @typedef {import("../engine/protocol.js").Saving} Saving */

/** The formats: what they are called, how their files end, and what a browser calls them. */
const FORMATS = {
  png: { name: "PNG", ending: ".png", type: "image/png" },
  tiff: { name: "TIFF", ending: ".tif", type: "image/tiff" },
  webp: { name: "WebP", ending: ".webp", type: "image/webp" },
};

/**
 * @param {import("../state/work.js").Work} work
 * @param {import("../state/store.js").Store} store
 * @param {() => void} openRecipe
 */
export function saveStep(work, store, openRecipe) {
  const button = need("save");
  const formats = /** @type {HTMLInputElement[]} */ ([...document.querySelectorAll("[name=format]")]);
  const [flat, deep] = /** @type {HTMLInputElement[]} */ ([...document.querySelectorAll("[name=bits]")]);
  const words = (/** @type {string} */ id) => need(id, HTMLInputElement).value.trim();
  let saving = false;
  let wasDeep = false;

  /** @returns {Saving} */
  function choices() {
    const format = /** @type {Saving["format"]} */ (formats.find((one) => one.checked)?.value ?? "png");
    return {
      format,
      bits: deep.checked ? 16 : 8,
      title: words("sign-title"),
      artist: words("sign-artist"),
      copyright: words("sign-copyright"),
      profile: need("sign-profile", HTMLInputElement).checked,
    };
  }

  // A WebP has 8 bits: the deeper choice waits, and comes back with another format.
  function chosen() {
    const { format, bits } = choices();
    if (format === "webp" && !deep.disabled) {
      wasDeep = bits === 16;
      flat.checked = true;
    } else if (format !== "webp" && deep.disabled) {
      deep.checked = wasDeep;
      flat.checked = !wasDeep;
    }
    deep.disabled = format === "webp";
    button.textContent = `Save ${FORMATS[format].name}`;
  }

  async function save() {
    const { client, scan, about } = work;
    if (saving || !client || !scan) return;
    saving = true;
    button.setAttribute("aria-disabled", "true");
    const wanted = choices();
    const { ending, type } = FORMATS[wanted.format];
    showProgress("art", null);
    try {
      const bytes = await client.save(wanted);
      const name = nameFrom(scan.name, about, `.lifted${ending}`);
      download(new Blob([bytes], { type }), name);
      say(`Saved as ${name}`);
    } catch (error) {
      notice(error instanceof Error ? error.message : String(error));
    } finally {
      saving = false;
      button.setAttribute("aria-disabled", "false");
      endProgress();
    }
  }

  for (const one of formats) one.addEventListener("change", chosen);
  chosen(); // a page that is loaded again may find its choices where they were
  button.addEventListener("click", save);
  need("recipe-open").addEventListener("click", openRecipe);
  need("recipe-save").addEventListener("click", () => {
    const { scan, about } = work;
    const { recipe } = store;
    if (!scan || !recipe) return;
    const text = `${JSON.stringify(recipe, null, 2)}\n`;
    const name = nameFrom(scan.name, about, ".barewash.json");
    download(new Blob([text], { type: "application/json" }), name);
    say(`Saved as ${name}`);
  });
  return { save };
}
