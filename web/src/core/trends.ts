// How well things are weighed across batches: the shapes on the wire, and every word about them.

import { massWithUnit, number, signedNumber, signedWithUnit } from "./numbers.ts";

export type By = "ingredient" | "scale" | "operator";
export const BYS: readonly By[] = ["ingredient", "scale", "operator"];

export interface Signal {
  rule: string;
  at: number;
  since: number;
  up: boolean;
}

export interface Group {
  by: By;
  key: string;
  name: string;
  n: number;
  few: boolean;
  since: string;
  until: string;
  off_g: string;
  over_g: string;
  over_cost: string | null;
  out_of_tolerance: number;
  sure_share: number | null;
  bias_percent: { mean: number; low: number; high: number; sure: boolean } | null;
  capability: { cp: number | null; cpk: number | null; low: number | null; high: number | null; ppk: number | null } | null;
  steady: boolean | null;
  signals: Signal[];
}

export interface Dot {
  seq: number;
  at: string;
  batch: string;
  addition: number;
  net_g: string;
  target_g: string;
  off_g: string;
  share: number;
  sure: number;
  verdict: string;
}

export interface Detail extends Group {
  points: Dot[];
  chart: { centre: number; low: number; high: number; mean_range: number; most_range: number } | null;
}

/** What is beyond the reach of a chart is drawn at its edge. */
export const held = (share: number, reach: number): number => Math.max(-reach, Math.min(reach, share));

/** Where a share is drawn between the top (0) and the foot (1) of a chart that reaches this far. */
export const height = (share: number, reach: number): number => (reach - held(share, reach)) / (2 * reach);

/** One value of twelve may lie beyond what a chart shows, and one of four or more: a single slip does not flatten all others. */
const BEYOND = 12;
const ENOUGH = 4;
/** Limits further out than this come of such a slip themselves, and say little of what is usual. */
const WIDE = 2;

/** How far a chart must reach to show what is allowed, its limits and the values: all of them, or all but the few furthest where those lie more than half as far again out. */
export function reachOf(it: Detail): number {
  const limits = it.chart ? [it.chart.low, it.chart.high].map(Math.abs).filter((one) => one <= WIDE) : [];
  const far = it.points.map((p) => Math.abs(p.share)).sort((one, other) => one - other);
  const out = far.length < ENOUGH ? 0 : Math.max(1, Math.floor(far.length / BEYOND));
  const least = Math.max(1, ...limits);
  const most = Math.max(least, far.at(-1) ?? 0);
  const usual = Math.max(least, far[far.length - 1 - out] ?? 0);
  return Math.min(4, (most > usual * 1.5 ? usual : most) * 1.12);
}

/** How far each value stands from the one before it; none for the first. */
export function moves(it: Detail): (number | null)[] {
  return it.points.map((p, n) => (n === 0 ? null : Math.abs(p.share - it.points[n - 1]!.share)));
}

/** What stands out, the newest of each kind, at most so many. */
export function standing(signals: readonly Signal[], most = 3): Signal[] {
  const out: Signal[] = [];
  for (const one of [...signals].reverse()) {
    if (!out.some((had) => had.rule === one.rule && had.up === one.up)) out.push(one);
  }
  return out.slice(0, most);
}

const percent = (value: number, places = 2): string => `${signedNumber(value.toFixed(places))}\u00a0%`;

const rules: Record<string, (up: boolean) => string> = {
  "one beyond 3 sigma": (up) => `one far ${up ? "above" : "below"} what is usual`,
  "2 of 3 beyond 2 sigma, on one side": (up) => `two of three well ${up ? "above" : "below"} what is usual`,
  "4 of 5 beyond 1 sigma, on one side": (up) => `four of five ${up ? "above" : "below"} what is usual`,
  "8 in a row on one side": (up) => `eight in a row ${up ? "above" : "below"} the mean`,
  "6 in a row up or down": (up) => `six in a row, each ${up ? "above" : "below"} the one before`,
  "a step larger than steps usually are": (up) => `a sudden step ${up ? "up" : "down"}`,
};

export const terms = { rules };

export const trends = {
  title: "How well it is weighed",
  open: "How well it is weighed",
  lead: "Every weighing as a share of what was allowed, over batches of any size. What has changed comes first.",
  by: { ingredient: "Ingredients", scale: "Scales", operator: "People" } satisfies Record<By, string>,
  byLabel: "Show",
  none: "Nothing has been weighed yet.",
  weighings: (n: number) => (n === 1 ? "1 weighing" : `${n} weighings`),
  steady: { yes: "Steady", no: "Has changed", unknown: "Too few to say" },
  few: "Fewer than 20 weighings say little of what is usual.",
  facts: {
    bias: "Usually off by:",
    room: "Room to the limits",
    over: "Poured above targets",
    out: "Out of tolerance",
    scale: "The scale's own doubt",
  },
  bias: (it: Group["bias_percent"]) =>
    it === null ? "not known" : it.sure ? percent(it.mean) : `nothing that could be told (${percent(it.low)} to ${percent(it.high)})`,
  room: (it: Group["capability"]) => {
    if (it === null) return "not known";
    if (it.cpk === null) return "more than enough";
    const size = number(it.cpk.toFixed(2));
    return `${size}, ${it.cpk >= 1.33 ? "ample" : it.cpk >= 1 ? "just enough" : "too little"}`;
  },
  roomNote: "Room 1: the limits lie three times the usual scatter away. From 1.33 on it is ample (common practice, no source).",
  over: (g: string, cost: string | null) => massWithUnit(g) + (cost === null ? "" : `, worth ${number(cost)} at today's prices`),
  out: (n: number, of: number) => (n === 0 ? "none" : `${n} of ${of}`),
  sure: (share: number | null) => (share === null ? "not known" : `${Math.round(share * 100)}\u00a0% of what is allowed`),
  signal: (it: Signal, of: number) => `${rules[it.rule]?.(it.up) ?? it.rule} (weighing ${it.at + 1} of ${of})`,
  chart: (name: string, n: number) => `Chart of ${n} weighings of ${name}, oldest on the left`,
  plots: (name: string) => `Charts of ${name}; the arrow keys go from weighing to weighing`,
  captions: { values: "Each weighing, as a share of what was allowed", moves: "How far it moved from the weighing before" },
  movesChart: (name: string) => `Chart of how far each weighing of ${name} stands from the one before it`,
  share: (share: number) => `${number(String(Math.round(share * 100)))}\u00a0%`,
  point: {
    none: "Point at a weighing, or press the arrow keys, to read it here. Drag to look closer, press twice to see all.",
    told: (n: number, of: number, at: string, verdict: string, p: Dot) =>
      `${verdict}: ${massWithUnit(p.net_g)} of ${massWithUnit(p.target_g)}, off by ${signedWithUnit(p.off_g)}. ${n} of ${of}, ${at}.`,
  },
  legend: {
    allowed: "what is allowed",
    usual: "what is usual here",
    good: "on target",
    bad: "not on target",
    out: "stands out",
    far: "further out than is shown",
  },
  list: "Every weighing",
  columns: { when: "When", batch: "Batch", target: "Target", net: "Net", off: "Off by", verdict: "Verdict" },
  back: "All of them",
} as const;
