// Freezing with dry ice, in words. Nothing here says that a room is safe, and nothing may.

import { massWithUnit, number } from "./numbers.ts";

export interface Span {
  value: string;
  at_most?: string;
}

export interface AirLimit {
  id: string;
  ppm: string;
  over: string;
  by: string;
  source: string;
  reckoned_ppm: string;
  exceeded: boolean;
  air_changes_needed: string | null;
}

export interface RoomAir {
  volume_m3: string;
  air_changes: string;
  ventilation_known: boolean;
  gas_m3: string;
  release_min: string;
  below_5000_after_h: string | null;
  limits: AirLimit[];
  warning: string;
}

export interface DryIce {
  asked: Record<string, string | boolean | null>;
  heat: {
    cooling_kj: Span;
    freezing_kj: Span;
    below_kj: Span;
    vessel_kj: string;
    total_kj: Span;
    begins_c: Span | null;
    ice_g: Span;
    frozen_percent: Span | null;
    left_out: string[];
  };
  charge: {
    least_g: string;
    most_g: string;
    counted_g: string;
    efficiency_percent: string;
    efficiency_status: string;
    powder: { kg_l: string; litres: string; status: string };
    rule_of_thumb: { says: string; status: string; powder_g: string; times_the_charge: string };
  };
  portions: { status: string; every_s: number; size: string; then: string; stop: string; list: { n: number; at_s: number; grams: string }[] };
  elsewhere: { freezer_kwh: Span; melted_ice_kg: Span; note: string };
  room: RoomAir;
  constants: { name: string; value: string; unit: string; source: string; status: string }[];
  missing: Record<string, string[]>;
  assumptions: string[];
}

export interface About {
  cautions: { name: string; text: string }[];
  usual: Record<string, string>;
  materials: string[];
}

export interface Loss {
  scale: string;
  grams: string | null;
  loses: boolean | null;
  rate_g_min: string | null;
  u_rate_g_min: string | null;
  weigh_out_g: string | null;
  lost_g: string | null;
  at_use_g: string | null;
  u_at_use_g: string | null;
  why: string;
}

/** What a step with dry ice was reckoned with, as its record has it. */
export interface Figures {
  asked: Record<string, string>;
  heat_kj?: [string, string];
  charge_g?: [string, string];
  counted_g: string;
  /** What share of the cold ended in the mix, if all was used: known once the step is over. */
  share_percent?: string | null;
  room: { peak_ppm: string; quarter_ppm: string; shift_ppm: string; above: string[] };
  weighed?: { scale: string; tare_g: string; net_g: string; u_g: string; rate_g_min: string; u_rate_g_min: string };
  portions: { n: number; at_s: number; grams: string }[];
}

/** The portion that is due after so many seconds, and the next one; both null once all are in. */
export function due(portions: Figures["portions"], elapsed: number): { now: Figures["portions"][number] | null; next: Figures["portions"][number] | null } {
  const begun = portions.filter((it) => it.at_s <= elapsed);
  const next = portions[begun.length] ?? null;
  return { now: next === null && elapsed > (portions.at(-1)?.at_s ?? 0) + 30 ? null : (begun.at(-1) ?? null), next };
}

/** How cold a step is to get, out of its limits in words: "at most -5 °C". */
export function coldest(limits: string): string {
  return /at most ([-\u2212]?\d+(?:\.\d+)?)\s*\u00b0C/.exec(limits)?.[1]?.replace(MINUS, "-") ?? "-6";
}

const MINUS = "\u2212";
const NBSP = "\u00a0";

/** A whole number of ppm, grouped from five digits. */
export function ppm(text: string): string {
  return `${number(text)}${NBSP}ppm`;
}

export function span(it: Span, unit: string): string {
  return it.at_most === undefined ? `${number(it.value)}${NBSP}${unit}` : `${number(it.value)} to ${number(it.at_most)}${NBSP}${unit}`;
}

/** Grams to the gram: the charge is no better known than that. */
const whole = (grams: string) => massWithUnit(String(Math.round(Number(grams))));
export const clock = (seconds: number) => `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`;

