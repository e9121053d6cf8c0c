// Steps as they are written: what is sent, what is set aside, and how each reads back.

import assert from "node:assert/strict";
import { test } from "node:test";
import {
  degrees,
  emptyStep,
  exactly,
  fieldsOf,
  inAll,
  isOfEmpty,
  leastTime,
  mayBe,
  meansOf,
  savedRows,
  saying,
  sentSteps,
  type StepDraft,
  type StepKind,
  type StepRead,
  stepRow,
  steps,
  terms,
  toConfirm,
  type Treatment,
  uncooled,
  usualRows,
  withKind,
} from "../src/core/steps.ts";

const kind = (name: string, takes: string[]): StepKind => ({ kind: name, name, takes, needs: [], keeps: false });
const HEAT = kind("heat-treat", ["table"]);
const COOL = kind("cool", ["temperature", "time"]);
const draft = (more: Partial<StepDraft> = {}): StepDraft => ({
  kind: "cool", name: "", how: "", with: "", temperature: "", time: "", table: "", cautions: [], was: null, ...more,
});
const at = (written: string, celsius = written, fahrenheit = written) => ({ written, celsius, fahrenheit });
const read = (more: Partial<StepRead> = {}): StepRead => ({
  kind: "cool", name: "Cool", how: "", with: "", keeps: false, at_least: null, at_most: null, least_s: null, most_s: null, table: null, cautions: [], ...more,
});
// Conn. Agencies Regs. 21a-58-13(a), as the station tells of it: 155 °F is 68.33 °C, and told as 68.4.
const pair = (written: string, celsius: string, time_s: string) =>
  ({ pair: "", celsius, time: "", time_s, source: "s", status: "read", at_least: at(written, celsius, written) });
const TABLE: Treatment = {
  id: "t", name: "T", note: "", cooling: null,
  pairs: [pair("155 \u00b0F", "68.4 \u00b0C", "1800"), pair("175 \u00b0F", "79.5 \u00b0C", "25"), pair("210 \u00b0F", "98.9 \u00b0C", "0")],
};

test("what another kind does not take is set aside, and comes back with its kind", () => {
  const row = stepRow(draft({ temperature: "at most 4 \u00b0C", time: "within 1 h", how: "In ice." }));
  const heat = withKind(row, "heat-treat", HEAT.takes);
  assert.deepEqual(heat.aside, { temperature: "at most 4 \u00b0C", time: "within 1 h" });
  assert.deepEqual(sentSteps([heat]), [draft({ kind: "heat-treat", how: "In ice." })]);
  const back = withKind({ ...heat, table: "t" }, "cool", COOL.takes);
  assert.deepEqual([back.temperature, back.time, back.table, back.aside], ["at most 4 \u00b0C", "within 1 h", "", { table: "t" }]);
  assert.equal(back.key, row.key);
});

test("only what a kind takes is shown, and what stands in the file where it should not", () => {
  assert.deepEqual(fieldsOf(emptyStep("heat-treat"), HEAT), ["table"]);
  assert.deepEqual(fieldsOf(emptyStep("cool"), COOL), ["temperature", "time"]);
  assert.deepEqual(fieldsOf(stepRow(draft({ table: "t" })), COOL), ["temperature", "time", "table"]);
});

test("each row is sent as what it was in the file, and after saving as what it is there now", () => {
  const [one, two] = [stepRow(draft({ was: 0 })), stepRow(draft({ kind: "age", was: 1 }))];
  const fresh = emptyStep("fill");
  const sent = [two!, fresh, one!];
  assert.deepEqual(sentSteps(sent)!.map((it) => it.was), [1, null, 0]);
  const later = emptyStep("mix"); // added while it was being saved
  assert.deepEqual(savedRows([...sent, later], sent)!.map((it) => it.was), [0, 1, 2, null]);
  assert.equal(sentSteps(null), null);
  assert.equal(savedRows(null, null), null);
  assert.deepEqual(usualRows([draft({ was: 4 })]).map((it) => it.was), [null]);
});

test("an answer belongs to a text, wherever its row stands", () => {
  const row = stepRow(draft({ time: "within 1 h" }));
  assert.equal(saying(row), saying({ ...row, key: 99, was: 3, aside: { table: "t" } }));
  assert.notEqual(saying(row), saying({ ...row, time: "within 2 h" }));
});

test("that an empty field is empty is told apart from what was typed wrong", () => {
  const row = stepRow(draft({ temperature: "cold", cautions: [{ name: "hot", text: "" }] }));
  assert.equal(isOfEmpty(row, "temperature"), false);
  assert.equal(isOfEmpty(row, "time"), true);
  assert.equal(isOfEmpty(row, "cautions[1].name"), false);
  assert.equal(isOfEmpty(row, "cautions[1].text"), true);
  assert.equal(isOfEmpty(row, "minutes"), false); // a field of the file that no step has
});

