import assert from "node:assert/strict";
import { test } from "node:test";
import { recovery, type Recovery, type Way } from "../src/core/recovery.ts";

test("what is to be taken out is told as the scale can show it, the least rounded up", () => {
  const way = { way: "take out", take_g: { to_target: "47.34", to_limit: "46.0377" } } as unknown as Way;
  const told = (interval_g: string) => ({ interval_g }) as unknown as Recovery;
  assert.equal(recovery.head(way, told("0.1")), "Take 47.3\u00a0g out");
  assert.equal(recovery.big(way, told("0.1")), "Take 47.3\u00a0g out");
  assert.match(recovery.comes(way, told("0.1")), /^At least 46\.1\u00a0g\./);
  assert.match(recovery.comes(way, told("1")), /^At least 47\u00a0g\./);
  assert.equal(recovery.head(way, told("1")), "Take 47\u00a0g out");
});
