// The page's side of the conversation with one worker.
// One client is one worker and one scan; another scan gets another client, since only ending a worker
// gives its memory back.

import { LiftError } from "./protocol.js";

/** @typedef {import("./protocol.js").ToWorker} ToWorker */
/** @typedef {import("./protocol.js").FromWorker} FromWorker */

/**
 * What a client needs of a worker: a worker, or a port in tests.
 * @typedef {object} Line
 * @property {(message: any, transfer: Transferable[]) => void} postMessage
 * @property {(listener: (data: FromWorker) => void) => void} listen
 * @property {(listener: (message: string) => void) => void} failed  called when the worker itself breaks
 * @property {() => void} end
 */

export class Client {
  /**
   * @param {Line} line
   * @param {(news: Exclude<FromWorker, import("./protocol.js").Answer|import("./protocol.js").Refusal>) => void} news
   */
  constructor(line, news) {
    this.line = line;
    this.news = news;
    this.turn = 0;
    this.lastId = 0;
    this.ended = false;
    /** @type {Map<number, {resolve: (value: any) => void, reject: (error: Error) => void}>} */
    this.asked = new Map();
    line.listen((message) => this.take(message));
    line.failed((message) => this.news({ say: "fault", fault: { code: "crash", message } }));
  }

  /** @param {FromWorker} message */
  take(message) {
    if (this.ended) return;
    if (message.say !== "answer" && message.say !== "refusal") {
      this.news(message);
      return;
    }
    const question = this.asked.get(message.id);
    this.asked.delete(message.id);
    if (message.say === "answer") question?.resolve(message.value);
    else {
      question?.reject(new LiftError(message.fault));
      if (message.fault.code === "crash") this.news({ say: "fault", fault: message.fault });
    }
  }

  /**
   * @param {any} question
   * @param {Transferable[]} [transfer]
   * @returns {Promise<any>}
   */
  ask(question, transfer = []) {
    this.lastId += 1;
    const id = this.lastId;
    return new Promise((resolve, reject) => {
      this.asked.set(id, { resolve, reject });
      this.line.postMessage({ say: "ask", id, ...question }, transfer);
    });
  }

  /**
   * Reads a scan. The bytes are handed over and cannot be used here afterwards.
   * @param {Uint8Array} bytes
   * @param {{page: number|null, recipe: unknown}} known  which page, counted from 0, and the recipe to begin with
   * @returns {Promise<import("./protocol.js").Opened>}
   */
  open(bytes, { page, recipe }) {
    return this.ask({ what: "open", bytes, page, recipe, turn: this.turn }, [bytes.buffer]);
  }

  /** @param {unknown} recipe @returns {Promise<import("./protocol.js").Recipe>} */
  check(recipe) {
    return this.ask({ what: "check", recipe });
  }

  /** @param {number} x @param {number} y @returns {Promise<number>} */
  islandAt(x, y) {
    return this.ask({ what: "island", x, y });
  }

  /** @param {number} x @param {number} y @param {number} reach in sheet pixels @returns {Promise<import("./protocol.js").Piece|null>} */
  pieceAt(x, y, reach) {
    return this.ask({ what: "piece", x, y, reach });
  }

  /** Finishes the lift if need be. @param {import("./protocol.js").Saving} choices @returns {Promise<Uint8Array<ArrayBuffer>>} a file */
  save(choices) {
    return this.ask({ what: "save", choices });
  }

  /**
   * Tells the recipe as it stands now.
   * @param {import("./protocol.js").Recipe} recipe
   * @returns {number} its turn
   */
  setRecipe(recipe) {
    this.turn += 1;
    this.line.postMessage({ say: "recipe", recipe, turn: this.turn }, []);
    return this.turn;
  }

  /** @param {import("./protocol.js").Wish} wish */
  setView(wish) {
    this.line.postMessage({ say: "view", wish }, []);
  }

  /**
   * Ends the worker. Questions still open are refused.
   * @param {import("./protocol.js").Fault} [why]
   */
  end(why = { code: "cancelled", message: "The scan was put away." }) {
    this.ended = true;
    this.line.end();
    for (const { reject } of this.asked.values()) {
      reject(new LiftError(why));
    }
    this.asked.clear();
  }
}

/**
 * Starts a worker from text that is already in the page.
 * @param {string} source
 * @param {WebAssembly.Module} module
 * @returns {Line}
 */
export function startWorker(source, module) {
  const url = URL.createObjectURL(new Blob([source], { type: "text/javascript" }));
  const worker = new Worker(url);
  worker.postMessage({ say: "start", module });
  return {
    postMessage: (message, transfer) => worker.postMessage(message, transfer),
    listen: (listener) => {
      worker.onmessage = (event) => listener(event.data);
    },
    failed: (listener) => {
      worker.onerror = (event) => {
        event.preventDefault();
        listener(event.message || "The worker stopped.");
      };
    },
    end: () => {
      worker.terminate();
      URL.revokeObjectURL(url);
    },
  };
}
