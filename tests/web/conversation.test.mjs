// The page's side and the worker's side talk over a real MessageChannel; only the session behind is a double.

import assert from "node:assert/strict";
import { afterEach, test } from "node:test";
import { Client } from "../../www/engine/client.js";
import { Lifter } from "../../www/engine/lifter.js";
import { Store } from "../../www/state/store.js";
import { Work } from "../../www/state/work.js";
import { SessionDouble } from "./session_double.mjs";

/** @type {MessagePort[]} */
const ports = [];
afterEach(() => {
  for (const port of ports.splice(0)) port.close();
});

/** A worker that is none: a Lifter at the far end of a channel. */
function lineToLifter(sessions = []) {
  const { port1, port2 } = new MessageChannel();
  ports.push(port1, port2);
  const lifter = new Lifter({
    tell: (message, transfer = []) => port2.postMessage(message, transfer),
    open: (bytes, page) => {
      const session = new SessionDouble(bytes, page);
      sessions.push(session);
      return session;
    },
    defer: setImmediate,
    now: () => performance.now(),
  });
  port2.onmessage = (event) => lifter.take(event.data);
  return {
    postMessage: (message, transfer) => port1.postMessage(message, transfer),
    listen: (listener) => {
      port1.onmessage = (event) => listener(event.data);
    },
    failed: () => {},
    end: () => {
      clearTimeout(lifter.timer);
      lifter.session = null;
      port1.close();
    },
  };
}

/** Waits for the first news that `wanted` accepts. */
function listener() {
  const heard = [];
  const waiting = [];
  return {
    heard,
    news(message) {
      heard.push(message);
      for (const one of [...waiting]) if (one.wanted(message)) one.done(message);
    },
    until: (wanted) => new Promise((done) => waiting.push({ wanted, done })),
  };
}

const pane = { left: 0, top: 0, width: 4, height: 3, x: 0, y: 0, scale: 0.25 };
const wish = (more = {}) => ({ pane, ground: "#ffffff", outlines: false, ...more });

async function opened() {
  const sessions = [];
  const ears = listener();
  const client = new Client(lineToLifter(sessions), ears.news);
  const bytes = new Uint8Array([1, 2, 3]);
  const first = await client.open(bytes, { page: null, recipe: null });
  return { client, bytes, first, ears, session: sessions[0] };
}

test("a scan is opened, shown early, lifted and shown again", async () => {
  const { client, bytes, first, ears, session } = await opened();
  assert.equal(bytes.byteLength, 0, "the bytes are handed over, not copied");
  assert.equal(first.about.width, 900);
  assert.equal(first.recipe.tolerance, 50);
  client.setView(wish());
  await ears.until((news) => news.say === "lifted");
  const pictures = ears.heard.filter((news) => news.say === "picture");
  assert.equal(pictures[0].whole, false);
  assert.equal(pictures.at(-1).whole, true);
  assert.equal(pictures.at(-1).pixels.length, 4 * 3 * 4);
  assert.ok(session.calls.indexOf("preview") < session.calls.indexOf("step"));
  const progress = ears.heard.filter((news) => news.say === "progress");
  assert.equal(progress.at(-1).done, 1);
});

test("while a dial moves, each recipe is looked at before the long lift goes on", async () => {
  const { client, first, ears, session } = await opened();
  client.setView(wish());
  await ears.until((news) => news.say === "lifted");
  session.calls.length = 0;
  const turn = client.setRecipe({ ...first.recipe, tolerance: 60 });
  await ears.until((news) => news.say === "picture" && news.turn === turn);
  assert.ok(!session.calls.includes("step"), "no piece of the long lift stands in the way");
  await ears.until((news) => news.say === "lifted" && news.turn === turn);
  assert.equal(JSON.parse(session.recipe()).tolerance, 60);
});

test("of many recipes sent at once only the newest is looked at", async () => {
  const { client, first, ears, session } = await opened();
  client.setView(wish());
  await ears.until((news) => news.say === "lifted");
  session.calls.length = 0;
  let last = 0;
  for (let tolerance = 51; tolerance <= 70; tolerance += 1) last = client.setRecipe({ ...first.recipe, tolerance });
  await ears.until((news) => news.say === "picture" && news.turn === last);
  assert.equal(session.calls.filter((call) => call === "set_recipe").length, 1);
  assert.equal(session.calls.filter((call) => call === "preview").length, 1);
});

test("a recipe that comes during the long lift is answered before the lift is done", async () => {
  const { client, first, ears, session } = await opened();
  session.pieces = 1e9; // a lift that would never end
  client.setView(wish());
  await ears.until((news) => news.say === "progress");
  const turn = client.setRecipe({ ...first.recipe, body: 20 });
  await ears.until((news) => news.say === "picture" && news.turn === turn);
  session.pieces = 1;
  await ears.until((news) => news.say === "lifted" && news.turn === turn);
});

