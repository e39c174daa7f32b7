// The worker's side of the conversation: owns the session and decides what to do next.
// Knows neither workers nor the module, so that it runs over any pair of ports in a test.
//
// It never works for longer than one piece at a time. Between two pieces it lets the messages in that have
// come meanwhile, so a dial that moves during the long lift waits for one piece (some 60 ms) at most.

import { faultOf } from "./protocol.js";

/** @typedef {import("./protocol.js").ToWorker} ToWorker */
/** @typedef {import("./protocol.js").FromWorker} FromWorker */

/**
 * How long a dial must rest before the full-resolution lift goes on, in milliseconds. Shorter, and a slow hand
 * waits for a piece of the lift between two movements; longer, and the finished picture comes late.
 */
export const REST = 150;

/** Progress is told this often at most, in milliseconds: often enough for a bar that moves. */
const NEWS = 80;

/** Outlines are made for the first so many white areas; the list has the largest doubts first. */
export const OUTLINED = 300;

export class Lifter {
  /**
   * @param {object} world
   * @param {(message: FromWorker, transfer?: Transferable[]) => void} world.tell
   * @param {(bytes: Uint8Array, page: number|undefined) => any} world.open  makes a session of the module (see its .d.ts)
   * @param {(run: () => void) => void} world.defer    runs it after the messages that wait now
   * @param {() => number} world.now                   milliseconds
   */
  constructor({ tell, open, defer, now }) {
    this.tell = tell;
    this.openSession = open;
    this.defer = defer;
    this.now = now;
    /** @type {any} */
    this.session = null;
    /** @type {import("./protocol.js").RecipeState|null} */
    this.newRecipe = null;
    /** @type {import("./protocol.js").Wish|null} */
    this.wish = null;
    this.turn = 0;
    this.previewDue = false;
    this.drawDue = false;
    this.outlinesDue = false;
    this.restUntil = 0;
    this.lastNews = 0;
    this.lifted = false;
    /** @type {{id: number, choices: import("./protocol.js").Saving}[]} */
    this.saves = [];
    this.planned = false;
    /** @type {ReturnType<typeof setTimeout>|undefined} */
    this.timer = undefined;
  }

  /** @param {ToWorker} message */
  take(message) {
    if (message.say === "recipe") {
      this.newRecipe = message;
    } else if (message.say === "view") {
      this.outlinesDue ||= message.wish.outlines && !this.wish?.outlines;
      this.wish = message.wish;
      this.drawDue = true;
    } else if (message.say === "ask") {
      try {
        this.answer(message);
      } catch (thrown) {
        this.tell({ say: "refusal", id: message.id, fault: faultOf(thrown) });
      }
    }
    this.plan();
  }

  /** @param {Extract<ToWorker, {say: "ask"}>} asked */
  answer(asked) {
    const reply = (/** @type {any} */ value) => this.tell({ say: "answer", id: asked.id, value });
    if (asked.what === "open") {
      this.session = this.openSession(asked.bytes, asked.page ?? undefined);
      const about = JSON.parse(this.session.about()); // before the recipe has its say
      if (asked.recipe !== null) this.session.set_recipe(JSON.stringify(asked.recipe));
      this.turn = asked.turn;
      this.previewDue = true;
      reply({ about, recipe: JSON.parse(this.session.recipe()) });
      return;
    }
    if (!this.session) throw Object.assign(new Error("There is no scan open."), { code: "parameter" });
    if (asked.what === "check") {
      // The session's own recipe stands again afterwards: checking must change nothing.
      const own = this.session.recipe();
      try {
        this.session.set_recipe(JSON.stringify(asked.recipe));
        reply(JSON.parse(this.session.recipe()));
      } finally {
        this.session.set_recipe(own);
        this.stale();
      }
    } else if (asked.what === "island") {
      reply(this.session.island_at(asked.x, asked.y));
    } else if (asked.what === "piece") {
      reply(JSON.parse(this.session.piece_at(asked.x, asked.y, asked.reach)));
    } else if (asked.what === "save") {
      this.saves.push({ id: asked.id, choices: asked.choices });
    }
  }

