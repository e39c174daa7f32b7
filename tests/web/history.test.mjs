// Undo and redo, and the recipe edits that feed them.

import assert from "node:assert/strict";
import { test } from "node:test";
import { History } from "../../www/state/history.js";
import { Store } from "../../www/state/store.js";
import { valueAt, withDecision, withValue } from "../../www/state/recipe.js";
import { SessionDouble } from "./session_double.mjs";

const recipe = () => JSON.parse(new SessionDouble(new Uint8Array()).recipe());

test("undo and redo walk the same way back and forth, without end", () => {
  const history = new History(0);
  for (let i = 1; i <= 5000; i += 1) history.edit(i, `step ${i}`);
  for (let i = 4999; i >= 0; i -= 1) {
    assert.equal(history.undoName, `step ${i + 1}`);
    assert.ok(history.undo());
    assert.equal(history.present, i);
  }
  assert.equal(history.undo(), false);
  assert.equal(history.undoName, null);
  for (let i = 1; i <= 5000; i += 1) assert.ok(history.redo());
  assert.equal(history.present, 5000);
  assert.equal(history.redo(), false);
});

test("one movement of a dial is one step, and the next movement is another", () => {
  const history = new History(50);
  for (const value of [51, 55, 60]) history.edit(value, "dial", "a");
  history.settle();
  for (const value of [61, 70]) history.edit(value, "dial", "a");
  assert.equal(history.present, 70);
  history.undo();
  assert.equal(history.present, 60);
  history.undo();
  assert.equal(history.present, 50);
});

test("two dials moved one after the other do not fold together", () => {
  const history = new History("start");
  history.edit("a moved", "a", "a");
  history.edit("b moved", "b", "b");
  history.undo();
  assert.equal(history.present, "a moved");
});

test("an edit after undo drops what was undone, and never folds into it", () => {
  const history = new History(0);
  history.edit(1, "one", "g");
  history.edit(2, "two");
  history.undo();
  history.edit(3, "three", "g");
  assert.equal(history.redoName, null);
  history.undo();
  assert.equal(history.present, 1);
});

test("setting a value leaves the recipe before untouched", () => {
  const first = recipe();
  const copy = structuredClone(first);
  const second = withValue(first, "edge.soft", 12);
  assert.deepEqual(first, copy);
  assert.equal(valueAt(second, "edge.soft"), 12);
  assert.equal(second.edge.rim, 100);
  assert.equal(second.tidy, first.tidy, "untouched parts are shared");
  assert.throws(() => withValue(first, "edge.sofd", 1), /edge.sofd|sofd/);
});

test("a second decision on the same white replaces the first, wherever in it the first was made", () => {
  const loops = [[10, 10, 20, 10, 20, 20, 10, 20]];
  const once = withDecision(recipe(), [12, 12], "keep", loops);
  const elsewhere = withDecision(once, [40, 40], "clear");
  const twice = withDecision(elsewhere, [17, 18], "clear", loops);
  assert.deepEqual(twice.islands.decided, [
    { at: [40, 40], do: "clear" },
    { at: [17, 18], do: "clear" },
  ]);
  assert.deepEqual(withDecision(twice, [17, 18], "keep").islands.decided.at(-1), { at: [17, 18], do: "keep" });
  assert.equal(withDecision(twice, [17, 18], "keep").islands.decided.length, 2);
});

test("the store tells every change once, and names it", () => {
  const store = new Store();
  const told = [];
  store.listen((now) => told.push(now.tolerance));
  store.set("tolerance", 1, "nothing is open yet");
  store.begin(recipe());
  store.set("tolerance", 60, "bare paper");
  assert.equal(store.history.undoName, "bare paper");
  store.undo();
  store.undo();
  store.redo();
  assert.deepEqual(told, [50, 60, 50, 60]);
});

test("a new scan begins with a history of its own", () => {
  const store = new Store();
  store.begin(recipe());
  store.set("body", 3, "body");
  store.begin(recipe());
  assert.equal(store.history.undoName, null);
  assert.equal(store.recipe.body, 100);
});
