// A batch size in grams or in words: what cannot be one is told before the station is asked.

import assert from "node:assert/strict";
import { test } from "node:test";
import { asSize, type Sized, sizedBy, sizes } from "../src/core/sizes.ts";

test("a number is grams, words with a number are for the station", () => {
  assert.deepEqual(asSize(" 900,5 "), { batch_g: "900.5" });
  for (const text of ["5 L at 30 %", "40 x 80 g", "3 kg", "cream=900 g, sucrose=1 kg"]) assert.deepEqual(asSize(text), { size: text });
  for (const text of ["", "lots", "0", "0 g", "-3 kg", "\u22123 kg", "9".repeat(301) + " g", "30 %"]) assert.equal(asSize(text), null, text);
});

test("a record says how its size was chosen, where that was more than a mass", () => {
  const words = "7 servings of 77 g: 539 g";
  assert.equal(sizedBy({}), "");
  assert.equal(sizedBy({ by: "mass", words: "900 g, as asked" }), "");
  assert.equal(sizedBy({ by: "servings", words }), words);
  assert.equal(sizedBy({ by: "servings", words, rounded: [] }), `${words}; ${sizes.atSteps}`);
  assert.equal(sizedBy({ by: 3, words: 4, rounded: 5 }), "");
});

test("what rounding moved is told, and nothing else", () => {
  const row = (name: string, rounded: string, difference: string) => ({ of: name, name, unit: "%", exact: "", rounded, difference });
  const told = (...composition: object[]) =>
    sizes.did({ size: { by: "mass", batch_g: "900", words: "" }, batch_g: "900", composition } as Sized);
  const salt = row("salt", "0.101", "0.000");
  assert.equal(
    told(row("fat", "11.358", "-0.004"), salt, row("water", "59.607", "0.008")),
    "fat 11.358\u00a0% (\u22120.004); water 59.607\u00a0% (+0.008)",
  );
  assert.equal(told(salt), sizes.unchanged);
  assert.equal(told(), sizes.notKnown);
});
