// What a mix is, in words: nothing is claimed that the station did not say.

import assert from "node:assert/strict";
import { test } from "node:test";
import { type Limit, type Mix, mixes, points } from "../src/core/mix.ts";

const share = (percent: string, more: object = {}) => ({ grams: "1.00", percent, ...more });
const mix = (more: object = {}): Mix =>
  ({
    class: "gelato",
    parts: { fat: share("11.362"), msnf: share("9.667"), stabiliser: share("0.307") },
    sugars: share("15.906"),
    total_solids: share("40.401"),
    sweetness: share("15.924"),
    energy_per_100_g: { kcal: { value: "214.0" } },
    freezing: {
      method: "sucrose equivalents",
      begins_c: "-2.97",
      half_frozen_c: null,
      curve: [
        { at_c: "-6", frozen_percent: "47.0", at_most_percent: "47.0" },
        { at_c: "-4", frozen_percent: "24.3", at_most_percent: "24.3" },
        { at_c: "-8", frozen_percent: "50.0", at_most_percent: "58.3" },
        { at_c: "-18", frozen_percent: null, at_most_percent: null, more_than_percent: "77.6" },
      ],
    },
    limits: [],
    allergen_statement: "",
    missing: {},
    assumptions: [],
    ...more,
  }) as Mix;

test("figures are told to a tenth, with a true minus, and only those that are known", () => {
  const rows = new Map(mixes.rows(mix()));
  assert.equal(rows.get("Fat"), "11.4\u00a0%");
  assert.equal(rows.get("Begins to freeze"), "\u22123.0\u00a0\u00b0C");
  assert.equal(rows.has("Half of the water is ice"), false);
});

test("what may be more is told as at least", () => {
  const rows = new Map(mixes.rows(mix({ sugars: share("15.906", { at_most: { percent: "17.000" } }) })));
  assert.equal(rows.get("Sugars"), "at least 15.9\u00a0%");
  assert.match(mixes.missing(mix({ missing: { milk: ["fat"] } })), /milk/);
  assert.equal(mixes.missing(mix()), "");
});

test("only points that are sure are drawn, the coldest last", () => {
  assert.deepEqual(points(mix()), [
    { at: -2.97, ice: 0 },
    { at: -4, ice: 24.3 },
    { at: -6, ice: 47 },
  ]);
});

test("a limit that is not kept is told with what is usual", () => {
  const limit: Limit = {
    class: "gelato", of: ["msnf"], unit: "%", value: { value: "9.667" }, min: "7", max: "8", standing: "outside", why: "", source: "",
  };
  assert.equal(mixes.outside(limit), "For gelato, milk solids-not-fat is 9.7\u00a0%; usual: 7 to 8\u00a0%.");
  assert.match(mixes.outside({ ...limit, class: "every", min: null }), /^For any frozen dessert, .* usual: 8 or less/);
});
