// A pasted list: what was taken becomes rows, in order, with the usual tolerance where none was written.

import assert from "node:assert/strict";
import { test } from "node:test";
import { type Pasted, type PastedLine, pasting, rowsOf } from "../src/core/pasting.ts";

const line = (more: Partial<PastedLine>): PastedLine => ({
  n: 1, text: "", outcome: "taken", ingredient: "water", name: "water", amount: "820 g", amount_g: "820", tolerance: "", offered: [], why: "", ...more,
});
const list = (...lines: PastedLine[]): Pasted => ({
  lines, taken: lines.filter((it) => it.outcome === "taken").length, taken_g: "820", sum_g: null,
  not_understood: lines.filter((it) => it.outcome === "not understood").length, warning: "",
});

test("only what was taken becomes a row", () => {
  const rows = rowsOf(list(line({}), line({ outcome: "not understood" }), line({ outcome: "left out" }), line({ ingredient: "salt", amount: "3 g", tolerance: "0.5 g" })));
  assert.deepEqual(rows.map((it) => [it.ingredient, it.target, it.tolerance, it.was]), [
    ["water", "820 g", "1 %", null],
    ["salt", "3 g", "0.5 g", null],
  ]);
});

test("a line and a list are told in one breath", () => {
  assert.equal(pasting.line(line({ tolerance: "2 g" }), "Water"), "820\u00a0g Water, \u00b1\u00a02 g");
  assert.equal(pasting.sum(list(line({}))), "1 line taken, 820\u00a0g.");
  assert.equal(pasting.sum(list(line({}), line({ outcome: "not understood" }))), "1 line taken, 820\u00a0g. 1 line not understood.");
  assert.equal(pasting.without(1), "1 line that was not understood stays out.");
  assert.equal(pasting.without(2), "2 lines that were not understood stay out.");
});
