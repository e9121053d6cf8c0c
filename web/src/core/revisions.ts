// Revisions of a formula: what the station tells of them, two side by side, and the words for it. The other
// words are in words.ts and the files it names.

import { before } from "./before.ts";
import { type Difference, differenceRow, type Row } from "./as-weighed.ts";
import { call, type Limit, type Mix, type Value } from "./mix.ts";
import { massWithUnit, number, signedNumber, signedWithUnit, when } from "./numbers.ts";
import type { Source } from "./drafts.ts";

export interface Met {
  where: "page" | "ingredients" | "file" | "batch" | "shared";
  at: string;
  by: string;
  station: string;
}

export interface Revision {
  revision: string;
  name: string;
  now: boolean;
  since: string;
  batch_g: string;
  additions: number;
  met: Met[];
  batches: { count: number; first: string | null; last: string | null; newest: { batch: string; at: string; by: string }[] };
}

export interface History {
  formula: string;
  name: string;
  now: string | null;
  revisions: Revision[];
  away: number;
  problems: { where: string; message: string }[];
}

export interface Reworded {
  of: string;
  then: string;
  now: string;
}

type How = "same" | "changed" | "added" | "removed";

interface Side {
  n: number;
  target_g: string;
  share: string;
  tolerance: string;
}

export interface AdditionPair {
  ingredient: string;
  name: string;
  how: How;
  moved: boolean;
  then: Side | null;
  now: Side | null;
  change_g: string;
  points: string;
  texts: Reworded[];
  facts: { of: string; then: string | null; now: string | null }[];
}

interface StepSide {
  n: number;
  name: string;
  limits: string;
  how: string;
}

export interface StepPair {
  kind: string;
  name: string;
  how: How;
  moved: boolean;
  then: StepSide | null;
  now: StepSide | null;
  texts: Reworded[];
}

interface Stands {
  value: Value | null;
  standing: string;
  why: string;
}

export interface BothLimit extends Omit<Limit, "value" | "standing" | "why"> {
  then: Stands;
  now: Stands;
}

export interface Compared {
  formula: string;
  name: string;
  then: { revision: string; name: string; batch_g: string };
  now: { revision: string; name: string; batch_g: string };
  nothing: boolean;
  only_size: boolean;
  change_g: string;
  texts: Reworded[];
  allergens: { new: string[]; gone: string[] };
  additions: AdditionPair[];
  steps: StepPair[];
  differences: (Omit<Difference, "planned" | "weighed" | "u"> & { then: Value | null; now: Value | null })[];
  class: string;
  unknown_class: string;
  limits: BothLimit[];
  freezing: { then: Mix["freezing"]; now: Mix["freezing"] };
  prices: { known: boolean; date: string };
  missing: Record<string, string[]>;
  method: string;
}

/** An earlier revision as a draft over the present file. */
export interface Again extends Source {
  revision: string;
  there: boolean;
  otherwise: { ingredient: string; name: string; why: "gone" | "changed" }[];
  stays: string[];
}

/** What became of a row, told without colour: a mark and a word. */
export type Mark = "same" | "more" | "less" | "added" | "removed" | "changed" | "moved";
export const MARKS: Record<Mark, string> = {
  same: "=", more: "\u25b2", less: "\u25bc", added: "+", removed: "\u2212", changed: "\u2260", moved: "\u21c5",
};

export function markOf(it: { how: How; moved: boolean; change_g?: string }): Mark {
  if (it.how === "added" || it.how === "removed") return it.how;
  const grams = Number(it.change_g ?? 0);
  if (grams !== 0) return grams > 0 ? "more" : "less";
  return it.how === "changed" ? "changed" : it.moved ? "moved" : "same";
}

