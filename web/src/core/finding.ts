// Search by typing: what the station found, and the screens themselves.

import { hasWords } from "./folding.ts";
import { to } from "./routes.ts";

export interface Hit {
  kind: "screen" | "formula" | "ingredient" | "lot" | "batch";
  id: string;
  name: string;
  about: string;
}

/** Where a hit leads. */
export const address: Record<Hit["kind"], (id: string) => string> = {
  screen: (id) => id,
  formula: to.formula,
  ingredient: to.ingredient,
  lot: to.lot,
  batch: to.record,
};

/** The screens whose names have every word of what was typed. */
export function screens(typed: string, all: readonly { at: string; name: string }[]): Hit[] {
  if (typed.trim() === "") return [];
  return all.filter(({ name }) => hasWords(name, typed)).map(({ at, name }) => ({ kind: "screen", id: at, name, about: "" }));
}

export const finding = {
  title: "Find",
  label: "A name, a code, a day, a person",
  kinds: { screen: "Screens", formula: "Formulas", ingredient: "Ingredients", lot: "Lots", batch: "Batches" } satisfies Record<Hit["kind"], string>,
  none: (typed: string) => `Nothing here has \u201c${typed}\u201d.`,
  found: (n: number) => `Found: ${n}`,
  how: "Enter opens the first; the arrow keys go through the list. From any screen / comes here.",
} as const;
