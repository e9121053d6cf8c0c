// Where written masses are cut, so that they stand below each other by their decimal marks.

import assert from "node:assert/strict";
import test from "node:test";
import { cut, most, places } from "../src/core/columns.ts";

test("a mass is cut before its unit, in every language's writing", () => {
  for (const [text, number, unit, digits] of [
    ["1736.8\u00a0g", "1736.8", "\u00a0g", 1],
    ["1\u202f736,85\u00a0g", "1\u202f736,85", "\u00a0g", 2],
    ["\u22120.25\u00a0oz", "\u22120.25", "\u00a0oz", 2],
    ["1200\u00a0g", "1200", "\u00a0g", 0],
    ["\u2013\u2013\u2013\u00a0g", "\u2013\u2013\u2013", "\u00a0g", 0],
    ["", "", "", 0],
  ] as const) {
    assert.deepEqual(cut(text), [number, unit]);
    assert.equal(places(text), digits);
  }
  assert.equal(most(["1200\u00a0g", "0.34\u00a0g", "7.4\u00a0g"]), 2);
  assert.equal(most([]), 0);
});
