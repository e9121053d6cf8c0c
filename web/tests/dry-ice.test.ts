// Freezing with dry ice, in words: no room is called safe, and what is a guess says so.

import assert from "node:assert/strict";
import { test } from "node:test";
import { type AirLimit, bar, clock, coldest, due, type DryIce, dryIce, type Figures, type Loss, POST, ppm, type RoomAir, span } from "../src/core/dry-ice.ts";

const limit = (more: Partial<AirLimit> = {}): AirLimit => ({
  id: "twa-8h", ppm: "5000", over: "average over 8 hours", by: "OSHA PEL", source: "NIOSH", reckoned_ppm: "14799",
  exceeded: true, air_changes_needed: "0.4", ...more,
});
const room = (more: Partial<RoomAir> = {}): RoomAir => ({
  volume_m3: "30", air_changes: "0", ventilation_known: false, gas_m3: "0.431", release_min: "0", below_5000_after_h: null,
  limits: [limit()], warning: "", ...more,
});

test("a bar reaches its post at the limit, and no further than its end", () => {
  assert.equal(bar(limit({ reckoned_ppm: "5000" })), POST);
  assert.equal(bar(limit({ reckoned_ppm: "2500" })), POST / 2);
  assert.equal(bar(limit({ reckoned_ppm: "1000000" })), 100);
});

test("ventilation that is not known is told as none", () => {
  assert.match(dryIce.airOf(room()), /not given: none/);
  assert.match(dryIce.airOf(room()), /at once/);
  assert.doesNotMatch(dryIce.airOf(room({ ventilation_known: true })), /not given/);
  assert.match(dryIce.airOf(room({ release_min: "15.0" })), /over 15.0 min/);
});

test("what would keep it below is told, or that nothing does", () => {
  assert.match(dryIce.needed(limit()), /0\.4 air changes/);
  assert.match(dryIce.needed(limit({ air_changes_needed: null })), /No ventilation/);
  assert.match(dryIce.against(limit()), /^Above 5000/);
  assert.match(dryIce.against(limit({ exceeded: false })), /^Below 5000/);
});

test("how long it stays above is told, or that it stays", () => {
  assert.match(dryIce.after(room()), /until somebody airs the room/);
  assert.match(dryIce.after(room({ below_5000_after_h: "0.83" })), /0\.83\u00a0h/);
  assert.match(dryIce.after(room({ below_5000_after_h: "0" })), /By this reckoning/);
});

test("no word of the page says that a room is safe", () => {
  const said = [room(), room({ below_5000_after_h: "0" }), room({ below_5000_after_h: "1" })].map(dryIce.after);
  const all = [...said, dryIce.airOf(room()), dryIce.against(limit({ exceeded: false })), ...Object.values(dryIce).filter((it) => typeof it === "string")];
  for (const text of all) assert.doesNotMatch(text as string, /\bsafe\b/i);
});

test("a charge is told to the gram, with its efficiency and what that is worth", () => {
  const charge: DryIce["charge"] = {
    least_g: "717.3", most_g: "789.2", counted_g: "789.2", efficiency_percent: "60", efficiency_status: "not verified by a source",
    powder: { kg_l: "0.8", litres: "0.99", status: "a guess, no source" },
    rule_of_thumb: { says: "about the same volume", status: "common practice, no source", powder_g: "1563", times_the_charge: "1.98" },
  };
  assert.equal(dryIce.charge(charge), "717 to 789\u00a0g");
  assert.equal(dryIce.charge({ ...charge, least_g: "789.2" }), "789\u00a0g");
  assert.match(dryIce.chargeNote(charge), /not verified by a source.*a guess, no source/);
  assert.match(dryIce.rule(charge), /common practice, no source/);
});

test("spans, moments and parts per million as they are written", () => {
  assert.equal(span({ value: "-2.97" }, "\u00b0C"), "\u22122.97\u00a0\u00b0C");
  assert.equal(span({ value: "1.0", at_most: "2.0" }, "kJ"), "1.0 to 2.0\u00a0kJ");
  assert.equal(clock(270), "4:30");
  assert.equal(ppm("14799"), "14\u202f799\u00a0ppm");
  assert.equal(ppm("5000"), "5000\u00a0ppm");
});

test("a loss is told with its doubt, and nothing where there is none", () => {
  const loss: Loss = {
    scale: "bench", grams: "812.4", loses: true, rate_g_min: "4.12", u_rate_g_min: "0.09", weigh_out_g: "800.60", lost_g: "20.60",
    at_use_g: "791.8", u_at_use_g: "0.5", why: "",
  };
  assert.match(dryIce.rate(loss), /loses 4\.12.*0\.18/);
  assert.equal(dryIce.rate({ ...loss, loses: false }), "");
  assert.match(dryIce.weighOut(loss, "780", "5"), /Weigh out 800\.60\u00a0g now to have 780\u00a0g in 5/);
});

test("the portion that is due and the next one follow the clock", () => {
  const portions = [0, 30, 60].map((at_s, n) => ({ n: n + 1, at_s, grams: "10.0" }));
  assert.deepEqual([due(portions, 0).now?.n, due(portions, 0).next?.n], [1, 2]);
  assert.deepEqual([due(portions, 29.9).now?.n, due(portions, 29.9).next?.n], [1, 2]);
  assert.deepEqual([due(portions, 75).now?.n, due(portions, 75).next], [3, null]);
  assert.deepEqual([due(portions, 91).now, due(portions, 91).next], [null, null]);
});

test("how cold a step is to get is read out of its limits", () => {
  assert.equal(coldest("at most -5 °C"), "-5");
  assert.equal(coldest("at most \u22127.5 °C, within 20 min"), "-7.5");
  assert.equal(coldest("within 20 min"), "-6");
});

test("what a record keeps is told with what was not known", () => {
  const figures: Figures = {
    asked: { room_m3: "30", efficiency_percent: "60", from_c: "5", to_c: "-6" }, charge_g: ["484.3", "532.9"], counted_g: "500.0",
    room: { peak_ppm: "14799", quarter_ppm: "14799", shift_ppm: "14799", above: ["twa-8h"] }, portions: [],
    weighed: { scale: "bench", tare_g: "120", net_g: "496.00", u_g: "0.03", rate_g_min: "6.00", u_rate_g_min: "0.05" },
  };
  assert.match(dryIce.reckoned(figures), /500\u00a0g \(reckoned 484 to 533\u00a0g at 60\u00a0% efficiency, not verified\), 5 to \u22126/);
  assert.match(dryIce.aired(figures), /not known, taken as none.*above a limit/);
  assert.match(dryIce.weighed(figures.weighed!), /bench.*496\.00\u00a0g, losing 6\.00/);
  const { charge_g: _, ...bare } = figures;
  assert.doesNotMatch(dryIce.reckoned(bare), /reckoned/);
});
