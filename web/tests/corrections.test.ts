// What is put right: which field a refusal is about, and what is sent.

import assert from "node:assert/strict";
import { test } from "node:test";
import { corrections, entryOf, fieldOf, madeOf, toSend, wantsConfirming, type Correction, type Written } from "../src/core/corrections.ts";

const one = (more: Partial<Correction>): Correction => ({
  entry: 4, kind: "addition accepted", n: 9, field: "lot", old: "A", new: "B", reason: "x", by: "Bo", at: "2026-11-26T10:00:00Z", although: "", ...more,
});
const it: Written = {
  batch: "test-0001",
  written: [{ entry: 4, kind: "addition accepted", at: "", addition: 1, ingredient: "milk", name: "Milk", fields: { lot: "C", operator: "Ada" } }],
  corrections: [one({}), one({ n: 10, field: "operator" }), one({ n: 11, old: "B", new: "C" }), one({ n: 12, entry: 5 })],
};

test("all corrections of a field are kept, oldest first", () => {
  assert.deepEqual(madeOf(it, 4, "lot").map((each) => each.n), [9, 11]);
  assert.deepEqual(madeOf(null, 4, "lot"), []);
  assert.equal(entryOf(it, 7), null);
});

test("what stood goes along as it was seen, also where nothing did", () => {
  const form = { field: "lot", new: " L-9 ", reason: " wet label ", by: "Bo " };
  assert.deepEqual(toSend(4, "", form, false), { do: "correct", entry: 4, field: "lot", old: "", new: "L-9", reason: "wet label", by: "Bo" });
  assert.equal(toSend(4, "", form, true)["confirm"], true);
});

test("a refusal stands at the field it is about; a right that is missing at none", () => {
  const said = (code: string, where = "") => fieldOf({ code, where, detail: "", remedy: "", status: 409 });
  assert.equal(said("needs-reason", "reason"), "reason");
  assert.equal(said("invalid-request", "body.new"), "new");
  assert.equal(said("no-operator"), "by");
  assert.equal(said("lot-blocked", "lot X"), "new");
  assert.equal(said("changed-meanwhile", "entry 4"), "new");
  assert.equal(said("store-full", "disk"), "");
  assert.equal(said("not-allowed", "correct"), "");
  assert.ok(wantsConfirming("lot-expired") && !wantsConfirming("other-ingredient"));
});

test("what it is about, in words", () => {
  assert.equal(corrections.about(it.written[0]!), "1. Milk");
  assert.equal(corrections.about({ kind: "step noted" }), "Note on a step");
  assert.equal(corrections.field("lot 2"), "Lot 2");
});
