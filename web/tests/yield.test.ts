// What is sent of a draw's form, what a draw fills it with, and what is said of a yield.

import assert from "node:assert/strict";
import { test } from "node:test";
import { asked, EMPTY, formOf, type DrawShown, type Yield, yields } from "../src/core/yield.ts";
import { asWeighed, type AsWeighed } from "../src/core/as-weighed.ts";

const draw: DrawShown = {
  draw: 2, by: "Ada", at: "2026-11-26T20:00:00.000Z",
  weight: { typed: "1,25 kg", g: "1250", u_g: "2.9" },
  volume: { ml: "1400", u_ml: "1" } as DrawShown["volume"],
  containers: 4, fill: { typed: "350 mL", ml: "350" },
  pieces: { typed: "120 g", g: "120" }, pieces_density_g_ml: "0.748",
  portions: 20,
  overrun_percent: "34.9", overrun_u_percent: "0.31", cup_overrun_percent: null, cup_overrun_u_percent: null,
  product_g_ml: "0.8929", why: "", impossible: false, disagrees: false,
};

test("what is typed keeps its digits and its comma, and gets its unit", () => {
  const form = { ...EMPTY, weight: " 1,250 ", weight_unit: "kg", volume: "1.4", portions: "20", left: "0,035" };
  assert.deepEqual(asked(form, null), { weight: "1,250 kg", volume: "1.4 L", portions: 20, left: "0,035 kg" });
  assert.deepEqual(asked(EMPTY, null), {});
});

test("what is no whole number is left to the station to refuse, by its field", () => {
  assert.equal(asked({ ...EMPTY, portions: "2.5" }, null)["portions"], "2.5");
  assert.equal(asked({ ...EMPTY, portions: "\u0665" }, null)["portions"], "\u0665");
  assert.equal(asked({ ...EMPTY, containers: "4", fill: "350", volume_unit: "mL" }, null)["fill"], "350 mL");
});

test("a weight read on a scale leaves what was typed behind", () => {
  const form = { ...EMPTY, weight: "3", scale: "bench", tare: "85" };
  assert.deepEqual(asked(form, null), { scale: "bench", tare: "85 g" });
  assert.deepEqual(asked({ ...form, vessel: "tub" }, null), { scale: "bench", vessel: "tub" });
});

test("a draw fills the form that puts it right, as it was typed", () => {
  const form = { ...formOf(draw), reason: "misread" };
  assert.deepEqual(asked(form, 2), {
    weight: "1,25 kg", containers: 4, fill: "350 mL", portions: 20, pieces: "120 g",
    pieces_density: "0.748", reason: "misread", corrects: 2,
  });
});

const whole: Yield = {
  batch: "kitchen-0001", status: "closed", density_g_ml: "1.1289", density: "measured", draws: [draw],
  total: {
    in_g: "2400.00", drawn_g: "2350.00", left_g: "0.00", loss_g: "50.00", loss_u_g: "0.4", loss_percent: "2.08",
    told: "loss", product_ml: "2764.00", portions: 20, overrun_percent: "30.0", overrun_u_percent: "0.3",
    portion: { g: "117.5", ml: "138.2" },
  },
  cost: { known: true, date: "2026-11-01", batch: { value: "12.000" }, per_portion: { value: "0.600" }, per_litre: { value: "4.342", at_most: null }, pieces: true },
  ceilings: [],
};

test("a yield is told in words", () => {
  const said = Object.fromEntries(yields.facts(whole));
  assert.equal(said["Lost"], "50.00\u00a0g, 2.08\u00a0% (\u00b10.80\u00a0g)");
  assert.equal(said["Portions"], "20, each 117.5\u00a0g, 138.2\u00a0mL");
  assert.equal(said["Cost of a litre"], "at least 4.34");
  assert.equal(said["Volume drawn"], "2.76\u00a0L");
  assert.ok(!("Left over" in said));
  assert.ok("Not drawn so far" in Object.fromEntries(yields.facts({ ...whole, status: "in process" })));
  assert.match(yields.prices(whole), /since 2026-11-01.*pieces are not in it/);
  assert.equal(yields.draw(draw), "1,25\u00a0kg, 4\u00a0\u00d7\u00a0350\u00a0mL, 120\u00a0g of it pieces, 20 portions");
  assert.match(yields.found(draw), /overrun 34.9\u00a0% \(\u00b10.62\)/);
});

test("what cannot be is said to be so", () => {
  const gained: Yield = { ...whole, total: { ...whole.total, told: "more came out than went in", loss_g: "-40.00", loss_percent: "-1.67" } };
  assert.match(yields.gained(gained), /entered wrong/);
  assert.match(Object.fromEntries(yields.facts(gained))["Lost"]!, /^\u221240.00/);
  assert.equal(yields.gained(whole), "");
  assert.match(yields.odd({ ...draw, impossible: true }), /denser/);
  const none: Yield = { ...whole, total: { ...whole.total, told: "none that can be told", loss_g: "0.10" } };
  assert.match(Object.fromEntries(yields.facts(none))["Lost"]!, /^none that can be told/);
});

const compared: AsWeighed = {
  batch: "kitchen-0001", status: "closed", class: "gelato", in_g: "1585.40", in_u_g: "0.0816", to_come_g: "0.00", whole: true,
  amounts: [{ ingredient: "milk", name: "Milk" }],
  differences: [
    { of: "fat", unit: "%", planned: { value: "2.038" }, weighed: { value: "2.075" }, change: { value: "0.037" }, u: "0.0001", told: "more" },
    { of: "freezing_point", unit: "\u00b0C", planned: { value: "-6.380" }, weighed: { value: "-6.114" }, change: { value: "0.266" }, u: "0.02", told: "more" },
    { of: "frozen", at_c: "-12", unit: "%", planned: null, weighed: null, change: null, u: null, told: "cannot be told" },
    { of: "cost_per_kg", unit: "a kg", planned: { value: "1.363" }, weighed: { value: "1.362" }, change: { value: "-0.001" }, u: "0.00001", told: "less" },
    { of: "msnf", unit: "%", planned: { value: "5.0", at_most: "6.0" }, weighed: { value: "5.0", at_most: "6.0" }, change: { value: "0.000" }, u: "0.001", told: "no difference" },
  ],
  limits: [], prices: { known: false, date: "" }, missing: { milk: ["fat"] }, method: "sucrose equivalents",
};

test("differences are told by a word and a mark, never by colour alone", () => {
  const [fat, point, ice, cost, msnf] = asWeighed.rows(compared);
  assert.deepEqual([fat!.change, fat!.doubt, fat!.told, fat!.mark], ["+0.037", "\u00b1<0.001", "more", "more"]);
  assert.deepEqual([point!.weighed, point!.told], ["\u22126.11\u00a0\u00b0C", "higher"]);
  assert.deepEqual([ice!.name, ice!.weighed, ice!.change, ice!.told], ["Ice at \u221212\u00a0\u00b0C", "not known", "not known", "cannot be told"]);
  assert.deepEqual([cost!.change, cost!.told], ["\u22120.001", "less"]);
  assert.equal(msnf!.planned, "5.00 to 6.00\u00a0%");
  assert.equal(asWeighed.missing(compared), "Not all is known of: Milk.");
  assert.match(asWeighed.state(compared), /All of it is in/);
});
