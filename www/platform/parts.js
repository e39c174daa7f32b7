// The parts the bundler put into the page as inert text: the worker, the module and the demo sheet.

/** @param {string} id */
function textOf(id) {
  const text = document.getElementById(id)?.textContent;
  if (!text) throw new Error(`the page was built without its part "${id}"`);
  return text;
}

/**
 * @param {string} text base64
 * @returns {Uint8Array<ArrayBuffer>}
 */
function bytesOf(text) {
  const native = /** @type {any} */ (Uint8Array).fromBase64; // several times quicker, where there is one
  if (native) return native.call(Uint8Array, text.trim());
  const binary = atob(text.trim());
  const bytes = new Uint8Array(binary.length);
  for (let i = 0; i < binary.length; i += 1) bytes[i] = binary.charCodeAt(i);
  return bytes;
}

/** The script that runs in the worker. */
export const workerSource = () => textOf("worker-source");

/** @type {Promise<WebAssembly.Module>|undefined} */
let compiled;

/** The module, compiled once for all workers to come. */
export function wasmModule() {
  compiled ??= WebAssembly.compile(bytesOf(textOf("module-wasm")));
  return compiled;
}

/** The demo sheet as a file. */
export function demoSheet() {
  return new File([bytesOf(textOf("demo-sheet"))], "tide-pool-demo.jpg", { type: "image/jpeg" });
}
