// What can be done about a pour that went wrong: its shapes, which way stands first, and the words.

import type { Addition, Batch, Live } from "./frames.ts";
import { between, inSteps, massWithUnit, number, signedWithUnit, sizeWithUnit } from "./numbers.ts";

export type Trouble = "over" | "ran out" | "wrong ingredient";

export interface Range {
  of: string[];
  unit: string;
  value: string | null;
  min: string | null;
  max: string | null;
  source: string;
}

export interface Effect {
  of: string;
  unit: string;
  before: string | null;
  after: string | null;
  word: string | null;
  rule: string;
}

export interface Todo {
  kind: "in" | "rest" | "more" | "less" | "top up" | "extra" | "left out";
  ingredient: string;
  name: string;
  grams: string;
  target_g: string;
}

export interface Way {
  way: string;
  goes: boolean;
  why_not: { code: string; text: string } | null;
  asks_dry: boolean;
  command: "put right" | "take out" | "accept" | "abandon";
  take_g: { to_target: string; to_limit: string } | null;
  becomes_g: string | null;
  more_g: string | null;
  weighings: number;
  exact: boolean;
  stays: boolean | null;
  todo: Todo[];
  broken: Range[];
  effects: Effect[];
  cost: string | null;
  fight: string | null;
  change: object | null;
}

export interface Recovery {
  batch: string;
  addition: number;
  name: string;
  cause: Trouble;
  net_g: string;
  target_g: string;
  /** What the scale shows in: finer nobody can take out. */
  interval_g: string;
  was: { name: string; allergens: string[]; new_allergens: string[] } | null;
  batch_g: string;
  dry: { asks: boolean; taken: boolean | null; why: string };
  serving_c: string;
  words_from: string;
  limits: Range[];
  no_limits_for: string[];
  /** What was reckoned to be there of an ingredient, by lots that are booked in or as it was said. */
  on_hand: { ingredient: string; name: string; grams: string; lots: string[]; by: "lots" | "said" }[];
  options: Way[];
}

/** What was put right in a batch. */
export interface PutRight {
  addition: number;
  cause: Trouble;
  way: string;
  mass_g: string;
  reason: string;
  by: string;
  at: string;
}

export interface KnownIngredient {
  ingredient: string;
  name: string;
  allergens: string[];
}

/** The way that stands ready: the one picked, else the first that goes without a word of the cook's. */
export function ready(told: Recovery | null, picked: string): Way | null {
  const going = told?.options.filter((it) => it.goes) ?? [];
  return going.find((it) => it.way === picked) ?? going.find((it) => !it.asks_dry) ?? going[0] ?? null;
}

/** What went wrong, as far as the scale shows it: more is in than is allowed. */
export function seen(live: Live | null): Trouble | null {
  if (live === null || live.phase !== "held" || !live.can.includes("put right")) return null;
  return live.held?.cause === "over" && (live.verdict ?? "over") === "over" ? "over" : null;
}

/** What may be said besides: that it ran out, that it was something else. */
export function sayable(live: Live | null): Trouble[] {
  if (live === null || !live.can.includes("put right")) return [];
  const some = live.phase === "judged" || live.phase === "held";
  const full = some && live.verdict !== "short" && live.verdict !== "too close to call";
  return [...(full ? [] : (["ran out"] as const)), ...(some ? (["wrong ingredient"] as const) : [])];
}

const QUANTITIES: Record<string, string> = {
  msnf: "milk solids-not-fat",
  total_solids: "solids",
  lactose_in_water: "lactose in the water",
  msnf_in_serum: "milk solids in the serum",
  freezing_point: "freezing point",
  milk_fat: "milk fat",
  whey_solids: "whey solids",
  ice: "ice",
  fat: "fat",
  sugars: "sugars",
  sweetness: "sweetness",
  stabiliser: "stabiliser",
  alcohol: "alcohol",
};
const call = (of: string) => QUANTITIES[of] ?? of.replaceAll("_", " ");
const upper = (text: string) => text.charAt(0).toUpperCase() + text.slice(1);
const minus = (text: string) => number(text);

