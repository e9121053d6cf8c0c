// Before a batch: what it takes out of stock in words, and the freezing curve as a drawing.

import assert from "node:assert/strict";
import { test } from "node:test";
import { allergensFrom, before, cautionsOf, CURVE, iceAt, type Need, times } from "../src/core/before.ts";
import { across, drawn, rows, up } from "../src/core/curve.ts";
import type { Formula } from "../src/core/frames.ts";
import { type Mix, parted } from "../src/core/mix.ts";
import { readFileSync } from "node:fs";
import { join } from "node:path";

const MIX = JSON.parse(readFileSync(join(process.cwd(), "..", "fixtures", "frames", "composition.json"), "utf8")) as Mix;
const lot = { lot: "M-1", left_g: "900", use_by: "2026-11-30", best_before: "", opened: false };
const need = (more: object = {}): Need =>
  ({ n: 1, ingredient: "milk", name: "Milk", target_g: "500", low_g: "495", high_g: "505", stock: "there", short_g: "0", aside: [], lots: [{ ...lot, takes_g: "500" }], ...more }) as Need;

test("one lot is named, several with how much of each, and none says nothing", () => {
  assert.equal(before.from(need()), "Lot M-1, use by 30 Nov 2026");
  const two = before.from(need({ lots: [{ ...lot, takes_g: "300" }, { ...lot, lot: "M-2", use_by: "", opened: true, takes_g: "200" }] }));
  assert.equal(two, "Lot 300\u00a0g of M-1, use by 30 Nov 2026, then 200\u00a0g of M-2, open");
  assert.equal(before.from(need({ stock: "not booked", lots: undefined })), "");
});

test("why a lot is not to be used is said with its code", () => {
  const why = (fit: string, blocked = "") => before.aside({ ...lot, best_before: "2026-11-20", fit, blocked });
  assert.match(why("blocked", "a stone"), /Not lot M-1 \(900\u00a0g\): blocked, a stone/);
  assert.match(why("expired"), /Not lot M-1 .* 30 Nov 2026, is past/);
  assert.match(why("past best before"), /20 Nov 2026: only with a reason/);
});

test("an allergen is told with all that bring it, and a caution once", () => {
  const one = (name: string, allergens: string[], caution = "") => ({ name, allergens, caution });
  const it = { allergens: ["milk", "egg"], additions: [one("Milk", ["milk"]), one("Yolk", ["egg"], "Raw."), one("Cream", ["milk"]), one("Yolk", ["egg"], "Raw.")] } as unknown as Formula;
  assert.deepEqual(allergensFrom(it), [["milk", ["Milk", "Cream"]], ["egg", ["Yolk"]]]);
  assert.deepEqual(cautionsOf(it), [["Yolk", "Raw."]]);
});

test("the curve begins at nothing, rises, and marks where it is served", () => {
  const it = drawn(MIX, "-12")!;
  assert.ok(it.line.startsWith(`M ${across(0).toFixed(1)} ${up(0).toFixed(1)}`));
  const heights = it.line.slice(2).split(" L ").map((one) => Number(one.split(" ")[1]));
  assert.deepEqual(heights, [...heights].sort((a, b) => b - a), "more ice the colder it is");
  assert.equal(it.mark!.y, up(Number(iceAt(MIX, "-12")!.frozen_percent)));
  assert.equal(drawn(MIX, "-18")!.mark, null, "past what the method reaches nothing is marked");
  assert.equal(drawn({ ...MIX, freezing: { ...MIX.freezing, curve: [], begins_c: null } }, "-12"), null);
  assert.deepEqual(rows(MIX).map((one) => one.at), ["-4", "-6", "-8", "-10", "-12", "-14"]);
});

test("where not all is known there is a band and no line", () => {
  const curve = MIX.freezing.curve.map((one) => ({ ...one, at_most_percent: one.frozen_percent && String(Number(one.frozen_percent) + 5) }));
  const it = drawn({ ...MIX, freezing: { ...MIX.freezing, begins_c: null, curve } }, "-12")!;
  assert.ok(it.band);
  assert.equal(it.line, "");
  assert.equal(it.mark, null);
});

test("no figure stands twice, and none is lost", () => {
  const { chief, rest } = parted(MIX);
  assert.equal(chief.length, 4);
  assert.ok(rest.length > 0);
  assert.equal(new Set([...chief, ...rest].map(([name]) => name)).size, chief.length + rest.length);
});

test("half and double are plain numbers, and points of the curve go down by halves", () => {
  assert.deepEqual([times("2305.1", 0.5), times("2305.1", 2), times("3", 0.5)], ["1152.55", "4610.2", "1.5"]);
  assert.ok(CURVE.startsWith("-0.5,-1,"));
  assert.ok(CURVE.endsWith(",-20"));
});
