import assert from "node:assert/strict";
import { test } from "node:test";
import { readRoute, to } from "../src/core/routes.ts";
import { height, moves, reachOf, standing, trends, type Detail } from "../src/core/trends.ts";

const one = (rule: string, at: number, up = true) => ({ rule, at, since: at, up });

test("the newest of each kind stands out, on each side", () => {
  const them = [one("a", 1), one("b", 2), one("a", 3), one("a", 4, false), one("c", 5)];
  assert.deepEqual(standing(them).map((it) => it.at), [5, 4, 3]);
  assert.deepEqual(standing(them, 9).map((it) => it.at), [5, 4, 3, 2]);
  assert.deepEqual(standing([]), []);
});

test("a chart reaches what is allowed, what is usual and every value, within reason", () => {
  const it = { points: [{ share: 0.2 }], chart: { low: -1.5, high: 1 } } as unknown as Detail;
  assert.ok(reachOf(it) > 1.5);
  assert.ok(reachOf({ ...it, chart: null }) > 1);
  assert.equal(reachOf({ ...it, points: [{ share: 900 }] } as unknown as Detail), 4);
  const usual = Array.from({ length: 23 }, () => ({ share: 0.5 }));
  const slip = (share: number) => ({ ...it, chart: null, points: [...usual, { share }] }) as unknown as Detail;
  assert.ok(reachOf(slip(3)) < 1.2); // a single slip does not flatten the others
  assert.ok(reachOf(slip(1.4)) > 1.4); // what is not far is shown where it is
  assert.equal(height(0, 2), 0.5);
  assert.equal(height(2, 2), 0);
  assert.equal(height(-9, 2), 1);
});

test("a bias that cannot be told from none is not given as one", () => {
  const told = trends.bias({ mean: 0.2, low: -0.1, high: 0.5, sure: false });
  assert.match(told, /nothing that could be told/);
  assert.match(trends.bias({ mean: 0.2, low: 0.1, high: 0.3, sure: true }), /^\+0\.20/);
  assert.equal(trends.room({ cp: 1, cpk: null, low: null, high: null, ppk: 1 }), "more than enough");
});

test("addresses of trends read back, whatever an ingredient is called", () => {
  for (const name of ["cream", "a/b", "50 % juice", "ü"]) {
    assert.deepEqual(readRoute(to.trend("scale", name)), { screen: "trend", by: "scale", of: name });
  }
  assert.deepEqual(readRoute("#/trends"), { screen: "trends", by: "ingredient" });
  assert.deepEqual(readRoute("#/trends/weather"), { screen: "trends", by: "ingredient" });
});

test("moving ranges are those between neighbours; the first weighing has none", () => {
  const it = { points: [{ share: 0.25 }, { share: -0.5 }, { share: -0.5 }] } as unknown as Detail;
  assert.deepEqual(moves(it), [null, 0.75, 0]);
});
