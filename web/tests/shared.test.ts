// What several stations share: words for lots, traces and formulas of others.

import assert from "node:assert/strict";
import { test } from "node:test";
import { notice, refusal } from "../src/core/refusals.ts";
import { cameDown, plainId, shared, toDecide, type SharedFormula } from "../src/core/shared.ts";

const FORMULA: SharedFormula = {
  id: "plum-ice@0123456789ab", number: 3, formula: "plum-ice", revision: "0123456789ab", name: "Plum ice", station: "cold", by: "Ada",
  at: "2026-11-26T10:00:00.000Z", chosen: "new", own: "none", newest: true,
};

test("a formula that came down is told by its name", () => {
  assert.equal(cameDown(FORMULA.id), true);
  assert.equal(cameDown("plum-ice"), false);
  assert.equal(plainId(FORMULA.id), "plum-ice");
});

test("only the newest that the kitchen does not have as it is is to be decided of", () => {
  const all = [FORMULA, { ...FORMULA, number: 2, newest: false }, { ...FORMULA, number: 1, own: "same" as const }];
  assert.deepEqual(toDecide(all), [FORMULA]);
});

test("an overdraw says who drew how much; one station's own is no matter of others", () => {
  const lot = { station: "", elsewhere: [{ station: "hot", g: "400" }], over_g: "100", used_g: "700" };
  const said = shared.over(lot);
  for (const part of ["100", "hot", "400", "700"]) assert.ok(said.includes(part), part);
  assert.equal(shared.over({ ...lot, elsewhere: [] }), "");
  assert.equal(shared.over({ ...lot, over_g: "0" }), "");
});

test("what is not shown is said", () => {
  assert.equal(shared.looked({ everywhere: true, stations: ["cold", "hot"] }), "Looked at: cold, hot.");
  assert.equal(shared.looked({ everywhere: false, said: "Only here." }), "Only here.");
  assert.equal(shared.looked({}), "");
  assert.ok(shared.twice({ owners: ["cold", "hot"] }).includes("cold and hot"));
  assert.equal(shared.heard({ heard_at: "x", cut_off: "" }, "today"), "");
  assert.ok(shared.heard({ heard_at: "x", cut_off: "away" }, "today").includes("today"));
});

test("notices and refusals of other stations have words", () => {
  assert.ok(notice("lot-blocked-now", "R-1 hot: a stone").startsWith("STOP"));
  assert.doesNotMatch(notice("clock-wrong", "behind 2019-01-01T00:00:07Z 2026-03-02T09:00:00.000Z"), /\dT\d/); // no raw times
  assert.match(notice("clock-wrong", "behind 2019-01-01T12:00:07Z 2026-03-02T09:00:00.000Z"), /2019.*:07.*2026/);
  assert.ok(notice("lot-overdrawn", "R-1 100").includes("100 g"));
  assert.ok(notice("lot-code-twice", "M-1 cold M-1@cold").includes("M-1@cold"));
  assert.ok(notice("not-shared", "cold 17").includes("17"));
  assert.ok(refusal("no-shared-store", "", "").length > 10);
});