const named: Record<string, string> = {
  name: "Name",
  kind: "Class",
  note: "Note",
  scenario: "Scenario",
  cautions: "Cautions",
  caution: "Caution",
  allergens: "Allergens",
  tolerance: "Tolerance",
  method: "Way of weighing",
  carrier: "Carrier",
  limits: "Limits",
  how: "What to do",
  with: "Done with",
  table: "Table of pairs",
  "product.keeps_days": "Keeps, in days",
  "product.storage": "Storage",
  "product.gtin": "Trade number",
};
const where: Record<Met["where"], string> = {
  page: "saved on the page",
  ingredients: "an ingredient was changed",
  file: "found in the file",
  batch: "a batch was begun by it",
  shared: "published",
};
const marks: Record<Mark, string> = {
  same: "unchanged", more: "more", less: "less", added: "added", removed: "removed", changed: "changed", moved: "moved",
};
const bits = {
  none: "none",
  unknown: "not known",
  points: (text: string) => `${text} points`,
  by: (name: string) => `by ${name}`,
  at: (station: string) => `at ${station}`,
  orMore: (least: string) => `${least} or more`,
  orLess: (most: string) => `${most} or less`,
  to: (least: string, most: string) => `${least} to ${most}`,
  every: "any frozen dessert",
  now: "as it is now",
};
export const terms = { named, where, marks, bits };

const NBSP = "\u00a0";
/** Points of the batch to a hundredth; finer ones say nothing beside what a scale shows. */
function points(text: string): string {
  const value = Number(text).toFixed(2);
  return Number(value) === 0 ? "" : bits.points(signedNumber(value));
}

const percent = (text: string) => `${number(Number(text).toFixed(Number(text) < 1 ? 2 : 1))}${NBSP}%`;
const amount = (it: Side | null) => (it === null ? "" : massWithUnit(it.target_g));

function value(it: Stands, unit: string): string {
  const one = (text: string) => number(Number(text).toFixed(2));
  const suffix = `${NBSP}${unit.startsWith("%") ? "%" : unit}`;
  if (it.value === null || it.value.value === null) return bits.unknown;
  const most = it.value.at_most;
  if (most === undefined || most === it.value.value) return one(it.value.value) + suffix;
  return most === null ? bits.orMore(one(it.value.value) + suffix) : bits.to(one(it.value.value), one(most) + suffix);
}

const asked = (it: { min: string | null; max: string | null; unit: string }) => {
  const [min, max] = [it.min, it.max].map((end) => end && number(end));
  const ends = min && max ? bits.to(min, max) : min ? bits.orMore(min) : bits.orLess(max ?? "");
  return `${ends}${NBSP}${it.unit}`;
};

/** Days and digits of a revision, as a choice says them. */
const short = (it: Revision) => [it.since ? when(it.since) : "", it.revision.slice(0, 6)].filter(Boolean).join(", ");

