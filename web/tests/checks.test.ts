import assert from "node:assert/strict";
import test from "node:test";
import { REACH, strips } from "../src/core/check-plot.ts";
import { checks, type Made, type Running } from "../src/core/checks.ts";
import { readRoute, to } from "../src/core/routes.ts";

const found = { error_g: "0.1", u_g: "0.05", limit_g: "0.5", guard_g: "0.1", outcome: "pass" as const };

const made = (seq: number, error_g: string, more: Partial<Made> = {}): Made => ({
  seq,
  at: `2026-11-2${seq}T08:00:00Z`,
  by: "Ada",
  outcome: "pass",
  left_out: [],
  steps: [
    { ...found, n: 1, part: "zero", place: "centre", net_g: "0.0", weight: null },
    { ...found, n: 2, part: "mass", place: "centre", net_g: "2000.1", weight: { name: "K-2", nominal_g: "2000" }, error_g },
  ],
  repeatability: null,
  corners: null,
  doubted: [],
  ...more,
});

test("a strip for each load, oldest on the left, errors as shares of the limit", () => {
  const [zero, two] = strips([made(3, "-0.5"), made(2, "0.25"), made(1, "0")]);
  assert.equal(zero!.title, "Empty scale");
  assert.equal(two!.title, "K-2 (2000\u00a0g)");
  assert.deepEqual(two!.dots.map((d) => [d.seq, d.x, d.share]), [[1, 0, 0], [2, 0.5, 0.5], [3, 1, -1]]);
  assert.equal(two!.dots[0]!.sure, 0.2);
  assert.equal(two!.allowed, "\u00b10.5\u00a0g allowed");
});

test("what is far beyond the limit is drawn at the edge and marked", () => {
  const [, two] = strips([made(1, "9")]);
  assert.deepEqual([two!.dots[0]!.share, two!.dots[0]!.beyond, two!.dots[0]!.x], [REACH, true, 1]);
});

test("of the corners the worst is drawn; a range has one side", () => {
  const corner = (place: string, error_g: string) =>
    ({ ...found, n: 3, part: "corner" as const, place, net_g: "1", weight: { name: "K-2", nominal_g: "2000" }, error_g });
  const repeatability = { n: 3, range_g: "0.2", s_g: "0.1", u_g: "0.05", limit_g: "0.4", guard_g: "0.1", outcome: "pass" as const };
  const all = strips([made(1, "0", { steps: [corner("centre", "0.1"), corner("back left", "-0.4")], repeatability })]);
  assert.deepEqual(all.map((s) => [s.title, s.oneSided, s.dots[0]!.share]), [
    ["K-2 (2000\u00a0g), worst corner", false, -0.8],
    ["Repeatability", true, 0.5],
  ]);
});

const run = (more: Partial<Running>): Running => ({
  by: "Ada", began: "", of: 9, wanted: "put", note: "", odd_g: null, net_g: null, found: null, left_out: [], steps: [],
  current: { n: 4, part: "mass", place: "centre", nth: 1, of: 1, weight: "K-2", nominal_g: "2000" },
  ...more,
});

test("one instruction at a time, and each state has a plate of its own", () => {
  const corner = { ...run({}).current!, part: "corner" as const, place: "back left" };
  const again = { ...run({}).current!, part: "repeatability" as const, nth: 2, of: 5 };
  const cases: [Running, string, string][] = [
    [run({ wanted: "empty" }), "Take everything off", "Empty the scale"],
    [run({ wanted: "empty", odd_g: "300.0", note: "odd" }), "Take everything off", "Is it empty?"],
    [run({ wanted: "empty", note: "zero moved" }), "Empty the scale and zero it", "Empty the scale"],
    [run({}), "Put K-2 on", "Put it on"],
    [run({ current: corner }), "Put K-2 at the back left", "Put it on"],
    [run({ odd_g: "500.0" }), "Put K-2 on", "Is it the right one?"],
    [run({ wanted: "remove", found }), "Take it off", "Pass"],
    [run({ wanted: "remove", found: { ...found, outcome: "fail" } }), "Take it off", "Fail"],
    [run({ wanted: "remove", found: { ...found, outcome: "too close to call" } }), "Take it off", "Too close to call"],
    [run({ wanted: "nothing", current: null }), "One moment: it is being recorded", "One moment"],
  ];
  for (const [it, instruction, plate] of cases) {
    assert.equal(checks.instruction(it), instruction);
    assert.equal(checks.plate(it), plate);
  }
  assert.equal(checks.more(run({ current: again })), "Time 2 of 5, 2000\u00a0g");
  assert.match(checks.more(run({ odd_g: "500.0" })), /It shows 500\.0\u00a0g\. If this is K-2, press the button/);
  assert.match(checks.more(run({ wanted: "remove", found })), /Error \+0\.1\u00a0g, ±0\.5\u00a0g allowed/);
});

test("what is said of several additions is said once", () => {
  const flag = (addition: number, more: object = {}) =>
    ({ addition, scale: "bench", standing: "never checked" as const, failed: null, ...more });
  const failed = { standing: "good" as const, failed: { seq: 9, at: "T" } };
  assert.deepEqual(checks.said([flag(1), flag(2), flag(3, failed)], (at) => at), [
    "Additions 1, 2: weighed on bench, which had not been checked.",
    "Addition 3: in doubt, bench failed its next check (T).",
  ]);
});

test("the address of a check goes there and back", () => {
  for (const scale of ["bench", "a b/c"]) assert.deepEqual(readRoute(to.check(scale)), { screen: "check", scale });
  assert.deepEqual(readRoute("#/scales/bench"), { screen: "scales" });
});