test("a step reads back as a sentence: reached or kept, and for how long", () => {
  const say = (it: Partial<StepRead>) => steps.asks(read(it), null, "\u00b0C").replaceAll("\u00a0", " ");
  assert.equal(say({ at_most: at("4 \u00b0C"), most_s: "5400" }), "bring it to 4 \u00b0C or colder, within 90 min");
  assert.equal(say({ keeps: true, at_most: at("4 \u00b0C"), least_s: "14400", most_s: "86400" }), "keep it at 4 \u00b0C or colder, for 4 h to 24 h");
  assert.equal(say({ at_least: at("-14 \u00b0C"), at_most: at("-11 \u00b0C") }), "bring it between \u221214 \u00b0C and \u221211 \u00b0C");
  assert.equal(say({ at_least: at("40 \u00b0C"), least_s: "600", most_s: "1800" }), "bring it to 40 \u00b0C or warmer, for at least 10 min, there within 30 min");
  assert.equal(say({ most_s: "90" }), "for at most 90 s");
  assert.equal(say({}), "");
  assert.equal(
    steps.asks(read({ table: "t" }), TABLE, "\u00b0F").replaceAll("\u00a0", " "),
    "hold it at one of these: 155 \u00b0F or hotter for 30 min; 175 \u00b0F or hotter for 25 s; 210 \u00b0F or hotter, no time to wait",
  );
  assert.equal(steps.head("Freeze", "dry ice"), "Freeze with dry ice");
});

test("a temperature is told as it was written, and in the unit that is measured in", () => {
  const cold = at("4 \u00b0C", "4 \u00b0C", "39.2 \u00b0F");
  assert.equal(degrees(cold, "\u00b0C"), "4\u00a0\u00b0C");
  assert.equal(degrees(cold, "\u00b0F"), "4\u00a0\u00b0C (39.2\u00a0\u00b0F)");
  assert.equal(degrees(at("50 \u00b0F", "10.0 \u00b0C", "50 \u00b0F"), "\u00b0C"), "50\u00a0\u00b0F (10\u00a0\u00b0C)");
});

test("times are exact: a limit is never rounded", () => {
  assert.deepEqual(["3600", "5400", "5405", "25", "0", "0.5"].map((it) => exactly(it).replace("\u00a0", " ")), ["1 h", "90 min", "5405 s", "25 s", "0 s", "0.5 s"]);
  assert.deepEqual([14415, 1800, 25, 90000].map((it) => inAll(it).replaceAll("\u00a0", " ")), ["4 h", "30 min", "25 s", "25 h"]);
});

test("the least time counts the quickest pair of a table, and no step that is not read", () => {
  assert.equal(leastTime([read({ least_s: "14400" }), read({ table: "t" }), null], [TABLE]), 14400);
  assert.equal(leastTime([read({ table: "t" })], [{ ...TABLE, pairs: TABLE.pairs.slice(0, 2) }]), 25);
});

test("a heat treatment that nothing cools is found, also while its cooling is being written", () => {
  const rows = ["mix", "heat-treat", "cool"].map((it) => ({ ...emptyStep(it), table: it === "heat-treat" ? "t" : "" }));
  assert.equal(uncooled(rows), -1);
  assert.equal(uncooled(rows.slice(0, 2)), 1);
  assert.equal(uncooled([rows[2]!, rows[1]!]), 1);
  assert.equal(uncooled(rows.map((it) => ({ ...it, table: "" }))), -1);
});

test("what has to be confirmed is told before the step is whole, and each name once", () => {
  const brings = { "dry ice": [{ name: "ventilate", text: "x" }, { name: "cold burns", text: "y" }] };
  const own = [{ name: "cold burns", text: "" }, { name: "wet", text: "" }, { name: "", text: "z" }];
  assert.deepEqual(toConfirm(stepRow(draft({ with: "Dry-Ice", temperature: "cold", cautions: own })), brings), ["ventilate", "cold burns", "wet"]);
  assert.deepEqual(toConfirm(stepRow(draft({ with: "ice water" })), brings), []);
});

test("what may be dry ice by another word is asked about, and its own name is not", () => {
  assert.equal(mayBe("dry ice", "dry ice", terms.lookalikes), false);
  assert.equal(mayBe("Dry-Ice", "dry ice", terms.lookalikes), false); // the station knows it
  assert.equal(meansOf("Dry-Ice ", { "dry ice": [] }), "dry ice");
  assert.equal(meansOf(" ice water", { "dry ice": [] }), "ice water");
  assert.equal(mayBe("powdered dry ice", "dry ice", terms.lookalikes), true);
  assert.equal(mayBe("CO2 snow", "dry ice", terms.lookalikes), true);
  assert.equal(mayBe("ice water", "dry ice", terms.lookalikes), false);
});
