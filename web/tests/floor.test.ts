// The floor: who needs somebody comes first, nothing old passes for live, and all cards fit.

import assert from "node:assert/strict";
import test from "node:test";
import { type Card, floor, type FloorState, isGone, laidOut, making, type Making, rank, ranked, troubles, wireOfFloor } from "../src/core/floor.ts";
import { FrameError } from "../src/core/read.ts";

const NOW = Date.parse("2026-03-02T09:30:00.000Z");
const at = (seconds: number) => new Date(NOW + seconds * 1000).toISOString();

const card = (name: string, more: Partial<Card> = {}): Card => ({
  name, standing: "here", since: "", heard: "", said: at(-1), ahead_s: 0, twice: false, version: "1",
  batch: null, last: null, steps: null, scales: null, sharing: null, notices: null, ...more,
});
const addition = (more: object = {}) => ({
  n: 2, name: "Sucrose", scale: "bench", target_g: "364", low_g: "362", high_g: "366", net_g: "12.5", phase: "pouring",
  why: "", verdict: null, cue: null, held: null, lifted: false, ...more,
});
const batch = (more: object = {}) =>
  ({ id: "k-1", formula: "Milk ice", batch_g: "2400", of: 5, accepted: 1, allergens: [], addition: addition(more) }) as unknown as Card["batch"];
const step = (more: Partial<Making> = {}): Making => ({
  id: "k-0", name: "Milk ice", state: "running", step: 2, of: 3, what: "Age", begun: at(-60), ready_at: null, late_at: null,
  awaited: [], out: [], held: null, cool_by: null, ...more,
});
const makes = (more: Partial<Making> = {}) => ({ steps: { batches: [step(more)], more: 0 } });

test("who needs somebody comes first, whatever the names", () => {
  const cards = Object.fromEntries(
    [
      card("a-away", { standing: "away", batch: batch({ held: { cause: "over", since: at(-5) } }) }),
      card("b-free"),
      card("c-weighs", { batch: batch() }),
      card("d-lost", { batch: batch(), scales: { scales: [{ name: "bench", link: "lost", why: "", check: null }], more: 0 } }),
      card("e-due", makes({ ready_at: at(-3) })),
      card("f-waits", makes({ ready_at: at(3) })),
      card("g-held", { batch: batch({ held: { cause: "over", since: at(-5) } }) }),
      card("h-held", makes({ held: ["too warm"] })),
    ].map((it) => [it.name, it]),
  );
  assert.deepEqual(ranked(cards, NOW).map(({ card: { name } }) => name[0]).join(""), "ghedcfba");
  assert.equal(floor.summary(ranked(cards, NOW).map((it) => it.rank)), "2 need somebody · 1 with time up · 1 with trouble · 1 weighing · 1 in process · 1 free · 1 not there");
});

test("times are by the station's own clock", () => {
  const behind = card("k", { ahead_s: -120, ...makes({ ready_at: at(-60) }) });
  assert.equal(rank(behind, NOW), "waiting"); // at the station it is two minutes earlier
  assert.equal(rank(behind, NOW + 60_000), "due");
  assert.deepEqual(making(step({ ready_at: at(-75) }), NOW), { urgent: true, word: "Time is up", time: "1:15 ago" });
  assert.deepEqual(making(step({ ready_at: at(75), late_at: at(600) }), NOW), { urgent: false, word: "", time: "1:15" });
  assert.equal(making(step(), NOW).time, "1:00");
});

test("only a station that speaks, or is about to, is shown as live", () => {
  const gone = (["here", "unconfirmed", "silent", "away", "stopped", "cut"] as const).filter((it) => isGone(card("k", { standing: it })));
  assert.deepEqual(gone, ["silent", "away", "stopped", "cut"]);
  assert.match(floor.since(card("k", { standing: "away" })), /last word .* by its own clock/);
  assert.match(floor.since(card("k", { standing: "away", since: at(-9) })), /^since /);
});

test("what is wrong is told in words", () => {
  const it = card("k", {
    twice: true,
    notices: { store: { ok: false, code: "store-full" }, notices: [{ level: "warn", code: "lot-below-nothing", text: "S 12 40.5", at: at(0) }] },
    scales: { scales: [{ name: "bench", link: "live", why: "", check: { standing: "never checked", barred: true, due: null } }], more: 0 },
    sharing: { state: "stopped", behind: 3, since: null, code: "shared-forked" },
  });
  assert.deepEqual(troubles(it), [
    "Two stations use this name", "Its record cannot be written", "Scale bench: check never made",
    "Lot S 12: 40.5\u00a0g more weighed than there was", "Nothing goes to the shared store",
  ]);
});

test("frames: a snapshot, changes of some stations, one that is no more, and nothing that is not as agreed", () => {
  const told: string[] = [];
  const wire = wireOfFloor((now) => told.push(now));
  const head = { boot: "b", now: at(0), connected: true, why: "", since: at(-9) };
  const whole = { kind: "snapshot", seq: 4, now: at(0), state: { floor: head, stations: { a: card("a"), b: card("b") } } };
  const first = wire.read(JSON.stringify(whole));
  assert.equal(first.kind, "snapshot");
  const state = (first as { state: FloorState }).state;
  const change = wire.read(JSON.stringify({ kind: "change", seq: 5, now: at(1), stations: { a: null, c: card("c") } }));
  const after = wire.apply(state, change as Partial<FloorState>);
  assert.deepEqual(Object.keys(after.stations), ["b", "c"]);
  assert.equal(after.floor.boot, "b");
  assert.deepEqual(told, [at(0), at(1)]);
  for (const bad of ["x", "{}", '{"kind":"snapshot","seq":1,"state":{}}', '{"kind":"snapshot","seq":1,"state":{"floor":{"boot":"b"},"stations":{"a":null}}}', '{"kind":"change","seq":1,"stations":{"a":{}}}', '{"kind":"dance","seq":1}']) {
    assert.throws(() => wire.read(bad), FrameError, bad);
  }
});

test("one to thirty cards fill a wall screen without scrolling, and a phone scrolls", () => {
  for (let n = 1; n <= 30; n += 1) {
    const it = laidOut(n, 1904, 960);
    assert.ok(it.fits && it.size >= 14, `${n}: ${it.size}`);
    assert.ok(it.columns * Math.ceil(n / it.columns) >= n);
    assert.ok(it.columns * it.size * 20 <= 1905 && Math.ceil(n / it.columns) * it.size * 11.5 <= 961);
  }
  const phone = laidOut(12, 374, 700);
  assert.deepEqual([phone.columns, phone.fits], [1, false]);
  assert.ok(phone.size >= 14);
  assert.ok(laidOut(4, 1904, 960).size > 35); // few are large
});
