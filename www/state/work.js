// The scan on the table: which file is open, who lifts it, and what happens when that one breaks.
// Between the regions of the page on one side and the worker on the other; touches no element.

import { Client } from "../engine/client.js";
import { LiftError } from "../engine/protocol.js";

/**
 * @typedef {import("../engine/protocol.js").About} About
 * @typedef {import("./recipe.js").Recipe} Recipe
 * @typedef {Blob & {name: string}} Scan
 *
 * News for the page.
 * @typedef {object} Hearer
 * @property {(name: string) => void} reading              a file is being read
 * @property {(scan: {name: string, about: About, turned: boolean}) => void} opened  turned: another page of the same file
 * @property {() => void} unopened                          reading came to nothing; what was there before still is
 * @property {(turn: number) => void} changed               a recipe was sent and its picture is awaited
 * @property {(picture: import("../engine/protocol.js").Picture) => void} picture
 * @property {(found: import("../engine/protocol.js").Found) => void} found
 * @property {(progress: {stage: string, done: number}) => void} progress
 * @property {() => void} lifted
 * @property {(fault: import("../engine/protocol.js").Fault) => void} fault
 * @property {(words: string) => void} revived              the lift broke and was taken up again
 */

export class Work {
  /**
   * @param {object} parts
   * @param {() => Promise<import("../engine/client.js").Line>} parts.startLine starts a fresh worker
   * @param {import("./store.js").Store} parts.store
   * @param {Hearer} parts.hear
   */
  constructor({ startLine, store, hear }) {
    this.startLine = startLine;
    this.store = store;
    this.hear = hear;
    /** @type {Client|null} */
    this.client = null;
    /** @type {Scan|null} the file itself, so that it can be read again; its bytes are not kept here */
    this.scan = null;
    /** @type {About|null} what the file said */
    this.about = null;
    /** @type {number|null} the page that was asked for, counted from 0 */
    this.page = null;
    /** @type {import("../engine/protocol.js").Wish|null} */
    this.wish = null;
    this.openings = 0;
    /** Breakdowns since the last finished lift. */
    this.breakdowns = 0;
    /** @type {string|null} what to say once a broken lift has come to its end after all */
    this.revival = null;
    /** @type {Recipe|null} the recipe the worker has */
    this.sent = null;
    /** @type {Recipe|null} the last recipe that was lifted to the end */
    this.proven = null;
    store.listen((recipe) => this.send(recipe));
  }

  /**
   * Reads a scan. The one before stays, with everything done to it, until this one has been read.
   * @param {Scan} scan
   * @param {object} [known]
   * @param {number|null} [known.page]  counted from 0; the largest without it
   * @param {unknown} [known.recipe]    to begin with
   * @returns {Promise<boolean>} false when a later call overtook this one
   */
  async open(scan, { page = null, recipe = null } = {}) {
    this.openings += 1;
    const opening = this.openings;
    this.hear.reading(scan.name);
    try {
      const { client, opened } = await this.bring(scan, { page, recipe });
      if (opening !== this.openings) {
        client.end();
        return false;
      }
      this.client?.end();
      this.client = client;
      const turned = scan === this.scan;
      this.scan = scan;
      this.about = opened.about;
      this.page = page;
      this.breakdowns = 0;
      this.proven = null;
      this.revival = null;
      this.wish = null;
      this.sent = opened.recipe;
      this.store.begin(opened.recipe);
      this.hear.opened({ name: scan.name, about: opened.about, turned });
      return true;
    } catch (error) {
      if (opening !== this.openings) return false;
      this.hear.unopened();
      throw error;
    }
  }

  /**
   * A fresh worker with the scan read into it.
   * @param {Scan} scan
   * @param {{page: number|null, recipe: unknown}} known
   */
  async bring(scan, known) {
    const bytes = await bytesOf(scan);
    /** @type {Client} */
    const client = new Client(await this.startLine(), (news) => this.take(client, news));
    try {
      return { client, opened: await client.open(bytes, known) };
    } catch (error) {
      client.end();
      if (error instanceof LiftError && error.code === "crash") {
        throw new LiftError({
          code: "crash",
          message: `“${scan.name}” could not be read: the browser gave up on it, most likely for want of memory. Close other pages, or scan at a lower resolution, and try again.`,
        });
      }
      throw error;
    }
  }

