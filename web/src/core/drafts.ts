// Drafts of formulas, ingredients and limits: what is typed, and what is sent of it. What a number is and
// whether it can be is judged by the station alone; here it only gets its unit and its place.

import { folded, hasWords } from "./folding.ts";
import type { StepDraft } from "./steps.ts";

export interface Tagged {
  tag: string;
}

export interface RuleDraft {
  ingredient: string;
  ratio: string;
  note: string;
  source: string;
}

export interface IngredientDraft {
  name: string;
  allergens: string[];
  caution: string;
  composition: Record<string, string | Record<string, string>>;
  density_g_ml: string;
  cost_per_kg: string;
  supplier_code: string;
  shelf_life_days: string;
  shelf_life_opened_days: string;
  source: string;
  instead: RuleDraft[];
}

export interface Gaps {
  stated_g: string;
  left_g: string;
  missing: string[];
}

export interface Ingredient extends IngredientDraft, Gaps {
  id: string;
  formulas: string[];
}

export interface Larder extends Tagged {
  fixed: string;
  ingredients: Ingredient[];
  parts: string[];
  of_which: string[];
  sugars: Record<string, string>;
}

export interface AdditionDraft {
  ingredient: string;
  target: string;
  tolerance: string;
  method: string;
  carrier: string;
  was: number | null;
}

export interface FormulaDraft {
  name: string;
  note: string;
  kind: string;
  cautions: string[];
  additions: AdditionDraft[];
  /** null where the file's steps cannot be shown, and stay. */
  steps: StepDraft[] | null;
}

export interface Source extends FormulaDraft, Tagged {
  id: string;
  fixed: string;
  own_ingredients: { id: string; name: string }[];
  kept: string[];
}

export interface LimitDraft {
  of: string[];
  unit?: string;
  min: string;
  max: string;
  source: string;
}

export interface ProductClass {
  id: string;
  name: string;
  limits: LimitDraft[];
}

export interface Limits extends Tagged {
  own: boolean;
  fixed: string;
  every: string;
  classes: ProductClass[];
  quantities: Record<string, string>;
}

/** What is wrong at a place of a draft, like `additions[2].target`. */
export interface Fault {
  where: string;
  message: string;
}

const FIELDS: (keyof IngredientDraft)[] = [
  "name", "allergens", "caution", "composition", "density_g_ml", "cost_per_kg", "supplier_code",
  "shelf_life_days", "shelf_life_opened_days", "source", "instead",
];

export function emptyIngredient(): IngredientDraft {
  return {
    name: "", allergens: [], caution: "", composition: {}, density_g_ml: "", cost_per_kg: "", supplier_code: "",
    shelf_life_days: "", shelf_life_opened_days: "", source: "", instead: [],
  };
}

/** The draft in what the station told of an ingredient. */
export function draftOf(one: IngredientDraft): IngredientDraft {
  return Object.fromEntries(FIELDS.map((key) => [key, one[key]])) as unknown as IngredientDraft;
}

export function emptyAddition(): AdditionDraft {
  return { ingredient: "", target: "", tolerance: "1 %", method: "", carrier: "", was: null };
}

/** An id out of a name: letters, digits and hyphens, as files are called. */
export function slug(name: string): string {
  return folded(name).replace(/\u00df/g, "ss").replace(/[^a-z0-9]+/g, "-").replace(/^-+|-+$/g, "").slice(0, 60);
}

const AMOUNT = /^\s*([0-9]+(?:[.,][0-9]+)?)\s*(mg|g|kg)?\s*$/i;
const OF_GRAM: Record<string, number> = { mg: 0.001, g: 1, kg: 1000 };

/** What stands in the field of an amount: a plain number is grams. */
export function amountShown(target: string): string {
  return target.replace(/^\s*([0-9]+(?:[.,][0-9]+)?)\s*g\s*$/, "$1");
}

/** The same with its unit, as the file has it; `before` stays as it was written where it says the same. */
export function amountMeant(shown: string, before = ""): string {
  if (before && amountShown(before) === shown) return before;
  return /^\s*-?[0-9]+(?:[.,][0-9]+)?\s*$/.test(shown) ? `${shown.trim()} g` : shown.trim();
}

/** Grams of an amount as typed, to show shares by; null for what is no such amount. */
export function gramsOf(target: string): number | null {
  const found = AMOUNT.exec(amountMeant(target));
  if (!found) return null;
  const grams = Number(found[1]!.replace(",", ".")) * (OF_GRAM[(found[2] ?? "g").toLowerCase()] ?? NaN);
  return grams > 0 ? grams : null;
}

/** The sum of all amounts, and each one's share in percent; null where an amount is none. `reckoned` are
 *  the grams that the station made of them, for units that are not reckoned with here. */
export function shares(targets: string[], reckoned: number[] = []): { total: number | null; percent: (number | null)[] } {
  const grams = targets.map((one, n) => gramsOf(one) ?? reckoned[n] ?? null);
  const total = grams.includes(null) || grams.length === 0 ? null : grams.reduce<number>((sum, one) => sum + one!, 0);
  return { total, percent: grams.map((one) => (total === null || one === null ? null : (100 * one) / total)) };
}

/** The list with the item at `from` moved by `by`; the same list where it cannot. */
export function moved<T>(list: T[], from: number, by: number): T[] {
  const there = from + by;
  if (there < 0 || there >= list.length) return list;
  const out = [...list];
  out.splice(there, 0, ...out.splice(from, 1));
  return out;
}

/** The faults of one row, `additions[N]` counted from 1, by its fields; "" is the row itself. */
export function faultsAt(faults: Fault[], list: string, n: number): Record<string, string> {
  const head = `${list}[${n}]`;
  const out: Record<string, string> = {};
  for (const it of faults) {
    const at = it.where.indexOf(head);
    if (at >= 0) out[it.where.slice(at + head.length).replace(/^\./, "")] ??= it.message;
  }
  return out;
}

/** The field of an ingredient that a fault is at, like `composition.fat`; "" where it is at none. */
export function fieldOf(where: string, id: string): string {
  const path = where.slice(where.lastIndexOf(", ") + 1).trim();
  const head = `ingredients.${id}`;
  return path.startsWith(head) ? path.slice(head.length).replace(/^\./, "") : "";
}

/** What fits what is typed into a search: every word of it, in the name, id, code or source. */
export function found<T extends { id: string; name: string; source?: string; supplier_code?: string; allergens?: string[] }>(
  list: T[],
  typed: string,
): T[] {
  return list.filter((it) => hasWords([it.name, it.id, it.source, it.supplier_code, ...(it.allergens ?? [])].join(" "), typed));
}
