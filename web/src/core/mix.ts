// What a mix is, and how it freezes, in words. The other words are in words.ts and the files it names.

import { number } from "./numbers.ts";

export interface Value {
  value: string;
  at_most?: string | null;
}

export interface Share {
  grams: string;
  percent: string;
  at_most?: unknown;
  missing?: unknown;
}

export interface Limit {
  class: string;
  of: string[];
  unit: string;
  value: Value | null;
  min: string | null;
  max: string | null;
  standing: string;
  why: string;
  source: string;
}

export interface Mix {
  class: string;
  parts: Record<string, Share>;
  sugars: Share;
  total_solids: Share;
  sweetness: Share;
  energy_per_100_g: { kcal: Value };
  freezing: {
    method: string;
    begins_c: string | null;
    half_frozen_c: string | null;
    curve: { at_c: string; frozen_percent: string | null; at_most_percent: string | null; more_than_percent?: string | null }[];
  };
  limits: Limit[];
  allergen_statement: string;
  missing: Record<string, string[]>;
  assumptions: string[];
  additions?: { ingredient: string; grams: string }[];
}

export const celsius = (text: string) => `${number(text)}\u00a0\u00b0C`;
/** To a tenth: the method, and what is known of a kitchen's cream, are worth no more. */
export const tenth = (text: string) => Number(text).toFixed(1);

const named: Record<string, string> = {
  fat: "fat",
  msnf: "milk solids-not-fat",
  sugars: "sugars",
  total_solids: "total solids",
  lactose_in_water: "lactose in the water",
  begins_c: "freezing point",
  stabiliser: "stabiliser",
};
export const terms = {
  named,
  and: " and ",
  atLeast: (least: string) => `at least ${least}`,
  rows: {
    fat: "Fat",
    msnf: "Milk solids-not-fat",
    sugars: "Sugars",
    stabiliser: "Stabiliser",
    solids: "Total solids",
    sweetness: "Sweetness, as sucrose",
    begins: "Begins to freeze",
    half: "Half of the water is ice",
  },
  short: { fat: "fat", solids: "solids", freezes: "freezes from" },
};
export const call = (of: string[]) => of.map((each) => named[each] ?? each.replaceAll("_", " ")).join(terms.and);

/** A percentage, or the least that it is. */
function percent(share: Share | undefined): string | null {
  if (share === undefined || !Number.isFinite(Number(share.percent))) return null;
  const least = `${number(tenth(share.percent))}\u00a0%`;
  return share.at_most === undefined || share.at_most === null ? least : terms.atLeast(least);
}

export const mixes = {
  title: "What it is",
  none: "Nothing is known of its ingredients' composition.",
  rows: (it: Mix): [string, string][] => {
    const rows: [string, string | null][] = [
      [terms.rows.fat, percent(it.parts["fat"])],
      [terms.rows.msnf, percent(it.parts["msnf"])],
      [terms.rows.sugars, percent(it.sugars)],
      [terms.rows.stabiliser, percent(it.parts["stabiliser"])],
      [terms.rows.solids, percent(it.total_solids)],
      [terms.rows.sweetness, percent(it.sweetness)],
      [terms.rows.begins, it.freezing.begins_c && celsius(tenth(it.freezing.begins_c))],
      [terms.rows.half, it.freezing.half_frozen_c && celsius(tenth(it.freezing.half_frozen_c))],
    ];
    return rows.flatMap(([name, value]): [string, string][] => (value ? [[name, value]] : []));
  },
  /** The three figures that say most, in a line. */
  short: (it: Mix) =>
    [
      [terms.short.fat, percent(it.parts["fat"])],
      [terms.short.solids, percent(it.total_solids)],
      [terms.short.freezes, it.freezing.begins_c && celsius(tenth(it.freezing.begins_c))],
    ]
      .flatMap(([name, value]) => (value ? [`${name} ${value}`] : []))
      .join(", "),
  outside: (it: Limit) => {
    const is = it.value === null ? "" : ` is ${number(tenth(it.value.value))}\u00a0${it.unit}`;
    const [min, max] = [it.min, it.max].map((end) => end && number(end));
    const to = min && max ? `${min} to ${max}` : min ? `${min} or more` : `${max} or less`;
    return `For ${it.class === "every" ? "any frozen dessert" : it.class}, ${call(it.of)}${is}; usual: ${to}\u00a0${it.unit}.`;
  },
  missing: (it: Mix) => {
    const names = Object.keys(it.missing);
    return names.length === 0 ? "" : `Not all is known of: ${names.join(", ")}. What it touches is at least what is said.`;
  },
  method: (it: Mix) => `By ${it.freezing.method}. A guide, no measurement.`,
} as const;

const CHIEF = ["fat", "solids", "sweetness", "begins"] as const;

/** The rows that say most; and the others. */
export function parted(it: Mix): { chief: [string, string][]; rest: [string, string][] } {
  const names = CHIEF.map((one): string => terms.rows[one]);
  const rows = mixes.rows(it);
  return { chief: rows.filter(([name]) => names.includes(name)), rest: rows.filter(([name]) => !names.includes(name)) };
}

/** The known points of the freezing curve, coldest last, as numbers to draw. */
export function points(it: Mix): { at: number; ice: number }[] {
  const begins = it.freezing.begins_c === null ? [] : [{ at: Number(it.freezing.begins_c), ice: 0 }];
  const rest = it.freezing.curve.flatMap((each) =>
    each.frozen_percent !== null && each.frozen_percent === each.at_most_percent
      ? [{ at: Number(each.at_c), ice: Number(each.frozen_percent) }]
      : [],
  );
  return [...begins, ...rest].sort((a, b) => b.at - a.at);
}
