// Everything the page asks of a browser, probed once and in one place.

/** The smallest module with a 128-bit constant: valid only where the engine knows wide instructions. */
const WIDE = [
  0, 97, 115, 109, 1, 0, 0, 0, 1, 5, 1, 96, 0, 1, 123, 3, 2, 1, 0, 10, 10, 1, 8, 0, 65, 0, 253, 15, 253, 98, 11,
];

/**
 * What is missing, in words for the painter; null when nothing is.
 * @returns {string|null}
 */
export function missing() {
  if (typeof WebAssembly === "undefined" || typeof Worker === "undefined") {
    return "This browser cannot run the lift. Open the page in a current Chrome, Edge, Firefox or Safari.";
  }
  if (!WebAssembly.validate(new Uint8Array(WIDE))) {
    return "This browser is too old for the lift. Chrome or Edge from 91, Firefox from 89 or Safari from 16.4 will do.";
  }
  return null;
}

/** One line about the browser, for the help. */
export function capabilityLine() {
  const memory = /** @type {{deviceMemory?: number}} */ (navigator).deviceMemory;
  const known = memory ? `, about ${memory} GB of memory or more` : "";
  return `This computer: ${navigator.hardwareConcurrency || "?"} processor cores${known}.`;
}
