// Step 3, Whites: the list of enclosed white areas, the one in hand, and what to do with it.

import { loopsOf } from "../state/outline.js";
import { rounded } from "../state/size.js";
import { make, need } from "./need.js";
import { say } from "./status.js";

/** @typedef {import("../engine/protocol.js").Island} Island */
/** @typedef {import("../state/outline.js").Loop} Loop */

/** The list shows so many; a longer one would be read by nobody. The picture outlines more. */
const LISTED = 100;

const SURE = /** @type {[number, string][]} */ ([
  [0.9, "nearly sure"],
  [0.7, "fairly sure"],
  [0.55, "in doubt"],
  [0, "hard to tell"],
]);

/** @param {Island} island */
export function islandWords(island) {
  const area = `${rounded(island.area_mm2)} mm²`;
  if (island.decided) return `${area}, ${island.decision === "keep" ? "kept white" : "cleared"}`;
  const sure = SURE.find(([least]) => island.confidence >= least)?.[1];
  return `${area}, ${island.decision === "keep" ? "to keep" : "to clear"}, ${sure}`;
}

/** @param {number} count */
function followWords(count) {
  return count === 1 ? "One area like it follows" : `${count} areas like it follow`;
}

/**
 * @param {import("../state/store.js").Store} store
 * @param {object} hooks
 * @param {() => void} hooks.redraw              the outlines have to be drawn again
 * @param {(island: Island) => void} hooks.look  bring an area into view
 */
