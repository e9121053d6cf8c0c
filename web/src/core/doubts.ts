// What a scale can tell and what it cannot, in words: warnings before a batch, and what an
// uncertainty is made of. The other words are in words.ts and refusals.ts.

import type { Warning } from "./frames.ts";
import { massWithUnit, unsureWithUnit, between } from "./numbers.ts";

const warnings: Record<string, (it: Warning) => string> = {
  "too-fine": (it) => {
    const can = it.least_g
      ? `The scale ${it.scale} can judge this tolerance from ${massWithUnit(it.least_g)} up.`
      : `The scale ${it.scale} cannot judge this tolerance at any amount.`;
    const ways = [
      it.other_scale ? `the scale ${it.other_scale}` : "a finer scale",
      `a tolerance of ${massWithUnit(it.finest_g)} or wider`,
      ...(it.least_batch_g ? [`a batch from ${massWithUnit(it.least_batch_g)} up`] : []),
    ];
    return `${can} Use ${ways.slice(0, -1).join(", ")} or ${ways.at(-1)}.`;
  },
  unsteady: (it) =>
    `The display of the scale ${it.scale} wavers by ${massWithUnit(it.wavers_g)}, and that is reckoned with. ` +
    "Still it: shut out a draught, switch off what shakes the bench.",
  "vessel-overflows": (it) => it.text,
  "below-min": (it) => `Less than the scale ${it.scale} should be used for (Min ${massWithUnit(it.min_g)}).`,
};

/** The components of an uncertainty, as the record names them. */
const components: Record<string, string> = {
  rounding: "rounding",
  spread: "spread of the readings",
  repeatability: "repeatability",
  permissible_error: "permissible error",
  creep: "creep",
  carried: "the other weighings of it",
};

export const terms = { warnings, components };

export const doubts = {
  warning: (it: Warning) => warnings[it.code]?.(it) ?? it.text,
  /** How many additions the scale cannot judge, in a line; empty for none. */
  tooFine: (all: Warning[]) => {
    const them = all.filter((it) => it.code === "too-fine");
    if (them.length === 0) return "";
    return `${them.length === 1 ? "1 addition is" : `${them.length} additions are`} too fine for the scale ${them[0]!.scale}`;
  },
  /** How many additions no scale here can judge, in a line; empty for none. `all`: what each scale cannot. */
  tooFineForAll: (all: Warning[][]) => {
    const each = all.map((them) => new Set(them.filter((it) => it.code === "too-fine").map((it) => it.addition)));
    const n = [...(each[0] ?? [])].filter((it) => each.every((them) => them.has(it))).length;
    return n === 0 ? "" : `${n === 1 ? "1 addition is" : `${n} additions are`} too fine for every scale here`;
  },
  /** A standard uncertainty, and what of it comes from where, in grams. */
  uncertainty: (u: string, parts: [string, string][]) => {
    const made = parts.map(([name, part]) => `${components[name] ?? name} ${unsureWithUnit(part)}`);
    return [`${unsureWithUnit(u)} (standard)`, made.join(", ")].filter(Boolean).join(": ");
  },
  guard: (rule: string, g: string | null) => (g ? `${rule}: guard band ${unsureWithUnit(g)}` : rule),
  /** What comes out on target on a display with this interval. */
  accepts: (low: string, high: string, interval: string | null) => {
    if (Number(low) > Number(high)) return "no amount: the guard bands leave no room";
    const [from, to, unit] = between(low, high, interval);
    return `${from} to ${to}\u00a0${unit}`;
  },
} as const;