  /**
   * @param {Client} client
   * @param {import("../engine/protocol.js").FromWorker} news
   */
  take(client, news) {
    if (news.say === "fault" && news.fault.code === "crash") {
      if (client === this.client) this.revive(news.fault);
      else client.end(news.fault);
      return;
    }
    if (client !== this.client) return;
    if (news.say === "picture") this.hear.picture(news);
    else if (news.say === "found") this.hear.found(news);
    else if (news.say === "progress") this.hear.progress(news);
    else if (news.say === "fault") this.hear.fault(news.fault);
    else if (news.say === "lifted" && news.turn === client.turn) {
      this.breakdowns = 0;
      this.proven = this.sent;
      this.hear.lifted();
      if (this.revival) this.hear.revived(this.revival);
      this.revival = null;
    }
  }

  /** @param {Recipe} recipe */
  send(recipe) {
    if (!this.client || recipe === this.sent) return;
    this.sent = recipe;
    this.hear.changed(this.client.setRecipe(recipe));
  }

  /** @param {import("../engine/protocol.js").Wish} wish */
  look(wish) {
    this.wish = wish;
    this.client?.setView(wish);
  }

  /**
   * Another page of the same file: a scan of its own, which begins anew.
   * @param {number} page counted from 0
   */
  async turnTo(page) {
    return this.scan !== null && this.open(this.scan, { page });
  }

  /**
   * Takes a recipe from a file, with the page that it is for. Nothing changes where it cannot be.
   * @param {unknown} read
   */
  async takeRecipe(read) {
    const { client, scan, about } = this;
    if (!client || !scan || !about) return;
    const page = /** @type {{scan?: {page?: unknown}}|null} */ (read)?.scan?.page;
    if (typeof page === "number" && Number.isInteger(page) && page > 0 && page !== about.page + 1) {
      await this.open(scan, { page: page - 1, recipe: read });
    } else {
      this.store.change(await client.check(read), "opened recipe");
    }
  }

  /**
   * Takes the lift up again after the worker broke: same file, same recipe. If it breaks again, with the last
   * recipe that is known to work; after that the scan is let go and the recipe kept.
   * @param {import("../engine/protocol.js").Fault} fault
   */
  async revive(fault) {
    const { scan, store } = this;
    this.client?.end(fault);
    this.client = null;
    if (!scan || !store.recipe) return;
    this.breakdowns += 1;
    const recipe = this.breakdowns === 1 ? store.recipe : this.proven;
    if (this.breakdowns > 2 || !recipe) {
      this.hear.fault({
        code: "crash",
        message: "The lift stopped and could not be taken up again, most likely for want of memory. Your recipe is still here: save it, close other pages, and open the scan anew.",
      });
      return;
    }
    const opening = this.openings;
    try {
      const { client } = await this.bring(scan, { page: this.page, recipe });
      if (opening !== this.openings) {
        client.end();
        return;
      }
      this.client = client;
      this.sent = recipe;
      if (recipe !== store.recipe) {
        if (this.breakdowns === 1) this.send(store.recipe); // moved meanwhile
        else store.change(recipe, "return to what lifts");
      }
      this.hear.changed(client.turn);
      if (this.wish) client.setView(this.wish);
      this.revival =
        this.breakdowns === 1
          ? "The lift stopped and was taken up again. Nothing is lost."
          : "The lift stopped at this recipe, so the last one that worked is back. Undo brings yours again.";
    } catch (error) {
      this.hear.fault({ code: "crash", message: error instanceof Error ? error.message : String(error) });
    }
  }
}

/** @param {Scan} scan @returns {Promise<Uint8Array<ArrayBuffer>>} */
async function bytesOf(scan) {
  try {
    return new Uint8Array(await scan.arrayBuffer());
  } catch {
    throw new LiftError({
      code: "malformed",
      message: `“${scan.name}” cannot be read from where it lies. If it was moved or renamed, choose it again; if it is a folder, open it and choose one scan.`,
    });
  }
}
