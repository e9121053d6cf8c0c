// A batch as weighed beside its plan, in words. The other words are in words.ts and the files it names.

import { call, type Limit, type Value } from "./mix.ts";
import { massWithUnit, number } from "./numbers.ts";

export interface Difference {
  of: string;
  unit: string;
  at_c?: string;
  planned: Value | null;
  weighed: Value | null;
  change: Value | null;
  u: string | null;
  told: "no difference" | "more" | "less" | "cannot be told";
}

interface Side {
  value: Value | null;
  standing: string;
  why: string;
}

export interface HeldLimit extends Omit<Limit, "value" | "standing" | "why"> {
  planned: Side;
  weighed: Side;
}

export interface AsWeighed {
  batch: string;
  status: string;
  class: string;
  in_g: string;
  in_u_g: string;
  to_come_g: string;
  whole: boolean;
  amounts: { ingredient: string; name: string }[];
  differences: Difference[];
  limits: HeldLimit[];
  prices: { known: boolean; date: string };
  missing: Record<string, string[]>;
  method: string;
}

/** A row of the table, in texts. */
export interface Row {
  key: string;
  name: string;
  planned: string;
  weighed: string;
  change: string;
  doubt: string;
  told: string;
  mark: "same" | "more" | "less" | "unknown";
}

const MINUS = "\u2212";
const NBSP = "\u00a0";
const places: Record<string, number> = { mass: 1, frozen: 1 };
const names: Record<string, string> = {
  mass: "Mass",
  fat: "Fat",
  msnf: "Milk solids-not-fat",
  sugars: "Sugars",
  stabiliser: "Stabiliser",
  total_solids: "Total solids",
  alcohol: "Alcohol",
  sweetness: "Sweetness, as sucrose",
  freezing_point: "Begins to freeze",
  cost: "Cost of all of it",
  cost_per_kg: "Cost of a kilogram",
};
/** Pieces of a row. */
const bits = {
  unknown: "not known",
  orMore: (least: string) => `${least} or more`,
  to: (least: string, most: string) => `${least} to ${most}`,
  ice: (at: string) => `Ice at ${at}`,
};
const told: Record<Difference["told"], string> = { "no difference": "no difference", more: "more", less: "less", "cannot be told": "cannot be told" };
const higher = { more: "higher", less: "lower" };
export const terms = { names, bits, told, higher };
const marks = { "no difference": "same", more: "more", less: "less", "cannot be told": "unknown" } as const;

const plain = (text: string) => number(text);

function shown(it: Value | null, digits: number, unit: string, sign = false): string {
  if (it === null || it.value === null) return bits.unknown;
  const one = (text: string) => {
    const value = Number(text).toFixed(digits);
    const plus = sign && Number(value) > 0 ? "+" : "";
    return plus + plain(Number(value) === 0 ? value.replace("-", "") : value);
  };
  const least = one(it.value);
  const suffix = unit ? `${NBSP}${unit}` : "";
  if (it.at_most === undefined || it.at_most === it.value) return least + suffix;
  return it.at_most === null ? bits.orMore(least + suffix) : bits.to(least, one(it.at_most) + suffix);
}

/** One more digit where a real difference would otherwise be told by one alone. */
function finer(one: Difference): number {
  const real = one.told === "more" || one.told === "less";
  return real && one.change?.value != null && Math.abs(Number(one.change.value)) < 10 ** (1 - (places[one.of] ?? 2)) ? 1 : 0;
}

/** One quantity on both sides, in texts. */
export function differenceRow(one: Difference): Row {
  const digits = (places[one.of] ?? 2) + finer(one);
  const unit = one.of === "freezing_point" ? "\u00b0C" : one.of === "mass" ? "g" : one.of.startsWith("cost") ? "" : "%";
  const change = shown(one.change, digits, "", true);
  const tiny = one.change !== null && (one.told === "more" || one.told === "less") && !/[1-9]/.test(change);
  const doubt = one.u === null ? "" : (2 * Number(one.u)).toFixed(digits);
  return {
    key: `${one.of}${one.at_c ?? ""}`,
    name: one.at_c === undefined ? (names[one.of] ?? one.of.replaceAll("_", " ")) : bits.ice(`${plain(one.at_c)}${NBSP}\u00b0C`),
    planned: shown(one.planned, digits, unit),
    weighed: shown(one.weighed, digits, unit),
    change: tiny ? `${one.told === "more" ? "+" : MINUS}<${number((10 ** -digits).toFixed(digits))}` : change,
    doubt: doubt === "" ? "" : Number(doubt) === 0 && Number(one.u) > 0 ? `\u00b1<${number((10 ** -digits).toFixed(digits))}` : `\u00b1${number(doubt)}`,
    told: (one.of === "freezing_point" ? { ...told, ...higher } : told)[one.told],
    mark: marks[one.told],
  };
}

export const asWeighed = {
  title: "As weighed, and as planned",
  served: "Served at",
  /** From the draw of soft serve down to a household freezer. */
  temperatures: ["-5", "-6", "-8", "-10", "-12", "-14", "-18"],
  cols: { of: "Figure", planned: "As planned", weighed: "As weighed", change: "Difference" },
  state: (it: AsWeighed) => {
    const inside = `${massWithUnit(Number(it.in_g).toFixed(1))} are in`;
    if (it.status === "abandoned") return `Abandoned: ${inside}.`;
    if (it.whole) return `All of it is in, ${massWithUnit(Number(it.in_g).toFixed(1))}.`;
    return `${inside}; what is still to come (${massWithUnit(Number(it.to_come_g).toFixed(1))}) is counted as planned.`;
  },
  rows: (it: AsWeighed): Row[] => it.differences.map(differenceRow),
  doubt: (it: AsWeighed) =>
    `The \u00b1 is what weighing leaves open (2 u; what is in is known to ${massWithUnit(Number(it.in_u_g).toFixed(2))}). A difference within it is none. What a label is off by is the same on both sides.`,
  /** Limits that are not kept on one of the two sides. */
  limits: (it: AsWeighed) =>
    it.limits
      .filter((one) => one.planned.standing !== "inside" || one.weighed.standing !== "inside")
      .map((one) => {
        const [min, max] = [one.min, one.max].map((end) => end && number(end));
        const to = min && max ? `${min} to ${max}` : min ? `${min} or more` : `${max} or less`;
        const side = (is: Side) => `${shown(is.value, 2, one.unit.startsWith("%") ? "%" : one.unit)} (${is.standing}${is.why ? `: ${is.why}` : ""})`;
        const kind = one.class === "every" ? "any frozen dessert" : one.class;
        return {
          key: `${one.class}${one.of.join()}${one.min}${one.max}`,
          outside: one.weighed.standing === "outside",
          text: `For ${kind}, usual ${call(one.of)}: ${to}${NBSP}${one.unit}. As weighed ${side(one.weighed)}; as planned ${side(one.planned)}. ${one.source}.`,
        };
      }),
  prices: (it: AsWeighed) => {
    if (!it.prices.known) return "No cost: a record keeps no prices, and none are known here.";
    return `Cost is by today's prices${it.prices.date ? `, which stand since ${it.prices.date}` : ""}: a record keeps none.`;
  },
  missing: (it: AsWeighed) => {
    const of = Object.keys(it.missing).map((id) => it.amounts.find((one) => one.ingredient === id)?.name ?? id);
    return of.length === 0 ? "" : `Not all is known of: ${of.join(", ")}.`;
  },
  method: (it: AsWeighed) => `Freezing by ${it.method}. A guide, no measurement.`,
} as const;
