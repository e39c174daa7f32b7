// Messages that stay until they are closed. An error takes nothing away: it only says what happened and what to do.

import { make, need } from "./need.js";

/**
 * @param {string} words
 * @param {"error"|"remark"} [kind] an error is read out at once, a remark when there is a pause
 */
export function notice(words, kind = "error") {
  const region = need("notices");
  // One remark at a time is enough; an error stays until it is closed, but is not said twice.
  for (const old of region.querySelectorAll(kind === "remark" ? ".remark" : ".error")) {
    if (kind === "remark" || old.querySelector("p")?.textContent === words) old.remove();
  }
  const close = make("button", { type: "button" }, "Close");
  const said = make("p", { role: kind === "error" ? "alert" : "status" });
  const box = make("div", { class: `notice ${kind}` }, said, close);
  close.addEventListener("click", () => {
    box.remove();
    const next = /** @type {HTMLElement|null} */ (region.querySelector("button") ?? document.querySelector("#stage:not([hidden])"));
    next?.focus();
  });
  region.append(box);
  // The text comes after the element, since an alert that is born with its text goes unread in some screen readers.
  said.textContent = words;
}

/** Takes all errors away, once what was tried has worked. */
export function clearNotices() {
  need("notices").replaceChildren();
}
