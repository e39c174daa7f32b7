// Starts the module inside the worker and connects a Lifter to it. The bundler puts the module's own glue,
// which defines `wasm_bindgen`, in front of this file: a worker made from a blob cannot import anything.

import { Lifter } from "./lifter.js";
import { faultOf } from "./protocol.js";

/** @typedef {import("./protocol.js").ToWorker} ToWorker */

/** @type {any} */
const port = self;

// A channel of its own is the quickest way behind the waiting messages: timers are held back by 4 ms each.
const channel = new MessageChannel();
/** @type {(() => void)[]} */
const waiting = [];
channel.port1.onmessage = () => waiting.shift()?.();

const lifter = new Lifter({
  tell: (message, transfer = []) => port.postMessage(message, transfer),
  // @ts-ignore -- defined by the glue in front
  open: (bytes, page) => new wasm_bindgen.Session(bytes, page),
  defer: (run) => {
    waiting.push(run);
    channel.port2.postMessage(0);
  },
  now: () => performance.now(),
});

port.onmessage = (/** @type {MessageEvent<ToWorker>} */ event) => {
  const message = event.data;
  if (message.say !== "start") {
    lifter.take(message);
    return;
  }
  try {
    // @ts-ignore -- defined by the glue in front
    wasm_bindgen.initSync({ module: message.module });
  } catch (thrown) {
    port.postMessage({ say: "fault", fault: { ...faultOf(thrown), code: "crash" } });
  }
};
