// Revisions side by side, in words and signs. The figures are invented.

import assert from "node:assert/strict";
import test from "node:test";
import { type AdditionPair, choose, type Compared, type History, inTime, markOf, MARKS, revisions as w } from "../src/core/revisions.ts";
import { readRoute, to } from "../src/core/routes.ts";

const side = { n: 1, target_g: "100", share: "25.000", tolerance: "1 %" };
const pair = (more: Partial<AdditionPair>): AdditionPair => ({
  ingredient: "sugar", name: "Sugar", how: "same", moved: false, then: side, now: side, change_g: "0", points: "0.000", texts: [], facts: [], ...more,
});

test("what became of a row is told by a mark and a word, never by colour alone", () => {
  assert.equal(markOf(pair({})), "same");
  assert.equal(markOf(pair({ moved: true })), "moved");
  assert.equal(markOf(pair({ how: "changed", texts: [{ of: "tolerance", then: "1 %", now: "2 g" }] })), "changed");
  assert.equal(markOf(pair({ how: "changed", change_g: "-0.4" })), "less");
  assert.equal(markOf(pair({ how: "changed", change_g: "12" })), "more");
  assert.equal(markOf(pair({ how: "added", then: null, change_g: "100" })), "added");
  assert.equal(markOf(pair({ how: "removed", now: null, change_g: "-100" })), "removed");
  const said = Object.keys(MARKS).map((mark) => w.mark(mark as keyof typeof MARKS));
  assert.equal(new Set(said).size, said.length);
  assert.equal(new Set(Object.values(MARKS)).size, said.length);
});

test("by how much is told in grams and in points of the batch, with their sign", () => {
  const it = pair({ how: "changed", change_g: "-18", points: "-0.912" });
  assert.equal(w.grams(it), "\u221218\u00a0g");
  assert.equal(w.points(it), "\u22120.91 points");
  assert.equal(w.grams(pair({ change_g: "16.5" })), "+16.5\u00a0g");
  assert.equal(w.points(pair({ points: "0.004" })), "");
  assert.equal(w.amount(side), "100\u00a0g");
  assert.equal(w.share(side), "25.0\u00a0%");
  assert.equal(w.share({ ...side, share: "0.341" }), "0.34\u00a0%");
  assert.equal(w.text({ of: "tolerance", then: "1 %", now: "" }), "Tolerance: 1 %, now none");
  assert.equal(w.fact("Fat", { of: "fat", then: null, now: "35" }), "Fat in 100\u00a0g: not known, now 35");
});

test("two are chosen; a third takes the place of the first, and the older stands before", () => {
  assert.deepEqual(choose([], "a"), ["a"]);
  assert.deepEqual(choose(["a", "b"], "c"), ["b", "c"]);
  assert.deepEqual(choose(["a", "b"], "a"), ["b"]);
  const history = { revisions: [{ revision: "c" }, { revision: "b" }, { revision: "a" }] } as History;
  assert.deepEqual(inTime(history, ["c", "a"]), ["a", "c"]);
  assert.deepEqual(inTime(history, ["a", "b"]), ["a", "b"]);
});

test("limits that are not kept on either side are told with both values", () => {
  const limit = (then: string, now: string) => ({
    class: "gelato", of: ["fat"], unit: "%", min: "7", max: "8", source: "ours",
    then: { value: { value: then }, standing: Number(then) > 8 ? "outside" : "inside", why: "" },
    now: { value: { value: now }, standing: Number(now) > 8 ? "outside" : "inside", why: "" },
  });
  const it = { limits: [limit("7.5", "8.25"), limit("7.5", "7.6")] } as Compared;
  const [one, ...more] = w.limits(it);
  assert.equal(more.length, 0);
  assert.deepEqual([one!.then, one!.now, one!.outside], ["7.50\u00a0% (kept)", "8.25\u00a0% (not kept)", true]);
  assert.equal(w.kept(it), "2 of 2 limits were kept before, 1 after.");
});

test("addresses of revisions lead back to themselves", () => {
  assert.deepEqual(readRoute(to.revisions("a-b")), { screen: "revisions", formula: "a-b" });
  assert.deepEqual(readRoute(to.both("a-b", "0123")), { screen: "both", formula: "a-b", then: "0123", now: "now" });
  assert.deepEqual(readRoute("#/revisions/a/01"), { screen: "both", formula: "a", then: "01", now: "now" });
  assert.deepEqual(readRoute(to.takeUp("a-b", "0123")), { screen: "formula", formula: "a-b", up: "0123" });
  assert.deepEqual(readRoute("#/formula/a-b/again"), { screen: "formula", formula: "a-b" });
});