export function whitesStep(store, { redraw, look }) {
  const list = need("whites");
  /** @type {Island[]} */
  let islands = [];
  let known = false;
  /** @type {Float32Array[]} outlines of the first of the islands, as they came */
  let outlines = [];
  /** @type {Loop[][]} their loops, joined when they are first needed: most are never in sight */
  let joined = [];
  const loopsAt = (/** @type {number} */ place) => (joined[place] ??= loopsOf(outlines[place] ?? []));
  /** What was to become of each undecided area before the last decision, until its lift has come. @type {Map<string, string>|null} */
  let before = null;
  /** How many areas went along with the last decision. */
  let followers = 0;
  /** @type {[number, number]|null} the area in hand, by its pixel: indices change with every lift */
  let hand = null;

  const inHand = () => islands.findIndex((one) => hand !== null && one.at[0] === hand[0] && one.at[1] === hand[1]);

  /** @param {Island} island @param {boolean} [near] */
  function take(island, near = true) {
    hand = island.at;
    followers = 0;
    show();
    redraw();
    if (near) look(island);
    say(`White area ${islands.indexOf(island) + 1} of ${islands.length}, ${islandWords(island)}`);
  }

  /** @param {number} by */
  function go(by) {
    if (islands.length === 0) return;
    const here = inHand();
    const next = here < 0 ? (by > 0 ? 0 : islands.length - 1) : (here + by + islands.length) % islands.length;
    take(islands[next]);
  }

  /** @param {Island} island @param {"keep"|"clear"} choice */
  function decide(island, choice) {
    hand = island.at;
    followers = 0;
    before = new Map(islands.filter((one) => !one.decided && one !== island).map((one) => [String(one.at), one.decision]));
    store.decide(island.at, choice, loopsAt(islands.indexOf(island)));
    say(choice === "keep" ? "Kept white" : "Cleared");
  }

  /** Counts the areas that went along with the last decision, because they look like the one decided. */
  function countFollowers() {
    const turned = (/** @type {Island} */ one) => !one.decided && (before?.get(String(one.at)) ?? one.decision) !== one.decision;
    followers = islands.filter(turned).length;
    before = null;
    if (followers > 0) say(followWords(followers));
  }

  /** @param {"keep"|"clear"} choice */
  function decideInHand(choice) {
    const here = inHand();
    if (here < 0) go(1);
    else decide(islands[here], choice);
  }

  function show() {
    const here = inHand();
    const open = islands.filter((one) => one.asked).length;
    const areas = (/** @type {number} */ n) => `${n} white ${n === 1 ? "area" : "areas"}`;
    need("whites-open").textContent = open > 0 ? `${open} to look at` : "";
    need("whites-summary").textContent =
      islands.length === 0
        ? known ? "No white areas are enclosed by the paint." : "The white areas are still being looked for."
        : open === 0
          ? `${areas(islands.length)}, nothing left to decide.`
          : `${open} of ${areas(islands.length)} to look at.${islands.length > LISTED ? ` The ${LISTED} in greatest doubt are listed.` : ""}`;
    need("whites-current").textContent =
      here < 0
        ? islands.length > 0 ? "Take one from the list, or click it in the picture." : ""
        : `Number ${here + 1}: ${islandWords(islands[here])}${followers > 0 ? `. ${followWords(followers)}.` : ""}`;
    const current = islands[here];
    need("white-keep").setAttribute("aria-pressed", String(current?.decision === "keep"));
    need("white-clear").setAttribute("aria-pressed", String(current?.decision === "clear"));
    for (const id of ["white-previous", "white-next", "white-keep", "white-clear"]) {
      need(id).setAttribute("aria-disabled", String(islands.length === 0));
    }
    showList(here);
  }

  /** @param {number} here */
  function showList(here) {
    if (need("step-whites").hidden) return; // a dial that moves should not build a list that nobody sees
    const focused = [...list.querySelectorAll("button")].indexOf(/** @type {any} */ (document.activeElement));
    list.replaceChildren(
      ...islands.slice(0, LISTED).map((island, place) => {
        const button = make(
          "button",
          { type: "button", class: island.decided ? "decided" : "open", "aria-current": place === here ? "true" : "false" },
          make("span", { class: `sign ${island.decision}`, "aria-hidden": true }),
          `${place + 1}: ${islandWords(island)}`,
        );
        button.addEventListener("click", () => take(island));
        return make("li", {}, button);
      }),
    );
    if (focused >= 0) /** @type {HTMLElement|undefined} */ (list.querySelectorAll("button")[focused])?.focus();
    const current = /** @type {HTMLElement|null} */ (list.querySelector("[aria-current=true]"));
    if (current) {
      // Not scrollIntoView: on a small screen that would move the whole page under the painter's hand.
      const bottom = current.offsetTop + current.offsetHeight;
      list.scrollTop = Math.min(current.offsetTop, Math.max(list.scrollTop, bottom - list.clientHeight));
    }
  }

  need("white-previous").addEventListener("click", () => go(-1));
  need("white-next").addEventListener("click", () => go(1));
  need("white-keep").addEventListener("click", () => decideInHand("keep"));
  need("white-clear").addEventListener("click", () => decideInHand("clear"));
  const rest = /** @type {HTMLInputElement[]} */ ([...document.querySelectorAll("[name=islands-default]")]);
  for (const radio of rest) {
    radio.addEventListener("change", () => store.set("islands.default", radio.value, "undecided whites"));
  }
  store.listen((recipe) => {
    for (const radio of rest) radio.checked = radio.value === recipe.islands.default;
  });

  return {
    go,
    decideInHand,
    /** @param {import("../engine/protocol.js").Found} found */
    found(found) {
      islands = found.list;
      known = true;
      outlines = found.outlines;
      joined = [];
      if (before !== null) countFollowers();
      show();
      redraw();
    },
    /** A new scan: nothing in hand. */
    forget() {
      hand = null;
      before = null;
      followers = 0;
      known = false;
      islands = [];
      outlines = [];
      joined = [];
      show();
    },
    /**
     * A click in the picture: turns the area over.
     * @param {number} index of the module
     * @param {boolean} turn false: only take it in hand
     */
    clicked(index, turn) {
      const island = islands.find((one) => one.index === index);
      if (!island) return;
      if (turn) decide(island, island.decision === "keep" ? "clear" : "keep");
      else take(island, false);
    },
    /** What the picture has to outline. @returns {{island: Island, loops: () => Loop[], current: boolean}[]} */
    outlined() {
      const here = inHand();
      return outlines.map((_, place) => ({ island: islands[place], loops: () => loopsAt(place), current: place === here }));
    },
    /** Brings the list up to date when its step comes into view. */
    show,
  };
}
