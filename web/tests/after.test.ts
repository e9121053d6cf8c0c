// After a batch: how it is made again.

import assert from "node:assert/strict";
import { test } from "node:test";
import { after, againOf } from "../src/core/after.ts";

test("a batch is made again at the size it was asked for, in the words it was asked in", () => {
  const formula = { id: "ice", name: "Ice" };
  assert.deepEqual(againOf({ formula, batch_g: "2400" }), { formula: "ice", size: "2400", steps: false });
  const size = { by: "servings", asked: "40 servings of 80 g", batch_g: "3200", rounded: [{ n: 1 }] };
  assert.deepEqual(againOf({ formula, batch_g: "3200", size }), { formula: "ice", size: "40 servings of 80 g", steps: true });
  assert.deepEqual(againOf({ formula, batch_g: "2000", size: { by: "mass", asked: "2 kg" } }), { formula: "ice", size: "2000", steps: false });
  assert.equal(againOf({ batch_g: "2400" }), null);
});

test("steps that come are named in their order", () => {
  assert.equal(after.then("Mix", []), "Mix");
  assert.equal(after.then("Mix", ["Chill", "Freeze"]), "Mix, then Chill, Freeze");
});
