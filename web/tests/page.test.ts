import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import test from "node:test";
import { asShown, disturbance, others, pastLimit, primary, standing } from "../src/core/choice.ts";
import type { BatchRecord, Live } from "../src/core/frames.ts";
import { wish } from "../src/core/keys.ts";
import { inSteps, mass, signed, size, typedMass, unsure, withinSteps } from "../src/core/numbers.ts";
import { summary } from "../src/core/record.ts";
import { readRoute, to } from "../src/core/routes.ts";
import { doubt, tape, TARGET } from "../src/core/tape.ts";
import { words } from "../src/core/words.ts";

const ROOT = join(process.cwd(), "..");
const frame = (name: string) =>
  JSON.parse(readFileSync(join(ROOT, "fixtures", "frames", `${name}.json`), "utf8"));
const live = (name: string): Live => frame(name).state.live;

test("the big button follows `can` in every recorded phase", () => {
  const expected: [string, string | null][] = [
    ["awaiting-vessel", null],
    ["vessel-on", "tare"],
    ["ready", null],
    ["pouring-far", null],
    ["pouring-near", null],
    ["settling", null],
    ["on-target", "accept"],
    ["short", null],
    ["over-held", "take out"],
    ["too-close", "top up"],
    ["too-close-judged", "top up"],
    ["scale-lost", null],
    ["scale-silent", null],
    ["scale-at-zero", "resume"],
    ["taking-out", null],
    ["held-now-on-target", "accept"],
    ["held-now-short", "top up"],
  ];
  for (const [name, act] of expected) assert.equal(primary(live(name))?.do ?? null, act, name);
});

test("nothing is ever offered that the station would not take", () => {
  for (const name of ["ready", "short", "over-held", "too-close", "scale-at-zero", "on-target",
    "taking-out", "held-now-on-target", "held-now-short"]) {
    const it = live(name);
    const stripped: Live = { ...it, can: [] };
    assert.equal(primary(stripped), null, name);
    assert.deepEqual(others(stripped), [], name);
    for (const act of [primary(it), ...others(it)]) {
      if (act) assert.ok(it.can.includes(act.do), `${name}: ${act.do}`);
    }
  }
});

test("every phase, verdict and cause has words of its own", () => {
  const plates = ["awaiting-vessel", "vessel-on", "ready", "pouring-far", "settling", "on-target", "short",
    "over-held", "too-close", "scale-lost", "scale-silent", "scale-at-zero", "disturbed",
    "taking-out", "held-now-on-target", "held-now-short"];
  const said = plates.map((name) => words.phase(live(name), true));
  assert.equal(new Set(said).size, plates.length, said.join(" | "));
});

test("a hold follows the amount as it stands, and keeps its cause while that moves", () => {
  assert.equal(standing(live("over-held")), "over");
  assert.equal(standing(live("held-now-short")), "short");
  assert.equal(standing({ ...live("held-now-short"), verdict: null }), "over");
  assert.equal(standing(live("scale-lost")), null);
});

test("taking out is told until enough is out", () => {
  const addition = frame("taking-out").state.batch.additions[1];
  const it = live("taking-out");
  assert.ok(pastLimit(it, addition));
  assert.equal(words.phase(it, true), "Take some out");
  assert.equal(words.waitFor(it, true), "Take out 12.4\u00a0g");
  const less: Live = { ...it, net_g: "365.5", to_go_g: "-1.5" };
  assert.ok(!pastLimit(less, addition));
  assert.equal(words.phase(less, false), "Settling");
});

test("a scale that cannot be heard is told before anything else, and nothing is offered", () => {
  const scale = frame("over-held").state.scales.bench;
  const over = live("over-held");
  assert.equal(asShown(over, scale), over);
  for (const [link, word] of [["lost", "Scale lost"], ["silent", "Scale silent"], ["waiting", "Scale silent"]]) {
    const it = asShown(over, { ...scale, link })!;
    assert.equal(words.phase(it, true), word);
    assert.equal(primary(it), null);
    assert.deepEqual(others(it), []);
  }
  const lost = live("scale-lost");
  assert.equal(asShown(lost, { ...scale, link: "lost" }), lost);
});

