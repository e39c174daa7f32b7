// All keys in one table: the page acts on it and the help lists it, so neither can say what the other does not do.

import { make, need } from "./need.js";

/**
 * @typedef {object} Key
 * @property {string} shown   what the help prints
 * @property {string} words   what it does
 * @property {string[]} [keys]  as KeyboardEvent.key, letters in lower case
 * @property {boolean} [control]  together with Control (Command on a Mac)
 * @property {boolean} [shift]
 * @property {() => void} [down]
 * @property {() => void} [up]
 */

/** @param {Key[]} table */
export function listenToKeys(table) {
  const singles = need("single-keys", HTMLInputElement);

  /** @param {KeyboardEvent} event */
  function find(event) {
    const control = event.ctrlKey || event.metaKey;
    if (event.altKey) return undefined;
    if (!control && (!singles.checked || typing(event.target))) return undefined;
    const pressed = event.key.toLowerCase();
    // What was written in a field is taken back there, not on the painting.
    if (control && (pressed === "z" || pressed === "y") && writing(event.target)) return undefined;
    return table.find(
      (key) =>
        key.keys?.includes(pressed) &&
        Boolean(key.control) === control &&
        (!key.control || Boolean(key.shift) === event.shiftKey),
    );
  }

  window.addEventListener("keydown", (event) => {
    if (event.defaultPrevented || need("help", HTMLDialogElement).open) return;
    const key = find(event);
    if (!key?.down) return;
    event.preventDefault();
    if (!event.repeat || !key.up) key.down();
  });
  // Letting go counts wherever the focus went meanwhile.
  window.addEventListener("keyup", (event) => {
    for (const key of table) if (key.keys?.includes(event.key.toLowerCase())) key.up?.();
  });
  // A key that is let go in another window never says so here.
  window.addEventListener("blur", () => {
    for (const key of table) key.up?.();
  });

  need("keys").querySelector("tbody")?.append(
    ...table.map(({ shown, words }) =>
      make("tr", {}, make("td", {}, ...shown.split(" ").map(cap)), make("td", {}, words)),
    ),
  );
}

/** "held" is no key but how to use one. @param {string} part @returns {Node|string} */
function cap(part) {
  return part === "held" ? ` ${part}` : make("kbd", {}, part);
}

/** Whether the field that has the focus holds words. @param {EventTarget|null} target */
function writing(target) {
  return target instanceof HTMLTextAreaElement || (target instanceof HTMLInputElement && target.type === "text");
}

/** Whether letters belong to the field that has the focus. @param {EventTarget|null} target */
function typing(target) {
  if (target instanceof HTMLSelectElement || target instanceof HTMLTextAreaElement) return true;
  return target instanceof HTMLInputElement && ["text", "number", "search"].includes(target.type);
}
