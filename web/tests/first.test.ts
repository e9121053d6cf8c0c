import assert from "node:assert/strict";
import test from "node:test";
import { hintAt, plateOf, pretendFlow, said, stepOf } from "../src/core/first.ts";
import type { Addition, Live } from "../src/core/frames.ts";
import { readRoute } from "../src/core/routes.ts";

const live = (more: object) =>
  ({ phase: "ready", can: [], tare_g: "250", gross_g: "250", to_go_g: "50", verdict: null, held: null, taking_out: false, ...more }) as unknown as Live;

test("a walk stands at what is not done yet, and a scale comes first", () => {
  assert.equal(stepOf("formula", 0, true), "scale");
  assert.equal(stepOf(null, 1, false), "you");
  assert.equal(stepOf(null, 1, true), "formula");
  assert.equal(stepOf("add", 1, true), "add");
  assert.deepEqual(readRoute("#/first/you"), { screen: "first", step: "you" });
  assert.deepEqual(readRoute("#/first/elsewhere"), { screen: "first", step: null });
});

test("the hint says what the board waits for, and never offers what it would refuse", () => {
  const bare = { phase: "awaiting vessel", tare_g: null };
  const at = (more: object, past = false, there = true) => hintAt(live(more), past, there);
  assert.equal(at({ ...bare, can: ["tare"], gross_g: "0.0" }), "set down");
  assert.equal(at({ ...bare, can: ["tare"] }), "tare");
  assert.equal(at({ ...bare, can: ["tare"], left: "same" }), "asks");
  assert.equal(at({ phase: "awaiting vessel" }), "put back");
  assert.equal(at({ phase: "pouring" }), "go on");
  assert.equal(at({ phase: "judged", verdict: "on target", can: ["accept"] }), "take it");
  assert.equal(at({ phase: "held", verdict: "on target", can: ["accept"] }), "take it");
  assert.equal(at({ phase: "judged", verdict: "short" }), "short");
  assert.equal(at({ phase: "judged", verdict: "too close to call" }), "close");
  assert.equal(at({ phase: "judged", verdict: "too close to call", to_go_g: "-0.3" }), "much");
  assert.equal(at({ phase: "held", verdict: "over" }), "over");
  assert.equal(at({ phase: "settling", taking_out: true, to_go_g: "-3" }), "take out");
  assert.equal(at({}, false, false), "away");
});

test("pretend hands are named where there are some, and pour less the less is to go", () => {
  const milk = { name: "Milk" } as Addition;
  assert.match(said("pour", milk, true), /Hold to pour.*Milk/);
  assert.doesNotMatch(said("pour", milk, false), /Hold/);
  assert.equal(pretendFlow("870", false), "80.0");
  assert.equal(pretendFlow("40", false), "5.0");
  assert.equal(pretendFlow("8", true), "2.0");
  assert.equal(pretendFlow("-1", true), "0.4");
  assert.equal(pretendFlow(null, false), "0.4");
});

test("a plate is filled in from what the scale tells, else from its last digit", () => {
  const place = { id: "x", driver: "serial", where: "x", what: "", used: "", state: "reading", why: "", rule: false } as const;
  assert.deepEqual(plateOf({ ...place, step_g: "0.1" }), { max: "", interval: "0.1" });
  assert.deepEqual(plateOf({ ...place, max_g: "6000", interval_g: "0.5", step_g: "0.1" }), { max: "6000", interval: "0.5" });
});
