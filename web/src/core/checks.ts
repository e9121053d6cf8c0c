// Checks of a scale with weights: their shapes on the wire, and every word about them. Part of words.ts,
// in a file of its own for its length: a translation brings both.

import { massWithUnit, signedWithUnit, sizeWithUnit, unsureWithUnit } from "./numbers.ts";

export type Outcome = "pass" | "fail" | "too close to call";
export type Standing = "good" | "overdue" | "failed" | "too close to call" | "never checked";

export interface Placed {
  n: number;
  part: "zero" | "mass" | "corner" | "repeatability";
  place: string;
  nth: number;
  of: number;
  weight: string | null;
  nominal_g: string | null;
}

export interface Found {
  error_g: string;
  u_g: string;
  limit_g: string;
  guard_g: string;
  outcome: Outcome;
}

export interface Running {
  by: string;
  began: string;
  of: number;
  wanted: "empty" | "put" | "remove" | "nothing";
  note: "" | "odd" | "zero moved";
  odd_g: string | null;
  current: Placed | null;
  net_g: string | null;
  found: Found | null;
  left_out: string[];
  steps: (Placed & Found & { net_g: string })[];
}

export interface Weight {
  name: string;
  nominal_g: string;
}

export interface Check {
  then: "bars" | "flags";
  every_h: string | null;
  new_day_utc: string | null;
  standing: Standing;
  barred: boolean;
  last: { seq: number; at: string; outcome: Outcome } | null;
  due: string | null;
  overdue_since: string | null;
  doubts: string[];
  weights: Weight[];
  placements: number;
  clearing: boolean;
  running: Running | null;
}

/** A check that was made, as the history has it. */
export interface Made {
  seq: number;
  at: string;
  by: string;
  outcome: Outcome;
  left_out: string[];
  steps: (Found & { n: number; part: Placed["part"]; place: string; net_g: string; weight: Weight | null })[];
  repeatability: (Omit<Found, "error_g"> & { n: number; range_g: string; s_g: string }) | null;
  corners: { most_from_centre_g: string } | null;
  doubted: { batch: string; additions: number[] }[];
}

/** What a check says of a batch's additions, where not all is well. */
export interface Flag {
  addition: number;
  scale: string;
  standing: Standing;
  failed: { seq: number; at: string } | null;
}

const places: Record<string, string> = {
  centre: "in the middle",
  "front left": "at the front left",
  "back left": "at the back left",
  "back right": "at the back right",
  "front right": "at the front right",
};

const outcomes: Record<Outcome, string> = {
  pass: "Pass",
  fail: "Fail",
  "too close to call": "Too close to call",
};

const standings: Record<Standing, string> = {
  good: "Checked, passed",
  overdue: "The check is overdue",
  failed: "The check failed",
  "too close to call": "The check was too close to call",
  "never checked": "Not checked yet",
};

const named = (it: { weight: string | null; nominal_g: string | null }) =>
  it.weight === null ? "nothing" : it.weight.includes(it.nominal_g ?? "") ? it.weight : `${it.weight} (${massWithUnit(it.nominal_g)})`;

const unwell: Record<Standing, string> = {
  good: "which had passed its check",
  overdue: "whose check was overdue",
  failed: "which had failed its check",
  "too close to call": "whose check was too close to call",
  "never checked": "which had not been checked",
};

export const terms = { places, outcomes, standings, unwell };

