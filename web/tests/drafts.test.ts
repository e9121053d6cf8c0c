// Drafts: amounts get their unit, faults their place, and what a person wrote stays as it was written.

import assert from "node:assert/strict";
import { test } from "node:test";
import { amountMeant, amountShown, faultsAt, fieldOf, found, gramsOf, moved, shares, slug } from "../src/core/drafts.ts";
import { pantry } from "../src/core/pantry.ts";
import { readRoute, to } from "../src/core/routes.ts";

test("a plain number is grams; anything else is sent as it was typed", () => {
  assert.equal(amountShown("410 g"), "410");
  assert.equal(amountShown("1.2 kg"), "1.2 kg");
  assert.equal(amountMeant("410,5"), "410,5 g");
  assert.equal(amountMeant(" 12 oz "), "12 oz");
  assert.equal(amountMeant("-3"), "-3 g");
  assert.equal(amountMeant(""), "");
  assert.equal(amountMeant("410", "410g"), "410g"); // as it stands in the file
  assert.equal(amountMeant("411", "410g"), "411 g");
});

test("shares are of grams as typed, and not known where one amount is none", () => {
  assert.equal(gramsOf("1,5 kg"), 1500);
  assert.equal(gramsOf("3 cups"), null);
  assert.equal(gramsOf("0"), null);
  assert.equal(gramsOf("NaN"), null);
  assert.deepEqual(shares(["300 g", "0.1 kg"]), { total: 400, percent: [75, 25] });
  assert.deepEqual(shares(["300 g", ""]), { total: null, percent: [null, null] });
  assert.deepEqual(shares([]), { total: null, percent: [] });
  assert.equal(pantry.formula.percent(null), "\u2013\u2013\u2013");
});

test("rows move within the list and not out of it", () => {
  assert.deepEqual(moved([1, 2, 3], 2, -1), [1, 3, 2]);
  assert.deepEqual(moved([1, 2, 3], 0, -1), [1, 2, 3]);
  assert.deepEqual(moved([1, 2, 3], 2, 1), [1, 2, 3]);
});

test("a fault is told at its row and field", () => {
  const faults = [
    { where: "additions[2].target", message: "no" },
    { where: "additions[12].target", message: "other" },
    { where: "x.toml, additions[2]", message: "whole" },
  ];
  assert.deepEqual(faultsAt(faults, "additions", 2), { target: "no", "": "whole" });
  assert.deepEqual(faultsAt(faults, "additions", 1), {});
  assert.equal(fieldOf("ingredients.toml, line 4, ingredients.plum.composition.fat", "plum"), "composition.fat");
  assert.equal(fieldOf("draft, ingredients.plum.instead[1].ratio", "plum"), "instead[1].ratio");
  assert.equal(fieldOf("ingredients.toml", "plum"), "");
});

test("an id is letters, digits and hyphens, whatever the name", () => {
  assert.equal(slug("Blackcurrant pur\u00e9e, 10 %"), "blackcurrant-puree-10");
  assert.equal(slug("../x"), "x");
  assert.equal(slug("\u6843"), "");
});

test("a search finds every word, with or without marks over letters", () => {
  const list = [
    { id: "puree", name: "Blackcurrant pur\u00e9e", source: "the label" },
    { id: "milk", name: "Whole milk", allergens: ["milk"], supplier_code: "M-7" },
  ];
  assert.deepEqual(found(list, "puree label").map((it) => it.id), ["puree"]);
  assert.deepEqual(found(list, "m-7").map((it) => it.id), ["milk"]);
  assert.equal(found(list, "").length, 2);
  assert.equal(found(list, "plum").length, 0);
});

test("every screen has an address that is read back", () => {
  assert.deepEqual(readRoute(to.formula("a-b")), { screen: "formula", formula: "a-b" });
  assert.deepEqual(readRoute(to.newFormula()), { screen: "new-formula", like: null });
  assert.deepEqual(readRoute(to.newIngredient("usda-1")), { screen: "new-ingredient", like: "usda-1" });
  assert.deepEqual(readRoute(to.ingredient("new")), { screen: "ingredient", ingredient: "new" });
  assert.deepEqual(readRoute(to.limits("+")), { screen: "limits", kind: "+" });
  for (const address of [to.formulas(), to.ingredients(), to.ingredientTable(), to.ingredientFile()]) {
    assert.equal(readRoute(address).screen, address.slice(2));
  }
});

test("what is missing is called by words, not by names of fields", () => {
  assert.equal(pantry.ingredients.missing(["composition", "cost_per_kg", "msnf"]), "Not known: composition, price, milk solids-not-fat");
});