const heads: Record<string, (it: Way, told: Recovery) => string> = {
  "take out": (it, told) => `Take ${sizeWithUnit(inSteps(it.take_g?.to_target ?? null, told.interval_g))} out`,
  "start again": () => "Take all of it out",
  "another lot": () => "The rest from another lot, now",
  enlarge: (it) => (it.more_g === null || Number(it.more_g) < 1 ? "Weigh on, it belongs in" : "Make more of it"),
  shrink: () => "Make less of it",
  "smallest addition": () => "Add as little as brings it back",
  "less of the rest": () => "Take less of what is to come",
  "weigh the rest later": () => "The rest later",
  keep: (_, told) => (told.cause === "wrong ingredient" ? `Weigh on with the ${told.was?.name ?? ""} in it` : told.cause === "ran out" ? "Weigh on without the rest" : "Keep it as it is"),
  discard: () => "Throw it away",
};

const big: Record<string, string> = {
  "start again": "Take it out, then tare",
  enlarge: "Make more\u2026",
  shrink: "Make less\u2026",
  "another lot": "Another lot\u2026",
  "smallest addition": "Add a little\u2026",
  "less of the rest": "Take less\u2026",
  "weigh the rest later": "The rest later\u2026",
  keep: "Keep it\u2026",
  discard: "Throw it away\u2026",
};

const todo: Record<Todo["kind"], (g: string) => string> = {
  in: (g) => `${g} more of it`,
  rest: (g) => g,
  more: (g) => `${g} more`,
  less: (g) => `${g} less`,
  "top up": (g) => `top up ${g}`,
  extra: (g) => `${g} besides`,
  "left out": () => "left out",
};

const done: Record<string, string> = {
  "start again": "the wrong ingredient is taken out",
  enlarge: "the whole batch is made larger",
  shrink: "the whole batch is made smaller",
  "another lot": "the rest comes from another lot",
  "smallest addition": "the least is added that brings it back",
  "less of the rest": "less is taken of what was to come",
  "weigh the rest later": "the rest is weighed later",
  keep: "weighed on as it is",
};

const causes: Record<Trouble, string> = { over: "too much", "ran out": "it ran out", "wrong ingredient": "wrong ingredient" };

const nWeighings = (n: number) => (n === 0 ? "nothing more to weigh" : n === 1 ? "1 thing more to weigh" : `${n} things more to weigh`);

const range = (it: Range) => {
  const ends = [it.min, it.max].map((end) => (end === null ? null : minus(end)));
  const said = ends[0] === null ? `up to ${ends[1]}` : ends[1] === null ? `from ${ends[0]}` : `${ends[0]} to ${ends[1]}`;
  return `${upper(it.of.map(call).join(" and "))} ${it.value === null ? "" : minus(it.value)}, meant: ${said} ${it.unit}`;
};

/** Words the station uses for what a mix becomes and of what, where they are said otherwise here. */
const effectWords: Record<string, string> = Object.fromEntries(
  ["softer", "harder", "sweeter", "less sweet", "icier", "less icy", "richer", "leaner", "may turn sandy", "% of the water", "% as sucrose"].map((word) => [word, word]),
);

export const terms = { QUANTITIES, heads, big, todo, done, causes, effectWords };