/** How much of a limit is used, as the length of a bar whose post stands at 70 %. */
export function bar(it: AirLimit): number {
  return Math.min(100, (70 * Number(it.reckoned_ppm)) / Number(it.ppm));
}

export const POST = 70;

export const dryIce = {
  /** What a step is done with, as a formula says it. */
  means: "dry ice",
  roomFirst: "Give the room first",
  title: "Freeze with dry ice",
  first: "Before you begin",
  caution: (name: string) => `${name.slice(0, 1).toUpperCase()}${name.slice(1)}:`,
  from: "Mix at, \u00b0C",
  to: "Draw at, \u00b0C",
  efficiency: "Efficiency, %",
  efficiencyHint: "a guess: no source",
  room: "Room, m\u00b3",
  roomHint: "length \u00d7 width \u00d7 height",
  changes: "Air changes an hour",
  changesHint: "not known: none",
  release: "Gas comes over, min",
  releaseHint: "left out: at once",
  vessel: "Bowl, g",
  vesselHint: "left out: not counted",
  vesselOf: "Bowl of",
  vesselOfHint: "its heat capacity is from memory",
  own: "Charge of your own, g",
  ownHint: "left out: the most of the range",
  needsRoom: "Give the volume of the room. Without it no charge is told.",
  charge: (it: DryIce["charge"]) =>
    it.least_g === it.most_g ? whole(it.most_g) : `${whole(it.least_g).replace(`${NBSP}g`, "")} to ${whole(it.most_g)}`,
  chargeNote: (it: DryIce["charge"]) =>
    `of dry ice, at ${number(it.efficiency_percent)}${NBSP}% efficiency (${it.efficiency_status}). ` +
    `${whole(it.counted_g)} is counted below: some ${number(it.powder.litres)}${NBSP}L of powder at ${number(it.powder.kg_l)}${NBSP}kg/L (${it.powder.status}).`,
  rule: (it: DryIce["charge"]) =>
    `The trade says ${it.rule_of_thumb.says} (${it.rule_of_thumb.status}): ${whole(it.rule_of_thumb.powder_g)}, ` +
    `${number(it.rule_of_thumb.times_the_charge)} times the charge.`,
  heat: (it: DryIce["heat"]): [string, string][] => [
    [it.begins_c ? `Cool to ${span(it.begins_c, "\u00b0C")}` : "Cool", span(it.cooling_kj, "kJ")],
    [`Freeze ${span(it.ice_g, "g")} of ice`, span(it.freezing_kj, "kJ")],
    ["Cool on", span(it.below_kj, "kJ")],
    ...(Number(it.vessel_kj) > 0 ? ([["The bowl", `${number(it.vessel_kj)}${NBSP}kJ`]] as [string, string][]) : []),
    ["Heat in all", span(it.total_kj, "kJ")],
  ],
  leftOut: (it: DryIce["heat"]) => `Left out: ${it.left_out.join("; ")}.`,
  air: "Air of the room",
  airOf: (it: RoomAir) =>
    `${number(it.volume_m3)}${NBSP}m\u00b3, ${number(it.air_changes)} air changes an hour${it.ventilation_known ? "" : " (not given: none)"}; ` +
    `${number(it.gas_m3)}${NBSP}m\u00b3 of gas ${Number(it.release_min) > 0 ? `over ${it.release_min} min` : "at once"}.`,
  against: (it: AirLimit) => `${it.exceeded ? "Above" : "Below"} ${ppm(it.ppm)}`,
  needed: (it: AirLimit) =>
    it.air_changes_needed === null
      ? "No ventilation of a room is enough: less dry ice, or outdoors."
      : `${number(it.air_changes_needed)} air changes an hour would keep it below.`,
  after: (it: RoomAir) =>
    it.below_5000_after_h === null
      ? `It stays above ${ppm("5000")} until somebody airs the room.`
      : Number(it.below_5000_after_h) > 0
        ? `Below ${ppm("5000")} ${number(it.below_5000_after_h)}${NBSP}h after the first gas.`
        : `By this reckoning it does not reach ${ppm("5000")}.`,
  portions: (it: DryIce["portions"]) =>
    `${it.list.length} portions, ${it.size}, one every ${it.every_s}${NBSP}s (${it.status}).`,
  then: (it: DryIce["portions"]) => `Then ${it.then}. ${it.stop}`,
  elsewhere: (it: DryIce["elsewhere"]) =>
    `The same cold: ${span(it.freezer_kwh, "kWh")} from a freezer, or ${span(it.melted_ice_kg, "kg")} of ice melted. ${it.note}`,
  sources: "Where these figures come from",
  constant: (it: DryIce["constants"][number]) => `${number(it.value)}${NBSP}${it.unit} (${it.status}): ${it.source}`,
  missing: (it: DryIce) => {
    const names = Object.keys(it.missing);
    return names.length === 0 ? "" : `Not all is known of: ${names.join(", ")}. Hence the range.`;
  },
  step: "What is reckoned with",
  stands: "Dry ice stands on",
  standsNowhere: "no scale: not weighed here",
  standsHint: "it is weighed at the moment you press Begin, corrected for what it loses",
  tare: "Its empty vessel, g",
  tareHint: "left out: the scale was tared",
  portion: (n: number, of: number, grams: string) => `Portion ${n} of ${of}: ${massWithUnit(grams)}`,
  nextIn: (seconds: number) => `the next in ${clock(Math.max(0, Math.ceil(seconds)))}`,
  lastIn: "this is the last",
  allIn: "All portions are in. Then 5 to 10 minutes in the freezer, lid open, until none is left.",
  reckoned: (it: Figures) =>
    `Dry ice: ${whole(it.counted_g)}` +
    (it.charge_g ? ` (reckoned ${whole(it.charge_g[0]).replace(`${NBSP}g`, "")} to ${whole(it.charge_g[1])} at ${number(it.asked["efficiency_percent"])}${NBSP}% efficiency, not verified)` : "") +
    `, ${number(it.asked["from_c"] ?? "")} to ${number(it.asked["to_c"] ?? "")}${NBSP}\u00b0C.`,
  aired: (it: Figures) =>
    `Room ${number(it.asked["room_m3"])}${NBSP}m\u00b3, air changes an hour ${it.asked["air_changes"] === undefined ? "not known, taken as none" : number(it.asked["air_changes"])}: ` +
    `up to ${ppm(it.room.peak_ppm)}, ${ppm(it.room.shift_ppm)} over 8 hours` +
    (it.room.above.length > 0 ? "; above a limit of exposure." : "."),
  weighed: (it: NonNullable<Figures["weighed"]>) =>
    `Weighed on ${it.scale} as it was used: ${massWithUnit(it.net_g)}, losing ${massWithUnit(it.rate_g_min)} a minute.`,
  share: (percent: string) =>
    `If all of it was used, ${percent}${NBSP}% of the cold ended in the mix: the efficiency to reckon with next time.`,
  losing: "On the scale",
  scale: "Scale",
  want: "Wanted at use, g",
  wait: "Used in, min",
  waiting: "Nothing is heard of the scale.",
  shows: (it: Loss) => massWithUnit(it.grams),
  rate: (it: Loss) =>
    it.loses ? `loses ${massWithUnit(it.rate_g_min)} a minute, \u00b1${NBSP}${number((2 * Number(it.u_rate_g_min)).toFixed(2))}${NBSP}g (2${NBSP}u)` : "",
  weighOut: (it: Loss, want: string, minutes: string) =>
    `Weigh out ${massWithUnit(it.weigh_out_g)} now to have ${massWithUnit(want)} in ${minutes}${NBSP}min; ${massWithUnit(it.lost_g)} will be lost.`,
  atUse: (it: Loss, minutes: string) => `In ${minutes}${NBSP}min it will be ${massWithUnit(it.at_use_g)}.`,
} as const;
