// Scanners told from typing, and lots in words.

import assert from "node:assert/strict";
import { test } from "node:test";
import { bodyOf, lots, offered, type Lot } from "../src/core/lots.ts";
import { readRoute, to } from "../src/core/routes.ts";
import { GAP_MS, hear, SEPARATOR, SLOW_MS, type Burst } from "../src/core/wedge.ts";

const plain = { ctrlKey: false, metaKey: false, altKey: false };

/** Type keys with so many ms between them; the scans heard, and which presses were taken for one. */
function type(keys: string[], gap: number | number[], most = GAP_MS): { scans: string[]; ours: boolean[] } {
  let burst: Burst | null = null;
  let t = 1000;
  const scans: string[] = [];
  const ours: boolean[] = [];
  keys.forEach((key, n) => {
    t += Array.isArray(gap) ? gap[n]! : gap;
    const ctrl = key.startsWith("^");
    const it = hear(burst, { ...plain, key: ctrl ? key.slice(1) : key, ctrlKey: ctrl, t }, most);
    burst = it.burst;
    ours.push(it.ours);
    if (it.scan !== null) scans.push(it.scan);
  });
  return { scans, ours };
}

test("a scan is fast and ended by Enter or Tab", () => {
  for (const gap of [1, 8, 30, GAP_MS]) {
    assert.deepEqual(type([..."R-0001", "Enter"], gap).scans, ["R-0001"]);
    assert.deepEqual(type([..."R-0001", "Tab"], gap).scans, ["R-0001"]);
  }
});

test("where nobody types, a slow scanner is one too", () => {
  assert.deepEqual(type([..."R-0001", "Enter"], 100, SLOW_MS).scans, ["R-0001"]);
  assert.deepEqual(type([..."R-0001", "Enter"], SLOW_MS + 1, SLOW_MS).scans, []);
});

test("all but the first press of a scan mean nothing by themselves", () => {
  assert.deepEqual(type([..."tare", "Enter"], 5).ours, [false, true, true, true, true]);
});

test("a person is no scanner", () => {
  assert.deepEqual(type([..."R-0001", "Enter"], GAP_MS + 1).scans, []);
  assert.deepEqual(type([..."R-0001", "Enter"], 120).ours, Array(7).fill(false));
  // Fast fingers, but one pause: only what came after it counts, and that is too short.
  assert.deepEqual(type([..."abcdef", "Enter"], [0, 40, 40, 200, 40, 40, 40]).scans, []);
  assert.deepEqual(type(["a", "b", "c", "Enter"], 5).scans, []);
  assert.deepEqual(type([..."R-0001", "Enter"], [0, 5, 5, 5, 5, 5, 400]).scans, []);
});

test("the space bar pressed fast is no scan, and is not in one", () => {
  let burst: Burst | null = null;
  for (let n = 0; n < 6; n += 1) {
    const it = hear(burst, { key: " ", t: n * 40, ctrlKey: false, metaKey: false, altKey: false }, SLOW_MS);
    assert.deepEqual(it, { burst: null, scan: null, ours: false });
    burst = it.burst;
  }
  for (const [n, key] of [..."A 17", "Enter"].entries()) {
    const it = hear(burst, { key, t: 240 + n * 20, ctrlKey: false, metaKey: false, altKey: false });
    burst = it.burst;
    if (key === "Enter") assert.equal(it.scan, "A 17");
  }
});

test("what was typed slowly before a scan is not in it", () => {
  assert.deepEqual(type([..."xyR-0001", "Enter"], [0, 200, 200, 5, 5, 5, 5, 5, 5]).scans, ["R-0001"]);
});

test("Shift comes between characters; other keys end a burst", () => {
  assert.deepEqual(type(["Shift", "R", "-", "Shift", "A", "1", "Enter"], 5).scans, ["R-A1"]);
  assert.deepEqual(type(["a", "b", "ArrowLeft", "c", "d", "Enter"], 5).scans, []);
});

test("the separator of GS1 comes as itself or as Ctrl and ]", () => {
  const head = [..."0109501101530003"];
  assert.deepEqual(type([...head, ..."10A", SEPARATOR, ..."17271231", "Enter"], 3).scans, [`010950110153000310A${SEPARATOR}17271231`]);
  assert.deepEqual(type([...head, ..."10A", "Control", "^]", ..."17271231", "Enter"], 3).scans, [`010950110153000310A${SEPARATOR}17271231`]);
});

test("nothing grows without end", () => {
  assert.equal(type([...Array(5000).fill("x"), "Enter"], 1).scans[0]!.length, 500);
});

const LOT: Lot = {
  lot: "R-0001", ingredient: "milk", name: "Milk", supplier: "", supplier_lot: "", gtin: "", made_in: "", document: "", note: "",
  temperature_c: "", quantity_g: "2000", left_g: "1500", used_g: "500", wasted_g: "0", use_by: "", best_before: "", days_left: null,
  opened: "", keeps_days: null, blocked: "", used_up: "", received: "2026-11-25T09:00:00.000Z", by: "Ada", fit: "good",
  station: "", elsewhere: [], over_g: "0",
};

test("what can be done to a lot goes by how it stands", () => {
  assert.deepEqual(offered(LOT), ["open", "count", "waste", "block", "use up"]);
  assert.deepEqual(offered({ ...LOT, blocked: "leaks", opened: "x" }), ["count", "waste", "release", "use up"]);
  assert.deepEqual(offered({ ...LOT, used_up: "x" }), ["count", "waste", "block"]);
});

test("what is sent is what the station takes", () => {
  assert.deepEqual(bodyOf("count", " 3 kg ", " why ", "Ada"), { do: "adjust", count_g: "3 kg", reason: "why", by: "Ada" });
  assert.deepEqual(bodyOf("waste", "5", "spilt", "Ada"), { do: "adjust", waste_g: "5", reason: "spilt", by: "Ada" });
  assert.deepEqual(bodyOf("open", "", "x", "Ada"), { do: "open", by: "Ada" });
  assert.deepEqual(bodyOf("block", "", "leaks", "Ada"), { do: "block", by: "Ada", reason: "leaks" });
});

test("dates and stock in words", () => {
  const at = (days_left: number | null, use_by = "2026-11-30", best_before = "") => lots.ends({ use_by, best_before, days_left });
  assert.equal(at(5), "Use by 30 Nov 2026 (in 5 days)");
  assert.equal(at(1), "Use by 30 Nov 2026 (tomorrow)");
  assert.equal(at(0), "Use by 30 Nov 2026 (today)");
  assert.equal(at(-3), "Use by 30 Nov 2026 (3 days ago)");
  assert.equal(at(2, "2026-12-30", "2026-11-27"), "Best before 27 Nov 2026 (in 2 days)");
  assert.equal(at(null, ""), "No date");
  assert.match(lots.left({ left_g: "-30" }), /^30\u00a0g more weighed than was there$/);
});

test("addresses of lots are read back", () => {
  for (const code of ["R-0001", "a b/c", "ü"]) {
    assert.deepEqual(readRoute(to.lot(code)), { screen: "lot", lot: code });
    assert.deepEqual(readRoute(to.trace(code)), { screen: "trace", lot: code });
  }
  assert.deepEqual(readRoute(to.lots()), { screen: "lots" });
  assert.deepEqual(readRoute(to.receive()), { screen: "receive" });
  assert.deepEqual(readRoute(to.trace()), { screen: "trace", lot: "" });
});
