// Amounts from targets, and one ingredient for another: what the station answers, and its words.

import type { Mix } from "./mix.ts";
import { mixes } from "./mix.ts";
import { NONE, number } from "./numbers.ts";
import { pantry } from "./pantry.ts";

export interface SolvedAddition {
  ingredient: string;
  target_g: string;
  tolerance: string;
}

export interface Solved {
  met: boolean;
  aim_words: string;
  amounts: { ingredient: string; name: string; grams: string; before_g: string | null; kept: boolean }[];
  additions: SolvedAddition[];
  targets: { of: string[]; unit: string; min: string | null; max: string | null; value: string | null; at_most?: string | null; met: boolean; off_by: string | null; source: string }[];
  conflict: { words: string } | null;
  composition: Mix;
}

export interface Swapped {
  old: { name: string; grams: string };
  new: { name: string; grams: string; caution: string };
  ratio: { value: string; words: string; note: string; source: string };
  allergens: { new: string[]; gone: string[] };
  new_missing: string[];
  same_words: string;
  additions: SolvedAddition[];
  composition: Mix;
}

/** A figure before and after; one that is not known stays out of its column. */
export interface Change {
  name: string;
  before: string;
  after: string;
}

/** The figures of two mixes side by side. */
export function changes(before: Mix | null, after: Mix): Change[] {
  const was = new Map(before === null ? [] : mixes.rows(before));
  const now = new Map(mixes.rows(after));
  return [...new Set([...was.keys(), ...now.keys()])].map((name) => ({
    name,
    before: was.get(name) ?? NONE,
    after: now.get(name) ?? NONE,
  }));
}

/** The amounts of two lists of additions side by side, by ingredient, in grams. */
export function amounts(before: { ingredient: string; grams: string }[], after: SolvedAddition[], name: (id: string) => string): Change[] {
  const sum = (rows: { ingredient: string; grams: string }[]) => {
    const out = new Map<string, number>();
    for (const it of rows) out.set(it.ingredient, (out.get(it.ingredient) ?? 0) + Number(it.grams));
    return out;
  };
  const was = sum(before);
  const now = sum(after.map((it) => ({ ingredient: it.ingredient, grams: it.target_g })));
  const told = (grams: number | undefined) => (grams === undefined ? NONE : `${number(String(Number(grams.toFixed(2))))}\u00a0g`);
  return [...new Set([...was.keys(), ...now.keys()])].map((id) => ({ name: name(id), before: told(was.get(id)), after: told(now.get(id)) }));
}

export const solving = {
  solve: {
    title: "Solve for targets",
    about: "Say what the mix shall be; the amounts are worked out, and nothing is changed until you take them.",
    of: "Of",
    text: "Target",
    textHint: "5, 34..36, <=200 g",
    add: "Add a target",
    drop: (n: number) => `Take target ${n} out`,
    choose: "choose\u2026",
    kind: (name: string) => `Keep the limits of the class ${name} too`,
    aim: "Among all that fit",
    aims: { nearest: "nearest to the present amounts", cheapest: "the cheapest", middle: "in the middle of each range" } as Record<string, string>,
    use: "May be used as well",
    go: "Work out the amounts",
    met: "All of it can be had.",
    unmet: "Not all of it can be had. These amounts miss it by the least.",
    off: (name: string, value: string, unit: string, by: string) => `${name} comes to ${number(value)}\u00a0${unit}, off by ${number(by)}.`,
    kept: (names: string[]) => `Kept as they are: ${names.join(", ")}.`,
  },
  swap: {
    title: "Swap an ingredient",
    about: "Another one in its place, by a rule of yours or a ratio, and the rest brought back to the same composition.",
    old: "Out goes",
    fresh: "In comes",
    ratio: "Grams for 1 g",
    ratioHint: "empty: as a rule says, else 1",
    rest: "Bring the rest back to the same composition",
    go: "Work out the swap",
    allergen: (names: string[]) => `New allergen: ${names.join(", ")}. Read the label.`,
    gone: (names: string[]) => `No ingredient names ${names.join(", ")} any more; the labels of the goods decide.`,
    how: (it: Swapped) => `${number(it.old.grams)}\u00a0g of ${it.old.name} become ${number(it.new.grams)}\u00a0g of ${it.new.name}: ${it.ratio.words}.`,
    source: (it: Swapped) => [it.ratio.note, it.ratio.source && `[${it.ratio.source}]`].filter(Boolean).join(" "),
    missing: (name: string, facts: string[]) => `Not known of ${name}: ${facts.map(pantry.fact).join(", ")}.`,
  },
  working: "Working it out\u2026",
  before: "Before",
  after: "After",
  amounts: "Amounts",
  figures: "What it is",
  take: "Take these amounts",
  taken: "Taken into the draft. It is not saved yet.",
  first: "Put right what is marked in the additions first.",
} as const;
