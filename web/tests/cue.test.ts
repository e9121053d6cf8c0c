import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import test from "node:test";
import { asShown } from "../src/core/choice.ts";
import { APART_MS, Beats, heardCue, shownCue, type Sound } from "../src/core/cue.ts";
import type { Cue, Live } from "../src/core/frames.ts";
import { wish } from "../src/core/keys.ts";
import { FrameError, readFrame } from "../src/core/read.ts";
import { words } from "../src/core/words.ts";

const frame = (name: string) =>
  JSON.parse(readFileSync(join(process.cwd(), "..", "fixtures", "frames", `${name}.json`), "utf8"));
const live = (name: string): Live => frame(name).state.live;
const told = (cue: Cue) => ({ cue, landing_g: "1.0", sigma_g: "0.1" });

test("the cue is shown while something may be poured, and nowhere else", () => {
  const expected: [string, Cue | null][] = [
    ["awaiting-vessel", null],
    ["ready", null],
    ["pouring-far", "pour"],
    ["pouring-near", "slow"],
    ["settling", null],
    ["taking-out", null],
    ["short", null],
    ["on-target", null],
    ["over-held", null],
    ["scale-lost", null],
    ["disturbed", null],
  ];
  for (const [name, cue] of expected) assert.equal(shownCue(live(name), true)?.cue ?? null, cue, name);
  const settling = (cue: Cue): Live => ({ ...live("settling"), cue: told(cue) });
  assert.equal(shownCue(settling("slow"), true)?.cue, "slow");
  assert.equal(shownCue(settling("stop"), true), null);
});

test("nothing stale is told: not of a frame that is old, nor of a scale that is not heard", () => {
  const it = live("pouring-near");
  assert.equal(shownCue(it, false), null);
  assert.equal(heardCue(it, false), null);
  const scale = { ...frame("pouring-near").state.scales.bench, link: "silent" };
  assert.equal(shownCue(asShown(it, scale), true), null);
  assert.equal(shownCue({ ...it, why: "shaking" }, true), null);
  assert.equal(shownCue({ ...it, cue: null }, true), null);
  const { cue: _, ...older } = it;
  assert.equal(shownCue(older, true), null);
});

test("it is heard only while pouring", () => {
  for (const cue of ["pour", "slow", "stop"] as const) {
    const it: Live = { ...live("pouring-far"), cue: told(cue) };
    assert.equal(heardCue(it, true), cue);
    for (const phase of ["ready", "settling", "judged", "held", "awaiting vessel"] as const) {
      assert.equal(heardCue({ ...it, phase }, true), null, `${cue} while ${phase}`);
    }
  }
});

test("each cue has words of its own, short enough for its bar", () => {
  const cues = ["pour", "slow", "stop"] as const;
  const bar = cues.map((cue) => words.cue(cue));
  const plate = cues.map((cue) => words.phase(live("pouring-far"), false, cue));
  assert.equal(new Set(bar).size, 3);
  assert.equal(new Set(plate).size, 3);
  for (const word of bar) assert.ok(word.length <= 5 && !word.includes(" "), word);
  // Where the plate says something else, the cue does not speak over it.
  assert.equal(words.phase(live("settling"), false, "slow"), "Settling");
  assert.equal(words.phase(live("over-held"), true, "stop"), "Over");
});

test("a frame with a cue that nobody agreed on is refused", () => {
  const it = frame("pouring-near");
  assert.equal(readFrame(JSON.stringify(it)).kind, "snapshot");
  for (const cue of [{ cue: "hurry", landing_g: "1", sigma_g: "1" }, { ...told("pour"), landing_g: "1e3" }, "stop"]) {
    const bad = { ...it, state: { ...it.state, live: { ...it.state.live, cue } } };
    assert.throws(() => readFrame(JSON.stringify(bad)), FrameError);
  }
});

test("S is the sound, and a letter where somebody writes", () => {
  const press = { key: "s", repeat: false, ctrlKey: false, metaKey: false, altKey: false };
  const nowhere = { typing: false, control: false, dialog: false };
  assert.equal(wish(press, nowhere), "sound");
  assert.equal(wish({ ...press, key: "S" }, nowhere), "sound");
  assert.equal(wish(press, { ...nowhere, typing: true }), null);
  assert.equal(wish({ ...press, repeat: true }, nowhere), null);
});

/** Time that passes only when told to. */
class Clock {
  at = 0;
  #waiting: { at: number; call: () => void }[] = [];
  after = (ms: number, call: () => void) => {
    const it = { at: this.at + ms, call };
    this.#waiting.push(it);
    return it;
  };
  cancel = (timer: unknown) => {
    this.#waiting = this.#waiting.filter((it) => it !== timer);
  };
  now = () => this.at;
  get pending() {
    return this.#waiting.length;
  }
  pass(ms: number) {
    const end = this.at + ms;
    for (;;) {
      const next = this.#waiting.filter((it) => it.at <= end).sort((a, b) => a.at - b.at)[0];
      if (next === undefined) break;
      this.cancel(next);
      this.at = next.at;
      next.call();
    }
    this.at = end;
  }
}

function listen() {
  const clock = new Clock();
  const heard: { sound: Sound; at: number }[] = [];
  const beats = new Beats((sound) => heard.push({ sound, at: clock.at }), clock);
  return { clock, heard, beats };
}

test("ticks quicken on slow, and stop has a sound of its own", () => {
  const { clock, heard, beats } = listen();
  beats.follow("pour");
  clock.pass(2950);
  const calm = heard.splice(0);
  beats.follow("slow");
  clock.pass(2950);
  const quick = heard.splice(0);
  beats.follow("stop");
  clock.pass(2950);
  const stop = heard.splice(0);
  assert.ok(calm.every((it) => it.sound === "tick") && quick.every((it) => it.sound === "tick"));
  assert.ok(stop.every((it) => it.sound === "stop"));
  assert.ok(quick.length >= 2.5 * calm.length, `${calm.length}, ${quick.length}`);
  assert.ok(stop.length >= 2 && stop.length <= 3);
  assert.equal(stop[0]!.at, 5900); // at once
});

test("a cue that goes falls silent at once, and the same one said again changes nothing", () => {
  const { clock, heard, beats } = listen();
  beats.follow("slow");
  for (let k = 0; k < 20; k += 1) {
    beats.follow("slow");
    clock.pass(50);
  }
  assert.equal(heard.length, 4); // at 0, 300, 600, 900 ms
  beats.follow(null);
  clock.pass(10_000);
  assert.equal(heard.length, 4);
  assert.equal(clock.pending, 0);
});

test("a cue that flickers does not drum", () => {
  const { clock, heard, beats } = listen();
  for (let k = 0; k < 100; k += 1) {
    beats.follow("slow");
    clock.pass(10);
    beats.follow(null);
    clock.pass(10);
  }
  assert.ok(heard.length <= 2000 / APART_MS + 1, `${heard.length}`);
  for (let k = 1; k < heard.length; k += 1) assert.ok(heard[k]!.at - heard[k - 1]!.at >= APART_MS);
});
