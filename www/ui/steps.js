// The row of steps. Arrow keys go along the row, as in every row of tabs.

/** @typedef {"scan"|"lift"|"whites"|"marks"|"save"} Step */

import { need } from "./need.js";

/**
 * @param {(step: Step) => void} changed
 * @returns {{show: (step: Step) => void, current: () => Step}}
 */
export function steps(changed) {
  const row = need("steps");
  const tabs = /** @type {HTMLButtonElement[]} */ ([...row.querySelectorAll("[role=tab]")]);
  const stepOf = (/** @type {Element} */ tab) => /** @type {Step} */ (tab.id.replace("tab-", ""));
  let current = /** @type {Step} */ ("lift");

  /** @param {Step} step */
  function show(step) {
    for (const tab of tabs) {
      const here = stepOf(tab) === step;
      tab.setAttribute("aria-selected", String(here));
      tab.tabIndex = here ? 0 : -1;
      need(`step-${stepOf(tab)}`).hidden = !here;
    }
    if (step === current) return;
    current = step;
    changed(step);
  }

  row.addEventListener("click", (event) => {
    const tab = /** @type {Element} */ (event.target).closest("[role=tab]");
    if (tab) show(stepOf(tab));
  });
  row.addEventListener("keydown", (event) => {
    const here = tabs.findIndex((tab) => stepOf(tab) === current);
    const last = tabs.length - 1;
    const places = { ArrowLeft: here - 1, ArrowRight: here + 1, Home: 0, End: last };
    const next = places[/** @type {keyof typeof places} */ (event.key)];
    if (next === undefined) return;
    event.preventDefault();
    const tab = tabs[next < 0 ? last : next > last ? 0 : next];
    show(stepOf(tab));
    tab.focus();
  });
  return { show, current: () => current };
}
