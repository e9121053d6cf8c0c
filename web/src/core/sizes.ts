// How large a batch is made: grams, or words that the station understands. Other words: words.ts.

import { number, typedMass } from "./numbers.ts";

export interface Sized {
  size: { by: string; batch_g: string; words: string; scarcest?: string };
  batch_g: string;
  composition: { of: string; name: string; unit: string; exact: string; rounded: string; difference: string }[];
}

export type Size = { batch_g: string } | { size: string };

/** What was typed, as a request says it; null for what can be no size. */
export function asSize(typed: string): Size | null {
  const batch_g = typedMass(typed);
  if (batch_g !== null) return { batch_g };
  const size = typed.trim();
  // "lots" is told here; what has a number and a word in it is for the station to read.
  return /[1-9]/.test(size) && /[a-z]/i.test(size) && !/^[-\u2212]/.test(size) && size.length <= 300 ? { size } : null;
}

/** How a record says that its size was chosen; empty where it was a plain mass. */
export function sizedBy(said: Record<string, unknown>): string {
  const words = typeof said["words"] === "string" && said["by"] !== "mass" ? said["words"] : "";
  return [words, Array.isArray(said["rounded"]) ? sizes.atSteps : ""].filter(Boolean).join("; ");
}

const signed = (text: string) => (Number(text) > 0 ? `+${number(text)}` : number(text));

export const sizes = {
  atSteps: "targets at the steps of the scales",
  steps: "Targets at the steps of the scale",
  stepsMore: "Each is moved to a number that can stand on the display, by no more than a quarter of its tolerance.",
  unchanged: "The mix is the same to the digits shown.",
  notKnown: "What that does to the mix is not known: its ingredients do not say what they hold.",
  /** What rounding did to the mix, in words. */
  did: (it: Sized) => (it.composition.length === 0 ? sizes.notKnown : sizes.moved(it).join("; ") || sizes.unchanged),
  /** What rounding moved, where it can be seen. */
  moved: (it: Sized) =>
    it.composition
      .filter((each) => Number(each.difference) !== 0)
      .map((each) => `${each.name} ${number(each.rounded)}\u00a0${each.unit} (${signed(each.difference)})`),
};
