// Labels: what is asked for, where each stands on its sheet, and the page that a browser prints.

import assert from "node:assert/strict";
import { test } from "node:test";
import { asPdf, labels, labelsPath, letters, pageRule, placed, type Labels, type LabelShown } from "../src/core/labels.ts";
import { readRoute, to } from "../src/core/routes.ts";

const one: LabelShown = { name: "Ice", code: "k-1", facts: [], allergens: [], contains: "", count: "", station: "", nth: null, scanned: "k-1", path: "", modules: 21 };
const sheet = (n: number): Labels => ({
  size: "70x37 on 210x297", sizes: [], mm: { wide: "70", high: "37" },
  sheet: { page: { wide: "210", high: "297" }, across: 3, down: 8, gap: { across: "0", down: "0" } },
  labels: Array.from({ length: n }, () => one), not_in_fonts: [],
});

test("only what was chosen is asked for", () => {
  const form = { of: "batch" as const, copies: "1", each: "", size: "" };
  assert.equal(labelsPath("batch", "k 1", form), "api/batches/k%201/labels");
  assert.equal(labelsPath("batch", "k", { ...form, copies: "4", each: "250 g" }), "api/batches/k/labels?copies=4&each=250+g");
  assert.equal(labelsPath("batch", "k", { ...form, of: "draws", copies: "4" }), "api/batches/k/labels?of=draws");
  assert.equal(labelsPath("lot", "R-1", { ...form, of: "draws", each: "1 g", size: "62x40" }), "api/lots/R-1/labels?size=62x40");
  assert.equal(asPdf("a?b=1"), "a?b=1&format=pdf");
  assert.equal(asPdf("a"), "a?format=pdf");
});

test("labels stand in the middle of their sheets, row by row", () => {
  const sheets = placed(sheet(25));
  assert.deepEqual(sheets.map((some) => some.length), [24, 1]);
  assert.deepEqual(sheets[0]!.slice(0, 4).map((it) => [it.left, it.top]), [[0, 0.5], [70, 0.5], [140, 0.5], [0, 37.5]]);
});

test("a browser prints on a page as large as the sheet", () => {
  assert.equal(pageRule(sheet(1)), "@page { size: 210mm 297mm; margin: 0; }");
  assert.equal(labels.sizeOf("70x37 on 210x297 gap 2x0"), "70\u00a0\u00d7\u00a037\u00a0mm, several on 210\u00a0\u00d7\u00a0297\u00a0mm");
});

test("letters are never smaller than can be read", () => {
  assert.equal(letters(sheet(1)).at(-1), 6);
  assert.equal(letters({ ...sheet(1), mm: { wide: "100", high: "80" } }).at(-1), 8);
});

test("addresses", () => {
  assert.deepEqual(readRoute(to.labels("lot", "R/1")), { screen: "labels", of: "lot", id: "R/1" });
  assert.deepEqual(readRoute("#/labels/x/y"), { screen: "bench" });
});
