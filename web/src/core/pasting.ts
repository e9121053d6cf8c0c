// A list of ingredients as people write it: what the station made of each line, and the rows it becomes.

import { massWithUnit } from "./numbers.ts";
import type { AdditionDraft } from "./drafts.ts";
import { emptyAddition } from "./drafts.ts";

export interface PastedLine {
  n: number;
  text: string;
  outcome: "taken" | "left out" | "not understood";
  ingredient: string;
  name: string;
  amount: string;
  amount_g: string | null;
  tolerance: string;
  offered: { id: string; name: string }[];
  why: string;
}

export interface Pasted {
  lines: PastedLine[];
  taken: number;
  taken_g: string;
  sum_g: string | null;
  not_understood: number;
  warning: string;
}

/** The rows of what was taken, in the order of the list. */
export function rowsOf(read: Pasted): AdditionDraft[] {
  const usual = emptyAddition();
  return read.lines
    .filter((it) => it.outcome === "taken")
    .map((it) => ({ ...usual, ingredient: it.ingredient, target: it.amount, tolerance: it.tolerance || usual.tolerance }));
}

const lines = (n: number) => (n === 1 ? "1 line" : `${n} lines`);

export const pasting = {
  title: "Paste a list",
  about: "An ingredient to a line, with its grams, as it stands in a letter or a table. Cups and spoons do not repeat, so they are not taken.",
  text: "The list",
  example: "820 g buttermilk",
  lines: "What each line was taken for",
  marks: { taken: "taken", "left out": "left out", "not understood": "not understood" },
  line: (it: PastedLine, name: string) => `${it.amount.replace(" ", "\u00a0")} ${name}${it.tolerance ? `, \u00b1\u00a0${it.tolerance.replace(/^\u00b1\s*/, "")}` : ""}`,
  perhaps: (of: string) => `What \u201c${of}\u201d may be`,
  sum: (it: Pasted) =>
    it.not_understood
      ? `${lines(it.taken)} taken, ${massWithUnit(it.taken_g)}. ${lines(it.not_understood)} not understood.`
      : `${lines(it.taken)} taken, ${massWithUnit(it.taken_g)}.`,
  take: (n: number) => (n === 1 ? "Put 1 in" : `Put ${n} in`),
  without: (n: number) => `${lines(n)} that were not understood stay out.`.replace("1 line that were", "1 line that was").replace("stay out", n === 1 ? "stays out" : "stay out"),
  done: (n: number) => (n === 1 ? "1 addition was put into the draft. It is not saved yet." : `${n} additions were put into the draft. It is not saved yet.`),
} as const;
