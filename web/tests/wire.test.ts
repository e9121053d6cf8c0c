import assert from "node:assert/strict";
import test from "node:test";
import { type Wire, piecesOf, wire } from "../src/core/wire.ts";

const report = { t: 1, bytes: [..."ST,+\u2423120.4\u2423g", "CR"], marks: [["status", 0, 2], ["number", 3, 10], ["unit", 11, 12]] as const, shown: "120.4", unit: "g", stable: true, over: false, fault: "" };

test("a report is cut where something stands, and nothing of it is lost", () => {
  const pieces = piecesOf({ ...report, marks: report.marks.map((it) => [...it]) as never });
  assert.deepEqual(pieces.map((it) => [it.what, it.signs.join("")]), [
    ["status", "ST"], ["", ","], ["number", "+\u2423120.4"], ["", "\u2423"], ["unit", "g"], ["", "CR"],
  ]);
  assert.equal(pieces.map((it) => it.signs.join("")).join(""), report.bytes.join(""));
  assert.deepEqual(piecesOf({ bytes: ["a", "b"], marks: [] }), [{ what: "", signs: ["a", "b"] }]);
});

test("what was read of it is said, and by which shape", () => {
  const it = { ...report, marks: [] };
  assert.equal(wire.read(it), "120.4\u00a0g, steady");
  assert.equal(wire.read({ ...it, stable: null }), "120.4\u00a0g");
  assert.equal(wire.read({ ...it, shown: null, unit: null, fault: "zero error" }), "no weight: zero error");
  assert.equal(wire.read({ ...it, shown: null, over: true }), "over capacity");
  const of = (shape: Wire["shape"]) => wire.shapeOf({ name: "bench", driver: "serial", shape, reports: [], rejected: 0, last_rejected: [] });
  assert.equal(of({ shape: "status-digits-unit" }), "status-digits-unit");
  assert.match(of({ shape: "auto" }), /being worked out/);
  assert.match(of({ shape: { name: "bench-own" } }), /^bench-own, /);
  assert.match(of({ report: { id: 3 } }), /USB/);
});
