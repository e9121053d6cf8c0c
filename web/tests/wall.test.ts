import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import test from "node:test";
import type { Batch } from "../src/core/frames.ts";
import type { InProcess, Now } from "../src/core/process.ts";
import { readRoute, to } from "../src/core/routes.ts";
import { comesNext, inNeed, lettersOf, offTarget, urgency } from "../src/core/wall.ts";

const state = (name: string) => JSON.parse(readFileSync(join(process.cwd(), "..", "fixtures", "frames", `${name}.json`), "utf8")).state;
const now = (more: Partial<Now> = {}): Now => ({ elapsed_s: "60", least_s: null, most_s: "600", met: false, out: [], awaited: [], hold: null, ...more });
const made = (id: string, more: Partial<InProcess> = {}): InProcess =>
  ({ id, name: id, batch_g: "1", operator: "", weighed: "", state: "running", step: 1, now: now(), held: null, cooling: null, can: [], steps: [], ...more });

/** The files that the wall is drawn by. What else they use only gives words, drawings and signals. */
const DRAWN = ["wall.tsx", "board.tsx", "tape.tsx", "shapes.tsx", "said.tsx", "announce.tsx"];
const source = (file: string) => readFileSync(join(process.cwd(), "src", "app", file), "utf8");

test("nothing on the wall can be pressed, typed into or gone to, and nothing of it can send", () => {
  // What a part may know of the page's store: signals, and no way to act.
  const may = new Set(["batch", "cue", "current", "fresh", "guidance", "inProcess", "link", "live", "past", "processCame", "scale", "stance", "station"]);
  for (const file of DRAWN) {
    const text = source(file);
    assert.doesNotMatch(text, /<(?:button|a|input|select|textarea|form|details|summary|dialog|label)[\s>]/, file);
    assert.doesNotMatch(text, /\bon[A-Z]\w*=|tabIndex|contentEditable|\bhref=/, file);
    assert.doesNotMatch(text, /\bfetch\(|WebSocket|\.send\(|\.command\(/, file);
    for (const [, names, from] of text.matchAll(/import (?:type )?\{([^}]*)\} from "(\.\/[^"]+)"/g)) {
      if (from === "./store.ts") {
        for (const name of names!.split(",").map((it) => it.trim()).filter(Boolean)) assert.ok(may.has(name), `${file}: ${name} of the store`);
      } else assert.ok(DRAWN.includes(from!.slice(2)) || from === "./wall-leave.ts", `${file}: ${from}`);
    }
  }
  assert.doesNotMatch(source("wall-leave.ts"), /store\.ts|fetch|commands/);
});

test("what comes next is what is still to be weighed, in order", () => {
  const batch = state("pouring-near").batch as Batch;
  assert.deepEqual(comesNext(batch, 2).map((it) => it.name), ["Glucose syrup, dried", "Whole milk", "Locust bean gum"]);
  assert.deepEqual(comesNext(batch, 5), []);
  assert.equal(offTarget(state("done").batch as Batch), 1);
});

test("who needs somebody stands first: held, out of its limits, past its time; the rest as told", () => {
  const them = [
    made("runs"),
    made("waits", { state: "waiting", now: null }),
    made("late", { now: now({ elapsed_s: "590" }) }),
    made("held", { state: "held", now: null }),
    made("out", { now: now({ out: ["too warm"] }) }),
    made("cools", { now: now(), cooling: { limits: "", source: "", status: "", since_s: "", left_s: "5" } }),
  ];
  assert.deepEqual(inNeed(them, 0).map((it) => it.id), ["held", "out", "runs", "late", "cools", "waits"]);
  // Eleven seconds after the picture: 601 s of 600 s, and the cooling is past its time.
  assert.deepEqual(inNeed(them, 11).map((it) => it.id), ["late", "held", "out", "cools", "runs", "waits"]);
  assert.equal(urgency(made("x", { state: "waiting", now: null }), 0), 2);
});

test("a name is measured by its longest word and by all of it", () => {
  assert.deepEqual(lettersOf("Glucose syrup, dried"), { longest: 7, letters: 20 });
  assert.deepEqual(lettersOf(""), { longest: 1, letters: 1 });
});

test("the wall has a door, and an address of its own for a screen that starts by itself", () => {
  assert.deepEqual(readRoute(to.wall()), { screen: "wall", on: false });
  assert.deepEqual(readRoute(to.wall(true)), { screen: "wall", on: true });
  assert.deepEqual(readRoute("#/wall/else"), { screen: "wall", on: false });
});