test("a look at another place needs no new lift", async () => {
  const { client, ears, session } = await opened();
  client.setView(wish());
  await ears.until((news) => news.say === "lifted");
  session.calls.length = 0;
  client.setView(wish({ ground: "#000000" }));
  const picture = await ears.until((news) => news.say === "picture");
  assert.equal(picture.ground, "#000000");
  assert.deepEqual(session.calls, ["draw #000000"]);
});

test("outlines come when they are wanted, one for each white area", async () => {
  const { client, ears } = await opened();
  client.setView(wish());
  const plain = await ears.until((news) => news.say === "found");
  assert.equal(plain.outlines.length, 0);
  await ears.until((news) => news.say === "lifted");
  client.setView(wish({ outlines: true }));
  const found = await ears.until((news) => news.say === "found" && news.outlines.length > 0);
  assert.equal(found.outlines.length, found.list.length);
  assert.deepEqual([...found.outlines[0]].slice(0, 4), [280, 220, 320, 220]);
  assert.equal(await client.islandAt(530, 300), 1);
  assert.equal(await client.islandAt(5, 5), -1);
  assert.deepEqual(await client.pieceAt(45, 55, 2), { at: [50, 50], decision: "keep", follow: 3 });
  assert.equal(await client.pieceAt(5, 5, 2), null);
});

test("saving finishes the lift first, and does not wait for the dial to rest", async () => {
  const { client, first, ears, session } = await opened();
  client.setView(wish());
  await ears.until((news) => news.say === "lifted");
  session.calls.length = 0;
  client.setRecipe({ ...first.recipe, tolerance: 70 });
  const bytes = await client.save({ format: "tiff", bits: 16, title: "Tide pool" });
  assert.deepEqual([...bytes], [137, 80, 78, 71, 16]);
  assert.ok(session.calls.lastIndexOf("step") < session.calls.indexOf('save {"format":"tiff","bits":16,"title":"Tide pool"}'));
  assert.equal(session.calls.filter((call) => call === "step").length, session.pieces);
});

test("a recipe file is checked without touching the work", async () => {
  const { client } = await opened();
  const whole = await client.check({ barewash: 1, tolerance: 33 });
  assert.equal(whole.tolerance, 33);
  assert.equal(whole.tidy.pencil, "keep", "missing keys are filled in");
  await assert.rejects(client.check({ barewash: 1, sharpness: 3 }), (error) => {
    assert.equal(error.name, "LiftError");
    assert.equal(error.code, "parameter");
    assert.match(error.message, /sharpness/);
    return true;
  });
});

test("a refused resolution says why and changes nothing", async () => {
  const { client, session, first, ears } = await opened();
  await assert.rejects(client.check({ ...first.recipe, scan: { page: null, ppi: 1 } }), { code: "parameter" });
  assert.equal(JSON.parse(session.about()).ppi, 300);
  const turn = client.setRecipe({ ...first.recipe, scan: { page: null, ppi: 600 } });
  await ears.until((news) => news.say === "lifted" && news.turn === turn);
  assert.equal(JSON.parse(session.about()).ppi, 600);
});

test("ending a client refuses what was still asked", async () => {
  const { client, session } = await opened();
  session.pieces = 1e9;
  const save = client.save({ format: "png", bits: 8 });
  client.end();
  await assert.rejects(save, { code: "cancelled" });
});

/** A Work with its news gathered. */
function desk() {
  const store = new Store();
  const ears = listener();
  const sessions = [];
  const hear = new Proxy({}, { get: (_, say) => (value) => ears.news({ say, value }) });
  const work = new Work({ startLine: async () => lineToLifter(sessions), store, hear });
  const begin = async (text = "scan", name = "shell-study.tif") => {
    const done = await work.open(Object.assign(new Blob([text]), { name }));
    work.look(wish());
    return done;
  };
  return { store, work, ears, sessions, begin };
}

test("a file that cannot be read leaves the scan before as it was", async () => {
  const { store, work, ears, begin } = desk();
  await begin();
  store.set("tolerance", 61, "bare paper");
  const client = work.client;
  await assert.rejects(begin("bad file", "notes.txt"), { code: "malformed" });
  assert.equal(work.client, client);
  assert.equal(work.scan.name, "shell-study.tif");
  assert.equal(store.recipe.tolerance, 61);
  assert.equal(store.history.undoName, "bare paper");
  assert.ok(ears.heard.some((news) => news.say === "unopened"));
  client.end();
});

test("of two scans opened at once the later one stays", async () => {
  const { work, begin } = desk();
  const [first, second] = await Promise.all([begin("one", "one.png"), begin("two", "two.png")]);
  assert.equal(first, false);
  assert.equal(second, true);
  assert.equal(work.scan.name, "two.png");
  work.client.end();
});

