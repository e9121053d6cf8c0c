// Before a batch: what it takes out of stock, what it freezes like, what to mind, in words. The other words
// are in words.ts and the files it names.

import type { Formula } from "./frames.ts";
import { celsius, type Limit, type Mix, tenth } from "./mix.ts";
import { day, massWithUnit, number, when } from "./numbers.ts";

export interface StockLot {
  lot: string;
  left_g: string;
  use_by: string;
  best_before: string;
  opened: boolean;
}

/** What one addition takes out of stock. */
export interface Need {
  n: number;
  ingredient: string;
  name: string;
  target_g: string;
  low_g: string;
  high_g: string;
  stock: "not booked" | "there" | "short";
  lots?: (StockLot & { takes_g: string })[];
  short_g?: string;
  /** Lots with something in them that are not to be used, or only with a reason. */
  aside?: (StockLot & { fit: string; blocked: string })[];
}

export interface Stock {
  day: string;
  needs: Need[];
  most: { batch_g: string; size: string; scarcest: string } | null;
}

/** The newest batch of a formula. */
export interface Made {
  batch: string;
  opened: string;
  operator: string;
  batch_g: string;
}

const NBSP = "\u00a0";

/** What a lot is to be used by, or best before; empty where it says neither. */
function until(it: StockLot): string {
  const ends = [
    it.use_by && terms.useBy(day(it.use_by)),
    it.best_before && (!it.use_by || it.best_before < it.use_by) && terms.bestBefore(day(it.best_before)),
    it.opened && terms.opened,
  ];
  return ends.filter(Boolean).join(", ");
}

export const terms = {
  useBy: (on: string) => `use by ${on}`,
  bestBefore: (on: string) => `best before ${on}`,
  opened: "open",
  lot: "Lot",
  of: (grams: string, lot: string) => `${grams} of ${lot}`,
  then: ", then ",
};

/** Half or double of a mass in grams, as a size is typed. */
export const times = (grams: string, factor: number) => String(Number((Number(grams) * factor).toFixed(2)));

/** Shares of ice are asked for at these, in \u00b0C: as fine as a plot can show. */
export const CURVE = Array.from({ length: 40 }, (_, n) => String(-(n + 1) / 2)).join(",");

/** The share of ice at a temperature, as the station told it. */
export const iceAt = (it: Mix, at: string) => it.freezing.curve.find((one) => Number(one.at_c) === Number(at)) ?? null;

const standing = (it: Mix, word: string) => it.limits.filter((one) => one.standing === word);

