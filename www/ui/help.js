// The help: a native dialog, which brings its own focus trap and Escape key.

import { make, need } from "./need.js";

/** @param {string} capabilities a line about the browser, for those who ask for help with it */
export function helpDialog(capabilities) {
  const dialog = need("help", HTMLDialogElement);
  const show = () => dialog.showModal();
  need("help-open").addEventListener("click", show);
  need("help-close").addEventListener("click", () => dialog.close());
  need("about-words").replaceChildren(make("span", {}, capabilities));
  return { show };
}