test("held at zero with the vessel off, it is to be set back", () => {
  const asked = live("scale-at-zero");
  assert.equal(words.waitFor({ ...asked, off: true, can: ["abandon"] }, false), "Set the vessel back");
  assert.notEqual(words.waitFor(asked, false), "Set the vessel back");
});

test("a spoon in a vessel that stands is not called a lifted vessel", () => {
  assert.equal(disturbance(live("disturbed")), "lift");
  const spoon: Live = { ...live("pouring-near"), why: "lift" };
  assert.equal(words.phase(spoon, false), "Something was taken off");
  assert.equal(disturbance({ ...spoon, taking_out: true }), "");
});

test("whatever a weigher's press can be refused for has words of its own", () => {
  const read = (...path: string[]) => readFileSync(join(ROOT, ...path), "utf8");
  const conflicts = [...read("weighd", "http", "errors.py").matchAll(/"([a-z-]+)": (?:409|503)/g)];
  const stores = [...read("weighd", "storage", "faults.py").matchAll(/^ {4}"(store-[a-z-]+)": \($/gm)];
  assert.ok(conflicts.length > 10 && stores.length > 10);
  const codes = [...conflicts, ...stores].map((it) => it[1]!);
  for (const code of [...codes, "key-reused", "no-operator", "no-lot", "internal"]) {
    const said = words.refusal(code, "DETAIL.", "REMEDY.");
    assert.match(said, /^[A-Z].*\.$/, code);
    assert.ok(!said.includes("REMEDY"), code);
  }
  assert.equal(words.refusal("new-code", "It says.", "Do this."), "It says. Do this.");
});

const press = (key: string, more = {}) => ({
  key, repeat: false, ctrlKey: false, metaKey: false, altKey: false, ...more,
});
const page = { typing: false, control: false, dialog: false };

test("keys: one press, one act; held keys, typing, dialogs and browser shortcuts are left alone", () => {
  assert.equal(wish(press(" "), page), "primary");
  assert.equal(wish(press("Enter"), page), "primary");
  assert.equal(wish(press("T"), page), "tare");
  assert.equal(wish(press("?"), page), "keys");
  assert.equal(wish(press(" ", { repeat: true }), page), null);
  assert.equal(wish(press("t", { ctrlKey: true }), page), null);
  assert.equal(wish(press("a"), { ...page, typing: true }), null);
  assert.equal(wish(press(" "), { ...page, dialog: true }), null);
  assert.equal(wish(press("Enter"), { ...page, control: true }), null);
  assert.equal(wish(press("x"), page), null);
});

test("masses keep the digits they came with", () => {
  assert.equal(mass("1180"), "1180");
  assert.equal(mass("12345.60"), "12\u202f345.60");
  assert.equal(mass("-0.40"), "\u22120.40");
  assert.equal(mass(null), "\u2013\u2013\u2013");
  assert.equal(size("-12.4"), "12.4");
  assert.equal(signed("0.3"), "+0.3");
  assert.equal(signed("0.0"), "0.0");
  assert.equal(signed("-3.8"), "\u22123.8");
});

test("limits are shown as the scale can show them, never wider than they are", () => {
  assert.deepEqual(withinSteps("228.5515", "230.8485", "0.1"), ["228.6", "230.8"]);
  assert.deepEqual(withinSteps("865.65", "874.35", "0.1"), ["865.7", "874.3"]);
  assert.deepEqual(withinSteps("865.65", "874.35", "1"), ["866", "874"]);
  assert.deepEqual(withinSteps("865.65", "874.35", "5"), ["870", "870"]);
  assert.deepEqual(withinSteps("0.07", "0.57", "0.05"), ["0.10", "0.55"]);
  assert.deepEqual(withinSteps("406", "413", "0.1"), ["406.0", "413.0"]);
  assert.deepEqual(withinSteps("3.5", "4.1", "1"), ["4", "4"]);
  assert.deepEqual(withinSteps("4.1", "4.9", "1"), ["4.1", "4.9"]);
  assert.deepEqual(withinSteps("4.1", "4.9", null), ["4.1", "4.9"]);
});

test("what is to go is written in steps that the display can show", () => {
  assert.equal(inSteps("71.23", "0.1"), "71.2");
  assert.equal(inSteps("0.05", "0.1"), "0.1");
  assert.equal(inSteps("-0.04", "0.1"), "0.0");
  assert.equal(inSteps("-12.46", "0.1"), "-12.5");
  assert.equal(inSteps("873", "5"), "875");
  assert.equal(inSteps("0.33", "0.05"), "0.35");
  assert.equal(inSteps("71.23", null), "71.23");
  assert.equal(inSteps(null, "0.1"), null);
});

test("an uncertainty is said to two digits", () => {
  assert.equal(unsure("0.0429034613"), "0.043");
  assert.equal(unsure("0.1"), "0.10");
  assert.equal(unsure("12.345"), "12");
  assert.equal(unsure("0"), "0");
});

test("a typed batch size is taken with dot, comma or spaces, and refused otherwise", () => {
  assert.equal(typedMass(" 2 400,5 "), "2400.5");
  for (const bad of ["", "0", "-5", "1e3", "12g", "1.2.3", "NaN"]) assert.equal(typedMass(bad), null, bad);
});

test("the tape runs one way, has the notch round the target and magnifies near it", () => {
  for (const [target, low, high] of [[364, 362.18, 365.82], [5, 4.8, 5.2], [1180, 1168.2, 1191.8],
    [100, 100, 101], [20, 19, 20.0001], [4800, 4799.9, 4800.1]] as const) {
    const t = tape(target, low, high);
    assert.ok(Math.abs(t.place(0)) < 1e-9, `empty lies at the start: ${target}`);
    assert.ok(Math.abs(t.place(target) - TARGET) < 1e-9);
    assert.ok(t.low <= TARGET && t.high >= TARGET);
    let last = -1;
    for (let i = 0; i <= 200; i += 1) {
      const at = t.place((target * 1.2 * i) / 200);
      assert.ok(at >= last && at >= 0 && at <= 1);
      last = at;
    }
    const near = t.place(target * 0.999) - t.place(target * 0.998);
    const far = t.place(target * 0.101) - t.place(target * 0.1);
    assert.ok(near > far, `nearer is drawn larger: ${target}`);
    assert.ok(t.high - t.low > 0.04, `the notch can be seen: ${target} ${t.high - t.low}`);
    const places = t.marks.map((m) => m.at);
    assert.deepEqual(places, [...places].sort((a, b) => a - b));
    assert.equal(t.place(t.end * 10), 1);
  }
});

test("the mark on the tape is as wide as what is not known", () => {
  const close = live("too-close-judged");
  const it = doubt(close, null)!;
  assert.deepEqual([it.at, it.by, it.lands], [Number(close.net_g), Number(close.guard_g), false]);
  assert.ok(it.at - it.by < 4.8 && it.at + it.by > 4.8, "too close to call: the band lies over the limit of 4.8 g");
  const good = live("on-target");
  const sure = doubt(good, null)!;
  assert.ok(sure.at - sure.by > 362.2 && sure.at + sure.by < 365.8, "on target: all of the band lies between the limits");
  assert.equal(doubt({ ...good, guard_g: "0" }, null)!.by, 2 * Number(good.u_g), "by the simple rule: twice u");
  const pouring = live("pouring-far");
  assert.equal(doubt({ ...pouring, settled: false }, null), null);
  assert.deepEqual(doubt(pouring, { cue: "slow", landing_g: "150.5", sigma_g: "1.1" }), { at: 150.5, by: 2.2, lands: true });
  assert.equal(doubt(pouring, { cue: "stop", landing_g: "1", sigma_g: "1" })!.at, Number(pouring.net_g));
  assert.equal(doubt({ ...good, net_g: null }, null), null);
});

test("addresses go there and back, whatever the id is made of", () => {
  assert.deepEqual(readRoute(""), { screen: "bench" });
  assert.deepEqual(readRoute(to.start("ice", "40 servings of 80 g", true)), { screen: "start", formula: "ice", size: "40 servings of 80 g", steps: true });
  assert.deepEqual(readRoute(to.start("a/b é")), { screen: "start", formula: "a/b é", size: "", steps: false });
  assert.deepEqual(readRoute(to.record("kitchen-0007")), { screen: "record", batch: "kitchen-0007" });
  assert.deepEqual(readRoute(to.records()), { screen: "records" });
  assert.deepEqual(readRoute("#/scales"), { screen: "scales" });
  assert.deepEqual(readRoute("#/start/%E0%A4%A"), { screen: "start", formula: "%E0%A4%A", size: "", steps: false });
});

test("times by a clock in doubt are marked, and told of once", () => {
  const plain = summary(frame("record"));
  assert.deepEqual(plain.clocks, []);
  assert.ok(plain.accepted.every((one) => !one.doubtful));
  const record: BatchRecord = JSON.parse(JSON.stringify(frame("record")));
  for (const entry of record.entries.filter((one) => one.kind === "addition accepted")) entry.body["clock"] = { is: "behind", newest: entry.at };
  const it = summary(record);
  assert.deepEqual(it.clocks, ["behind"]);
  assert.ok(it.accepted.length > 0 && it.accepted.every((one) => one.doubtful));
  assert.match(words.record.clocks(["behind", "unset"]), /was behind what is recorded, and had lost its time/);
});

test("a record is read with its evidence and what was out of the ordinary", () => {
  const it = summary(frame("record"));
  assert.equal(it.name, "Blackcurrant milk ice");
  assert.equal(it.status, "closed");
  assert.equal(it.rule, "guarded, k = 2");
  assert.equal(it.accepted.length, 5);
  assert.equal(it.accepted[2]?.verdict, "over");
  assert.equal(it.accepted[2]?.reason, "Makes no difference to this batch");
  assert.equal(it.accepted[0]?.readings.length, 16);
  assert.deepEqual(it.events.map((e) => e.kind), ["restarted", "resumed", "held", "decided"]);
  assert.equal(words.record.event("held", "over", "512.0"), "Held: over");
  assert.equal(
    words.record.event("zero moved", "tare key", "287.6"),
    "Zero moved: the scale's own tare key was pressed; counted on from 287.6\u00a0g",
  );
  assert.equal(words.record.event("zero moved", "scale at zero", null), "Zero moved: the scale was back at zero");
});

test("a moved zero is told with what was counted on from, where that is known", () => {
  const { zeroMoved, drift } = words.weigh;
  assert.equal(zeroMoved("tare key", "287.6"), "The scale's own tare key was pressed; counted on from 287.6\u00a0g.");
  assert.equal(zeroMoved("zeroed empty", "337.6"), "The vessel was weighed again; 337.6\u00a0g were in it.");
  assert.equal(zeroMoved("scale at zero", null), "The scale was back at zero.");
  assert.equal(drift("-0.42"), "Losing 0.42\u00a0g a minute.");
  assert.equal(drift("1.2"), "Gaining 1.2\u00a0g a minute.");
});

test("a record cut short is shown for what it has", () => {
  const cut = frame("record");
  cut.entries = cut.entries.slice(0, 1);
  const it = summary(cut);
  assert.equal(it.status, "open");
  assert.equal(it.planned.length, 5);
  assert.deepEqual(it.accepted, []);
  assert.deepEqual(summary({ weighd_record: 1, station: null, batch: "x", entries: [] }).accepted, []);
});