export const before = {
  made: (it: Made) => [`Last made ${when(it.opened)}`, it.operator, massWithUnit(it.batch_g)].filter(Boolean).join(", "),
  never: "Not made here yet",
  find: "Find a formula",
  noneSo: (typed: string) => `No formula here has \u201c${typed}\u201d.`,
  all: "Show all",
  change: "Change it",
  gone: (id: string) => `There is no formula \u201c${id}\u201d here.`,
  goneMore: "It was put away or renamed. Its batches keep what they were made of.",

  much: "How much",
  sizeHint: "g, or like 3 kg, 5\u00a0L at 30\u00a0%, 40 servings of 80 g",
  own: "As written",
  half: "Half",
  double: "Double",
  most: "All there is",
  mostOf: (name: string) => `${name} ends first`,

  out: "What comes out",
  kept: (it: Mix) => {
    const [told, open] = [it.limits.length - standing(it, "cannot be told").length, standing(it, "cannot be told").length];
    const all = `All ${told} usual limits are kept`;
    return (told === 1 ? "The usual limit is kept" : all) + (open > 0 ? `; ${open} cannot be told` : "");
  },
  off: (it: Mix) => {
    const n = standing(it, "outside").length;
    return `${n} of ${it.limits.length} usual limits ${n === 1 ? "is" : "are"} not kept`;
  },
  noKind: "It names no kind of product, so that there are no limits to hold it against.",
  notTold: "Whether limits are kept cannot be told: too little is known of what goes in.",
  figures: "All figures and limits",
  usual: (it: Limit) => {
    const [min, max] = [it.min, it.max].map((end) => end && number(end));
    return `${min && max ? `${min} to ${max}` : min ? `from ${min}` : `up to ${max}`}${NBSP}${it.unit}`;
  },
  standing: { inside: "kept", outside: "not kept", "cannot be told": "cannot be told" } as Record<string, string>,

  curve: {
    title: "How it freezes",
    y: "of the water is ice",
    at: (at: string, ice: string) => `At ${celsius(at)}, ${number(tenth(ice))}${NBSP}% of the water is ice.`,
    moreThan: (at: string, ice: string) => `At ${celsius(at)}, more than ${number(tenth(ice))}${NBSP}% of the water is ice: colder than the method reaches.`,
    range: (at: string, low: string, high: string) =>
      `At ${celsius(at)}, ${number(tenth(low))} to ${number(tenth(high))}${NBSP}% of the water is ice: not all is known of what goes in.`,
    unknown: (at: string) => `What it is like at ${celsius(at)} is not known.`,
    none: "How it freezes cannot be told: too little is known of what goes in.",
    table: "Temperature and ice",
    cols: { at: "Temperature", ice: "Ice" },
    begins: (at: string) => `freezes from ${celsius(tenth(at))}`,
  },

  needs: "What goes in",
  inStock: "All in stock",
  notBooked: "Not booked in",
  shortOf: (n: number) => (n === 1 ? "1 is short" : `${n} are short`),
  /** The lots that are taken, first out first. */
  from: (it: Need) => {
    const lots = it.lots ?? [];
    if (lots.length === 1) return [`${terms.lot} ${lots[0]!.lot}`, until(lots[0]!)].filter(Boolean).join(", ");
    const each = lots.map((one) => [terms.of(massWithUnit(one.takes_g), one.lot), until(one)].filter(Boolean).join(", "));
    return lots.length === 0 ? "" : `${terms.lot} ${each.join(terms.then)}`;
  },
  missing: (it: Need) => `${massWithUnit(it.short_g ?? null)} short`,
  aside: (it: NonNullable<Need["aside"]>[number]) => {
    const left = massWithUnit(it.left_g);
    if (it.fit === "blocked") return `Not lot ${it.lot} (${left}): blocked, ${it.blocked}`;
    if (it.fit === "expired") return `Not lot ${it.lot} (${left}): its use-by date, ${day(it.use_by)}, is past`;
    return `Lot ${it.lot} (${left}) is past its best before, ${day(it.best_before)}: only with a reason`;
  },
  booking: "Receive a lot",

  how: "How it is weighed",
  every: "Every weighing in order",
  mind: "What to mind",
  nothing: "Nothing is noted. The labels of the goods and local codes come first.",
  allergen: (name: string, from: string[]) => `Contains ${name}: ${from.join(", ")}`,
  ofIngredient: (name: string, text: string) => `${name}: ${text}`,
  ofStep: (step: string, names: string[]) => `${step}: confirm before it begins: ${names.join(", ")}`,
  after: "After weighing",

  go: {
    short: "not all is in stock",
    outside: "usual limits are not kept",
    fine: "not everything can be weighed well enough",
    mind: (what: string[]) => `Mind: ${what.join("; ")}.`,
  },
};

/** Of each allergen the ingredients that bring it, in the order they go in. */
export function allergensFrom(it: Formula): [string, string[]][] {
  return it.allergens.map((one) => [one, [...new Set(it.additions.filter((each) => each.allergens.includes(one)).map((each) => each.name))]]);
}

/** Cautions of ingredients, each once. */
export function cautionsOf(it: Formula): [string, string][] {
  return [...new Map(it.additions.flatMap((each) => (each.caution ? [[each.name, each.caution] as const] : [])))].map(([name, text]) => [name, text]);
}
