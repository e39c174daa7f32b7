// Undo and redo, each with the name of what it will do.

import { need } from "./need.js";
import { say } from "./status.js";

/** @param {import("../state/store.js").Store} store */
export function historyButtons(store) {
  const undo = need("undo");
  const redo = need("redo");
  const back = () => {
    const name = store.history?.undoName;
    if (name == null) return;
    store.undo();
    say(`Undone: ${name}`);
  };
  const forth = () => {
    const name = store.history?.redoName;
    if (name == null) return;
    store.redo();
    say(`Redone: ${name}`);
  };
  undo.addEventListener("click", back);
  redo.addEventListener("click", forth);
  store.listen(() => {
    need("history").hidden = false;
    for (const [button, id, name] of /** @type {[HTMLElement, string, string|null][]} */ ([
      [undo, "undo-name", store.history?.undoName ?? null],
      [redo, "redo-name", store.history?.redoName ?? null],
    ])) {
      // Not `disabled`: that would throw the keyboard focus off the button with the last step.
      button.setAttribute("aria-disabled", String(name === null));
      need(id).textContent = name ?? "";
    }
  });
  return { back, forth };
}
