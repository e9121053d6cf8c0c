// How far behind the shared store is, in words: nothing when all is sent.

import assert from "node:assert/strict";
import { test } from "node:test";
import { outgoing, stopped, waiting, type Outgoing } from "../src/core/outgoing.ts";
import { apply, readFrame } from "../src/core/read.ts";
import type { State } from "../src/core/frames.ts";

const IT: Outgoing = {
  state: "behind", store: "postgresql://bench@db/floor", behind: 12, since: "2026-03-01T08:00:00.000Z",
  contact: null, code: "store-away", why: "The shared store does not answer.",
};

test("nothing is said when all is sent, nor of what is on its way anyway", () => {
  assert.equal(waiting(null), "");
  assert.equal(waiting({ ...IT, state: "current", behind: 0, code: "" }), "");
  assert.equal(waiting({ ...IT, state: "current", behind: 0 }), "");
  assert.equal(waiting({ ...IT, code: "" }), "");
});

test("what waits is counted, with its age and why", () => {
  assert.ok(waiting(IT).startsWith("12 entries wait for the shared store, the oldest from"), waiting(IT));
  assert.ok(waiting(IT).includes("does not answer"));
  assert.ok(waiting({ ...IT, behind: 1 }).startsWith("1 entry waits"));
  assert.ok(waiting({ ...IT, code: "store-full" }).includes("cannot take them"));
  assert.ok(waiting({ ...IT, code: "", behind: 3000 }).includes("go there now"));
});

test("what stops it is told loudly, with what to do", () => {
  const it: Outgoing = { ...IT, state: "stopped", code: "shared-forked", why: "" };
  assert.equal(stopped(it), true);
  assert.equal(stopped(IT), false);
  assert.equal(waiting(it), "");
  assert.ok(outgoing.todo(it.code, "").includes("Rename one"));
  assert.equal(outgoing.todo("hash-mismatch", "The station\u2019s own words."), "The station\u2019s own words.");
});

test("the section is read off the wire, kept over changes of others, and may go", () => {
  const frame = readFrame(JSON.stringify({ kind: "change", seq: 2, sharing: IT }));
  assert.equal(frame.kind, "change");
  const before = { station: null, scales: {}, batch: null, live: null } as unknown as State;
  const after = apply(before, frame as Partial<State>);
  assert.deepEqual(after.sharing, IT);
  assert.deepEqual(apply(after, { batch: null }).sharing, IT);
  assert.equal(apply(after, { sharing: null }).sharing, null);
  assert.throws(() => readFrame(JSON.stringify({ kind: "change", seq: 2, sharing: { ...IT, state: "lost" } })));
});
