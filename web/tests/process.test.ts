// Batches in process on the page: what counts, what was typed, what is refused at the door.

import assert from "node:assert/strict";
import { test } from "node:test";
import { clock, type Now, process, span, timer, typed } from "../src/core/process.ts";
import { apply, FrameError, readFrame } from "../src/core/read.ts";
import type { State } from "../src/core/frames.ts";

const now = (more: Partial<Now>): Now => ({
  elapsed_s: "60", least_s: null, most_s: null, met: false, out: [], awaited: [], hold: null, ...more,
});
const pair = { pair: "155 °F, 30 min", celsius: "68.4 °C", time: "30 min", time_s: "1800", source: "s", status: "read" };

test("a clock shows minutes and hours, and never less than nothing", () => {
  assert.deepEqual([0, 59.9, 60, 3599, 3600, 86399, -5].map(clock), ["0:00", "0:59", "1:00", "59:59", "1:00:00", "23:59:59", "0:00"]);
  assert.deepEqual([25, 90, 120, 5400, 7200].map(span), ["25\u00a0s", "90\u00a0s", "2\u00a0min", "90\u00a0min", "2\u00a0h"]);
});

test("what counts: what is still to go at least, then what is left, then what is over", () => {
  const both = now({ least_s: "120", most_s: "300" });
  assert.equal(timer(both, 0).seconds, 60);
  assert.equal(timer(both, 70).seconds, 170);
  assert.deepEqual([timer(both, 300).seconds, timer(both, 300).over], [60, true]);
  assert.equal(timer(now({}), 5).seconds, 65);
  // What was reached in time is not over, however long it stands.
  assert.equal(timer(now({ most_s: "300", met: true }), 1000).over, false);
});

test("a hold counts from its first reading, and not at all while nothing was hot enough", () => {
  const hold = { ...pair, since_s: "100", measured_s: "0", satisfied: null };
  assert.equal(timer(now({ hold }), 7).seconds, 107);
  assert.match(timer(now({ hold }), 7).caption, /30\u00a0min.*68\.4/);
  assert.equal(timer(now({ hold: { ...hold, since_s: null } }), 7).seconds, null);
});

test("a temperature is typed with a point or a comma, and is otherwise none", () => {
  assert.deepEqual(["4", " 68,5 ", "-18.5", "\u22124"].map((it) => typed(it, "°C")), ["4 °C", "68.5 °C", "-18.5 °C", "-4 °C"]);
  for (const wrong of ["", "warm", "NaN", "1e3", "4 °C", "--4", "12345"]) assert.equal(typed(wrong, "°C"), "", wrong);
});

test("a section that is not of the agreed shape is refused, and one that is left out is the one before", () => {
  const frame = (section: unknown) => JSON.stringify({ kind: "change", seq: 2, process: section });
  assert.doesNotThrow(() => readFrame(frame({ at: "", batches: [] })));
  assert.throws(() => readFrame(frame({ at: "", batches: [{ id: "x" }] })), FrameError);
  assert.throws(() => readFrame(frame([])), FrameError);
  const before = { process: { at: "a", batches: [] } } as unknown as State;
  assert.equal(apply(before, {}).process, before.process);
});

test("every fault and every status has a word of its own", () => {
  const faults = ["too cool", "too warm", "too short", "too long", "too slow", "failed"];
  assert.equal(new Set(faults.map((it) => process.faults([it]))).size, faults.length);
  const statuses = ["waiting", "next", "running", "held", "done", "accepted"] as const;
  assert.equal(new Set(statuses.map((it) => process.status(it))).size, statuses.length);
});
