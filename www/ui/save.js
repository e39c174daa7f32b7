// Step 5, Save: the painting as a PNG, and the recipe as a file.

import { download, nameFrom } from "../platform/download.js";
import { need } from "./need.js";
import { notice } from "./notice.js";
import { endProgress, say, showProgress } from "./status.js";

/**
 * @param {import("../state/work.js").Work} work
 * @param {import("../state/store.js").Store} store
 * @param {() => void} openRecipe
 */
export function saveStep(work, store, openRecipe) {
  const button = need("save");
  let saving = false;

  async function save() {
    const { client, scan } = work;
    if (saving || !client || !scan) return;
    saving = true;
    button.setAttribute("aria-disabled", "true");
    const bits = document.querySelector("[name=bits][value='16']:checked") ? 16 : 8;
    showProgress("art", null);
    try {
      const bytes = await client.save({ format: "png", bits });
      const name = nameFrom(scan.name, ".lifted.png");
      download(new Blob([bytes], { type: "image/png" }), name);
      say(`Saved as ${name}`);
    } catch (error) {
      notice(error instanceof Error ? error.message : String(error));
    } finally {
      saving = false;
      button.setAttribute("aria-disabled", "false");
      endProgress();
    }
  }

  button.addEventListener("click", save);
  need("recipe-open").addEventListener("click", openRecipe);
  need("recipe-save").addEventListener("click", () => {
    const { scan } = work;
    const { recipe } = store;
    if (!scan || !recipe) return;
    const text = `${JSON.stringify(recipe, null, 2)}\n`;
    const name = nameFrom(scan.name, ".barewash.json");
    download(new Blob([text], { type: "application/json" }), name);
    say(`Saved as ${name}`);
  });
  return { save };
}