export const revisions = {
  title: "Revisions",
  lead: "Each is kept as it was. Choose two, and see them side by side.",
  only: "Only this one is known so far. Once the formula is changed, both can be seen side by side here.",
  none: "Nothing is kept of it yet.",
  gone: "There is no file of this formula here. Its revisions stay.",
  toEditor: "To the formula",
  toList: "All revisions",
  now: "now",
  called: (it: Revision) => short(it) + (it.now ? ` (${bits.now})` : ""),
  met: (it: Met) => [where[it.where], it.by && bits.by(it.by), it.station && bits.at(it.station)].filter(Boolean).join(" "),
  batches: (n: number) => (n === 0 ? "no batch" : n === 1 ? "1 batch" : `${n} batches`),
  more: (n: number) => `and ${n} more`,
  away: (n: number) => (n === 1 ? "1 batch was put away: its revision stands in the archive." : `${n} batches were put away: their revisions stand in the archive.`),
  left: (where: string) => `Left out: ${where}.`,
  chosen: (n: number) => (n === 2 ? "Show both side by side" : "Choose two"),
  again: "Take this one up again",
  isNow: "This is the formula as it is.",

  both: "Side by side",
  before: "Before",
  after: "After",
  change: "Difference",
  what: "What differs",
  nothing: "Nothing differs between these two.",
  onlySize: "Only the size differs: every share is as it was.",
  counted: (n: number, of: number) => (n === 0 ? `None of ${of} additions differs.` : `${n} of ${of} additions differ.`),
  allergens: { new: (names: string[]) => `New allergens: ${names.join(", ")}.`, gone: (names: string[]) => `No longer in it: ${names.join(", ")}.` },
  additions: "Additions",
  steps: "After weighing",
  texts: "What is said",
  all: "In all",
  missing: "not in it",
  amount,
  share: (it: Side | null) => (it === null ? "" : percent(it.share)),
  grams: (it: { change_g: string }) => (Number(it.change_g) === 0 ? "" : signedWithUnit(it.change_g)),
  points: (it: AdditionPair) => points(it.points),
  mark: (it: Mark) => marks[it],
  /** What the station says that a step asks for. */
  asked: (limits: string) => limits,
  place: (from: number, to: number) => `moved from place ${from} to ${to}`,
  text: (it: Reworded) => `${named[it.of] ?? it.of}: ${it.then || bits.none}, now ${it.now || bits.none}`,
  of: (key: string) => named[key] ?? key,
  noText: bits.none,
  fact: (name: string, it: AdditionPair["facts"][number]) =>
    `${name} in 100${NBSP}g: ${it.then === null ? bits.unknown : number(it.then)}, now ${it.now === null ? bits.unknown : number(it.now)}`,
  comes: "What each comes to",
  quantity: "Quantity",
  rows: (it: Compared): Row[] =>
    it.differences.map((one) => differenceRow({ ...one, planned: one.then, weighed: one.now, u: null })),
  curve: (then: string, now: string) => `How it freezes. Before: ${then} After: ${now}`,
  held: "Held to the limits of",
  own: "the formula\u2019s own class",
  unknownClass: (name: string) => `No class is called \u201c${name}\u201d here any more.`,
  limits: (it: Compared) => {
    const told = it.limits.filter((one) => one.then.standing !== "inside" || one.now.standing !== "inside");
    return told.map((one) => ({
      key: `${one.class}${one.of.join()}${one.min}${one.max}`,
      outside: one.now.standing === "outside",
      name: call(one.of),
      then: `${value(one.then, one.unit)} (${before.standing[one.then.standing] ?? one.then.standing})`,
      now: `${value(one.now, one.unit)} (${before.standing[one.now.standing] ?? one.now.standing})`,
      asked: `${one.class === "every" ? bits.every : one.class}: ${asked(one)}`,
    }));
  },
  kept: (it: Compared) => {
    const inside = (key: "then" | "now") => it.limits.filter((one) => one[key].standing === "inside").length;
    return `${inside("then")} of ${it.limits.length} limits were kept before, ${inside("now")} after.`;
  },
  usual: "Usual for",
  limit: "Limit",
  noLimits: "No limits are known to hold it to.",
  prices: (it: Compared) => {
    if (!it.prices.known) return "No cost: no prices are known here.";
    return `Cost is by today\u2019s prices on both sides${it.prices.date ? `, which stand since ${it.prices.date}` : ""}.`;
  },
  unsure: (it: Compared) => {
    const names = Object.keys(it.missing);
    const of = names.map((id) => it.additions.find((one) => one.ingredient === id)?.name ?? id);
    return of.length === 0 ? "" : `Not all is known of: ${of.join(", ")}.`;
  },
  method: (it: Compared) => `Freezing by ${it.method}. A guide, no measurement.`,

  taken: (revision: string) => `Revision ${revision.slice(0, 6)} stands in the fields. Nothing is saved yet; once it is, it is the newest revision.`,
  otherwise: (it: Again["otherwise"][number]) =>
    it.why === "gone"
      ? `${it.name} is no longer in the list of ingredients.`
      : `${it.name} says or holds something else by now; what the list says counts.`,
  stays: (keys: string[]) => `These were others then, and stay as the file has them: ${keys.map((key) => key.replaceAll("_", " ")).join(", ")}.`,

  since: {
    changed: "The formula has changed since this batch.",
    see: "See what changed",
    same: "The formula is still as it was for this batch.",
    gone: "There is no file of this formula here.",
  },
} as const;

/** The two that are chosen once one more is pressed: the one chosen first gives way to a third. */
export function choose(chosen: readonly string[], one: string): string[] {
  if (chosen.includes(one)) return chosen.filter((it) => it !== one);
  return [...chosen, one].slice(-2);
}

/** Of two revisions the one that stands further down the list, which is the older, first. */
export function inTime(it: History, chosen: readonly string[]): string[] {
  const at = (one: string) => it.revisions.findIndex((each) => each.revision === one);
  return [...chosen].sort((a, b) => at(b) - at(a));
}