export const checks = {
  title: (scale: string) => `Check of ${scale}`,
  heading: "Check with weights",
  open: "Check the scale",
  see: "See the checks",
  back: "All scales",
  none: "No check is set up for this scale. It is set up in the station's configuration.",
  standing: (it: Standing) => standings[it] ?? it,
  outcome: (it: string) => outcomes[it as Outcome] ?? it,
  last: "Last check",
  due: "Due",
  now: "now",
  then: (it: Check) =>
    it.then === "bars" ? "Nothing is accepted unless it has passed." : "What is weighed unchecked is flagged.",
  hint: (scale: string, it: Check) =>
    `${scale}: ${standings[it.standing].charAt(0).toLowerCase()}${standings[it.standing].slice(1)}. ` +
    (it.then === "bars" ? "Nothing is accepted on it until it has passed." : "What is weighed on it is flagged."),
  barred: (scale: string) => `Nothing is accepted on ${scale} until it has passed its check.`,
  /** On the big button's place, where accepting has to wait. */
  first: "Take the vessel off, check the scale",
  checking: "The scale is being checked.",
  clearing: "Take everything off the scale first: then the addition goes on.",
  takes: (n: number, weights: Weight[]) =>
    `It has ${n} steps and takes ${weights.map((it) => named({ weight: it.name, nominal_g: it.nominal_g })).join(", ")}.`,
  wet: "Nothing need be pressed meanwhile: each step counts when the weight is taken off again.",
  by: "Who is checking",
  byWrong: "Say who is checking: it goes into the record.",
  start: "Start the check",
  stop: "Stop the check",
  stopped: "Stopped, nothing is recorded of it.",
  nth: (run: Running) => `${run.current?.n ?? run.of} of ${run.of}`,
  onScale: "on the scale",
  /** The one thing to do now, large. */
  instruction: (run: Running): string => {
    const it = run.current;
    if (it === null) return "One moment: it is being recorded";
    if (run.wanted === "empty") return run.note === "zero moved" ? "Empty the scale and zero it" : "Take everything off";
    if (run.wanted === "remove") return "Take it off";
    return `Put ${it.weight ?? ""} ${it.part === "corner" ? (places[it.place] ?? it.place) : "on"}`;
  },
  /** Beneath it. */
  more: (run: Running): string => {
    const it = run.current;
    if (it === null) return "";
    if (run.odd_g !== null) {
      return run.wanted === "empty"
        ? `It shows ${massWithUnit(run.odd_g)}. If there is nothing on it, press the button.`
        : `It shows ${massWithUnit(run.odd_g)}. If this is ${it.weight}, press the button; if not, change it.`;
    }
    if (run.note === "zero moved") return "Its zero jumped while a weight stood there: that one is done again.";
    if (run.wanted === "remove" && run.found) return checks.found(run.found);
    if (run.wanted === "put" && it.part === "repeatability") return `Time ${it.nth} of ${it.of}, ${massWithUnit(it.nominal_g)}`;
    return run.wanted === "put" ? massWithUnit(it.nominal_g) : "";
  },
  found: (it: Found) =>
    `Error ${signedWithUnit(it.error_g)}, \u00b1${sizeWithUnit(it.limit_g)} allowed; u ${unsureWithUnit(it.u_g)}`,
  plate: (run: Running): string => {
    if (run.odd_g !== null) return run.wanted === "empty" ? "Is it empty?" : "Is it the right one?";
    if (run.wanted === "remove" && run.found) return outcomes[run.found.outcome];
    if (run.wanted === "put") return "Put it on";
    return run.wanted === "empty" ? "Empty the scale" : "One moment";
  },
  right: (run: Running) => (run.wanted === "empty" ? "It is empty" : `It is ${run.current?.weight ?? "the right one"}`),
  wait: (run: Running): string => {
    if (run.wanted === "remove") return "Counts when it is off";
    return run.wanted === "nothing" ? "One moment" : "Goes on by itself";
  },
  step: (it: { part: string; place: string; weight: string | Weight | null; nominal_g?: string | null }) => {
    const weight = typeof it.weight === "object" && it.weight !== null ? it.weight : { name: it.weight, nominal_g: it.nominal_g ?? null };
    if (it.weight === null) return "Empty scale";
    const what = named({ weight: weight.name as string, nominal_g: weight.nominal_g });
    if (it.part === "corner") return `${what}, ${it.place}`;
    return it.part === "repeatability" ? `${what}, again` : what;
  },
  repeated: (it: NonNullable<Made["repeatability"]>) =>
    `${it.n} times: ${sizeWithUnit(it.range_g)} apart, ${sizeWithUnit(it.limit_g)} allowed; standard deviation ${unsureWithUnit(it.s_g)}`,
  repeatability: "Repeatability",
  cornersApart: (g: string) => `Corners: up to ${massWithUnit(g)} from the middle`,
  leftOut: (parts: string[]) => `Left out: ${parts.join(", ")}`,
  doubted: (it: Made["doubted"][number]) =>
    `In doubt: batch ${it.batch}, ${it.additions.length === 1 ? "addition" : "additions"} ${it.additions.join(", ")}`,
  history: "Checks made",
  noHistory: "None yet.",
  older: "Older checks",
  plot: "Errors of the checks made, against what was allowed",
  allowed: (g: string) => `\u00b1${massWithUnit(g)} allowed`,
  range: (g: string) => `${massWithUnit(g)} allowed`,
  flags: "Checks of the scale",
  /** A sentence for all additions of which the same is to be said. */
  said: (flags: Flag[], at: (moment: string) => string): string[] => {
    const by = new Map<string, number[]>();
    for (const it of flags) {
      const text =
        it.failed !== null
          ? `in doubt, ${it.scale} failed its next check (${at(it.failed.at)}).`
          : `weighed on ${it.scale}, ${unwell[it.standing] ?? it.standing}.`;
      by.set(text, [...(by.get(text) ?? []), it.addition]);
    }
    return [...by].map(([text, of]) => `${of.length === 1 ? "Addition" : "Additions"} ${of.join(", ")}: ${text}`);
  },
  simulated: (it: Weight) => `Put ${named({ weight: it.name, nominal_g: it.nominal_g })} on`,
  simulatedOff: "Take the weight off",
} as const;