export const recovery = {
  title: "What can be done",
  something: "Not right\u2026",
  whatIs: "What is not right?",
  open: { over: "", "ran out": "There is no more of it", "wrong ingredient": "It was the wrong ingredient" } as Record<Trouble, string>,
  what: (it: Recovery) =>
    it.cause === "over"
      ? `${massWithUnit(it.net_g)} are in, ${massWithUnit(it.target_g)} were wanted.`
      : it.cause === "ran out"
        ? `${massWithUnit(it.net_g)} of ${massWithUnit(it.target_g)} are in, and there is no more.`
        : `${massWithUnit(it.net_g)} of ${it.was?.name ?? ""} are in, where ${it.name} belongs.`,
  allergens: (list: string[]) => `New allergens in this batch: ${list.join(", ")}. Mark it, and tell whoever serves it.`,
  dry: {
    ask: "Does it lie dry on top, so that it can be taken out?",
    yes: "Yes, it lies dry",
    no: "No, it is mixed in",
    taken: (taken: boolean, why: string) => `It ${taken ? "can" : "cannot"} be taken out: ${why}.`,
  },
  back: "Go back",
  head: (it: Way, told: Recovery) => heads[it.way]?.(it, told) ?? it.way,
  big: (it: Way, told: Recovery) => (it.way === "take out" ? (heads["take out"]?.(it, told) ?? "") : (big[it.way] ?? it.way)),
  /** What the batch comes to, in one line. */
  comes: (it: Way, told: Recovery) => {
    if (it.way === "discard") return "What was weighed is lost.";
    if (it.way === "take out") {
      const [least, , unit] = it.take_g ? between(it.take_g.to_limit, it.take_g.to_target, told.interval_g) : ["", "", "g"];
      return `At least ${least}\u00a0${unit}. Only what has not touched the rest.`;
    }
    if (it.becomes_g === null) return "";
    const more = it.more_g !== null && Math.abs(Number(it.more_g)) >= 1 ? ` (${signedWithUnit(it.more_g)})` : "";
    return `${massWithUnit(it.becomes_g)}${more}, ${nWeighings(it.weighings)}`;
  },
  /** What is weighed otherwise. */
  todo: (it: Way) => {
    const some = it.todo.filter((one) => one.kind !== "in" || Number(one.grams) > 0);
    return some.map((one) => `${one.name}: ${todo[one.kind](massWithUnit(one.grams.replace(/^-/, "")))}`);
  },
  /** How the mix stands, in a few words. */
  mix: (it: Way) => {
    if (it.way === "discard") return "";
    if (it.exact) return "The mix is as planned.";
    if (it.stays === null) return "What it does to the mix is not known: compositions are missing.";
    return it.stays ? "The mix stays in its limits." : "The mix leaves its limits:";
  },
  range,
  effects: (it: Way) =>
    it.effects
      .filter((one) => one.word !== null)
      .map((one) => `${upper(effectWords[one.word!] ?? one.word!)}: ${call(one.of)} ${minus(one.before ?? "")} \u2192 ${minus(one.after ?? "")} ${effectWords[one.unit] ?? one.unit}`),
  cost: (text: string) => (text.startsWith("-") ? `Costs ${number(text.slice(1))} less` : `Costs ${number(text)} more`),
  others: (n: number) => (n === 1 ? "1 way does not go" : `${n} ways do not go`),
  there: {
    title: "What is there: bowl, stock, what else may go in",
    bowl: "The bowl takes",
    left: (name: string) => `${name} left`,
    books: (grams: string, lots: string) => `${grams} by the books, in ${lots}`,
    none: "none in any lot that may be used",
    add: "May be put in besides",
    none_added: "Nothing more",
    again: "Reckon anew",
  },
  why: "Where these words and limits come from",
  from: (it: Recovery) => `Softer, sweeter and the like: ${it.words_from}. Eaten at ${minus(it.serving_c)}\u00a0\u00b0C. The limits:`,
  unknown: (list: string[]) => `Not known, and so without limits: ${list.map(call).join(", ")}.`,
  dialog: {
    ask: "Why? It goes into the record with the new targets.",
    quick: {
      over: ["Poured too fast", "Read the wrong amount", "The pack slipped"],
      "ran out": ["The pack is empty", "What is left is not good", "Needed for another batch"],
      "wrong ingredient": ["Two packs look alike", "Wrong label on the tub", "Taken from the wrong place"],
    } as Record<Trouble, string[]>,
    save: "Do it",
  },
  wrong: {
    title: "What went in?",
    what: "Everything that was poured counts as what you name here.",
    find: "Find",
    none: "Nothing here is called so.",
    contains: (list: string[]) => (list.length ? `Contains ${list.join(", ")}` : ""),
  },
  /** What was done, for the rest of the batch. */
  done: (it: PutRight) =>
    `Put right, ${causes[it.cause] ?? it.cause}: ${done[it.way] ?? it.way}. The batch comes to ${massWithUnit(rounded(it.mass_g))}. ${it.reason}`,
  event: (cause: string, way: string, grams: string | null) =>
    `Put right, ${causes[cause as Trouble] ?? cause}: ${done[way] ?? way}${grams === null ? "" : `, ${massWithUnit(rounded(grams))} in all`}`,
  /** What a weighing is of its amount, where it is not the first of it. */
  piece: (it: Addition, batch: Batch | null) => {
    if (it.of === undefined || batch === null) return "";
    const before = batch.additions.some((one) => one.n < it.n && one.ingredient === it.ingredient);
    return before ? "What is still missing of it" : it.of > called(batch) ? "Not in the formula" : "";
  },
} as const;

/** How many amounts the formula calls for: what is put in besides has higher numbers. */
const called = (batch: Batch) => batch.called ?? batch.additions.length;
const rounded = (grams: string) => Number(grams).toFixed(1);