test("a resolution that was stated is a choice like any other: undone, saved, and there again after a breakdown", async () => {
  const { store, work, ears, sessions, begin } = desk();
  await begin();
  store.set("scan.ppi", 254, "resolution");
  await ears.until((news) => news.say === "lifted");
  assert.equal(JSON.parse(sessions[0].about()).ppi, 254);
  assert.equal(work.about.ppi, 300, "what the file said stays what it said");
  sessions[0].step = () => {
    throw new Error("memory access out of bounds");
  };
  store.set("body", 40, "body of the paint");
  await ears.until((news) => news.say === "revived");
  assert.equal(JSON.parse(sessions[1].about()).ppi, 254);
  store.undo();
  store.undo();
  await ears.until((news) => news.say === "lifted");
  assert.equal(JSON.parse(sessions[1].about()).ppi, 300);
  work.client.end();
});

test("another page begins anew, and one that is not there leaves everything as it was", async () => {
  const { store, work, ears, begin, sessions } = desk();
  await begin("pages of a book");
  assert.deepEqual([work.about.page, work.about.pages, store.recipe.scan.page], [2, 3, null], "the double's largest is its last");
  store.set("body", 40, "body of the paint");
  const { client } = work;
  await assert.rejects(work.turnTo(3), { code: "parameter" });
  assert.equal(work.client, client);
  assert.equal(store.recipe.body, 40);

  assert.equal(await work.turnTo(0), true);
  assert.deepEqual([work.about.page, store.recipe.scan.page, store.recipe.body], [0, 1, 100]);
  const openings = ears.heard.filter((news) => news.say === "opened");
  assert.deepEqual(openings.map(({ value }) => value.turned), [false, true]);
  // After a breakdown it is that page again.
  sessions.at(-1).step = () => {
    throw new Error("memory access out of bounds");
  };
  store.set("body", 60, "body of the paint");
  await ears.until((news) => news.say === "revived");
  assert.equal(sessions.at(-1).page, 0);
  work.client.end();
});

test("a recipe for another page turns to it; one that cannot be taken changes nothing", async () => {
  const { store, work, begin } = desk();
  await begin("pages of a book");
  await work.takeRecipe({ barewash: 1, body: 30 });
  assert.deepEqual([work.about.page, store.recipe.body, store.history.undoName], [2, 30, "opened recipe"]);
  await work.takeRecipe({ barewash: 1, scan: { page: 2 }, body: 20 });
  assert.deepEqual([work.about.page, store.recipe.scan.page, store.recipe.body], [1, 2, 20]);
  for (const wrong of [{ barewash: 1, scan: { page: 9 } }, { barewash: 1, scan: { page: 1 }, sharpness: 3 }]) {
    await assert.rejects(work.takeRecipe(wrong), { code: "parameter" });
    assert.deepEqual([work.about.page, store.recipe.body], [1, 20]);
  }
  work.client.end();
});

test("when the lift breaks once, scan and recipe come back in a fresh worker", async () => {
  const { store, work, ears, sessions, begin } = desk();
  await begin();
  await ears.until((news) => news.say === "lifted");
  store.set("body", 40, "body of the paint");
  sessions[0].step = () => {
    throw new Error("memory access out of bounds");
  };
  const { value } = await ears.until((news) => news.say === "revived");
  assert.match(value, /Nothing is lost/);
  assert.equal(sessions.length, 2);
  assert.equal(JSON.parse(sessions[1].recipe()).body, 40);
  assert.equal(store.history.undoName, "body of the paint");
  work.client.end();
});

test("a recipe that breaks the lift every time gives way to the last one that worked", async () => {
  const { store, work, ears, begin } = desk();
  await begin();
  await ears.until((news) => news.say === "lifted");
  store.set("tolerance", 13, "bare paper"); // the double breaks at 13
  await ears.until((news) => news.say === "revived");
  assert.equal(store.recipe.tolerance, 50);
  store.undo();
  assert.equal(store.recipe.tolerance, 13, "the painter's own recipe is one undo away");
  work.client?.end();
});

test("a lift that cannot be saved from breaking says so and keeps the recipe", async () => {
  const { store, ears, begin, sessions } = desk();
  await begin();
  await ears.until((news) => news.say === "lifted");
  SessionDouble.prototype.preview = function broken() {
    throw new Error("unreachable");
  };
  try {
    sessions[0].step = SessionDouble.prototype.preview;
    store.set("body", 12, "body of the paint");
    const { value } = await ears.until((news) => news.say === "fault");
    assert.equal(value.code, "crash");
    assert.equal(store.recipe !== null, true);
  } finally {
    SessionDouble.prototype.preview = kept;
  }
});
const kept = SessionDouble.prototype.preview;