  /** What was lifted so far no longer holds. */
  stale() {
    this.previewDue = true;
    this.lifted = false;
  }

  /** Arranges for the next piece of work, once. */
  plan() {
    if (this.planned) return;
    this.planned = true;
    this.defer(() => {
      this.planned = false;
      this.work();
    });
  }

  work() {
    if (!this.session) return;
    try {
      if (this.workOnce()) this.plan();
    } catch (thrown) {
      const fault = faultOf(thrown);
      this.tell({ say: "fault", fault });
      // Whoever waits for a file must not wait forever.
      for (const { id } of this.saves.splice(0)) this.tell({ say: "refusal", id, fault });
    }
  }

  /** One piece of work. @returns {boolean} whether there is more to do now */
  workOnce() {
    if (this.newRecipe) {
      const { recipe, turn } = this.newRecipe;
      this.newRecipe = null;
      this.turn = turn;
      this.session.set_recipe(JSON.stringify(recipe));
      this.stale();
      this.restUntil = this.now() + REST;
    }
    if (this.previewDue) {
      this.previewDue = false;
      this.session.preview();
      this.draw();
      this.tellFound();
      return true;
    }
    if (this.drawDue) {
      this.draw();
      return true;
    }
    if (this.outlinesDue) {
      this.tellFound();
      return true;
    }
    return this.liftOn();
  }

  /** Goes on with the full-resolution lift. */
  liftOn() {
    if (!this.session.finished()) {
      const rest = this.saves.length > 0 ? 0 : this.restUntil - this.now();
      if (rest > 0) {
        clearTimeout(this.timer);
        this.timer = setTimeout(() => this.plan(), rest);
        return false;
      }
      const before = this.session.stage();
      const done = this.session.step();
      // The list of white areas is there well before the picture is: each stage may have brought it.
      if (this.session.stage() !== before) this.tellFound();
      if (this.now() - this.lastNews >= NEWS || done === 1) {
        this.lastNews = this.now();
        this.tell({ say: "progress", stage: this.session.stage(), done });
      }
      return true;
    }
    if (!this.lifted) {
      this.lifted = true;
      this.draw();
      this.tellFound();
      this.tell({ say: "lifted", turn: this.turn });
      return true;
    }
    const save = this.saves.shift();
    if (save) this.save(save);
    return this.saves.length > 0;
  }

  draw() {
    this.drawDue = false;
    if (!this.wish) return;
    const { pane, ground } = this.wish;
    const seen = this.session.draw(pane.x, pane.y, pane.scale, pane.width, pane.height, ground);
    // A copy, because the view looks into the module's own memory; the copy is handed over, not cloned.
    const pixels = seen.slice();
    this.tell({ say: "picture", pane, ground, pixels, turn: this.turn, whole: this.session.finished() }, [pixels.buffer]);
  }

  tellFound() {
    this.outlinesDue = false;
    const list = JSON.parse(this.session.islands());
    // While a lift is under way there may be no list yet: what the page has is then the better answer.
    if (list.length === 0 && !this.session.finished()) return;
    const outlined = this.wish?.outlines ? list.slice(0, OUTLINED) : [];
    const outlines = outlined.map((/** @type {{index: number}} */ one) => this.session.island_outline(one.index));
    const { paper } = JSON.parse(this.session.report());
    this.tell({ say: "found", list, outlines, paper, turn: this.turn });
  }

  /** @param {{id: number, choices: import("./protocol.js").Saving}} save */
  save({ id, choices }) {
    this.tell({ say: "progress", stage: "write", done: 0 });
    try {
      const made = this.session.save(JSON.stringify(choices));
      // Only a buffer of its own can be handed over.
      const bytes = made.byteLength === made.buffer.byteLength ? made : made.slice();
      this.tell({ say: "answer", id, value: bytes }, [bytes.buffer]);
    } catch (thrown) {
      this.tell({ say: "refusal", id, fault: faultOf(thrown) });
    }
  }
}
