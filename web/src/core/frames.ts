// What the station says about itself, as it crosses the wire. Masses are decimal strings in grams:
// the page shows them as they came and never computes a mass; numbers are made of them only to draw.

import type { Process } from "./process.ts";
import type { Check } from "./checks.ts";
import type { PutRight } from "./recovery.ts";
import type { FirstOut } from "./lots.ts";

export type Verdict = "short" | "on target" | "over" | "too close to call";
export type Phase = "awaiting vessel" | "ready" | "pouring" | "settling" | "judged" | "held";
export type ScaleLink = "waiting" | "live" | "silent" | "lost";
export type Can =
  | "tare"
  | "accept"
  | "top up"
  | "take out"
  | "accept with reason"
  | "resume"
  | "weigh again"
  | "use scale"
  | "tare another"
  | "put right"
  | "abandon"
  | "name lot"
  | "next lot";
export type Cause = "over" | "short" | "too close to call" | "scale lost" | "scale silent" | "scale at zero";

export interface Notice {
  id: string;
  level: "info" | "warn" | "error";
  code: string;
  text: string;
  at: string;
}

export interface Station {
  name: string;
  version: string;
  simulation: boolean;
  boot: string;
  notices: Notice[];
  store: { ok: boolean; code: string; text: string };
  floor?: boolean; vessels?: Vessel[];
}

/** A vessel whose empty mass is known; `allow_g`: what it may differ by besides. */
export interface Vessel {
  name: string;
  mass_g: string;
  u_g: string;
  allow_g: string;
  configured: boolean;
  scale: string;
  at: string;
  by: string;
}

/** A known vessel beside what stands on the scale: by how much that is heavier. */
export interface Fit {
  name: string;
  differs_g: string;
  limit_g: string;
}

/** The addition at whose end the scale would be fuller than it is planned with. */
export interface Full {
  addition: number;
  ends_g: string;
  most_g: string;
  max_g: string;
  beyond: boolean;
}

export interface Reading {
  t: number;
  grams: string | null;
  shown: string | null;
  unit: string | null;
  stable: boolean | null;
  over: boolean;
  fault: string;
}

export interface Scale {
  name: string;
  driver: string;
  max_g: string | null;
  interval_g: string | null;
  min_g: string | null;
  link: ScaleLink;
  why: string;
  what: string;
  reading: Reading | null;
  phase: string | null;
  readings: number;
  rejected: number;
  /** What the station learned of it; null while it is new. */
  learned?: Learned | null;
  last_rejected: string;
  /** How it is checked with weights; null where it is not. */
  check?: Check | null;
}

export interface Learned {
  since: string | null;
  looks: number;
  noise_g: string;
  response_s: string;
  readings_per_s: string | null;
  /** Share of the readings of a moving load in which its own flag said it was steady. */
  flag_wrong: string | null;
}

export interface Addition {
  n: number;
  ingredient: string;
  name: string;
  target_g: string;
  low_g: string;
  high_g: string;
  tolerance: string;
  scale: string;
  lot: string;
  status: "accepted" | "current" | "waiting";
  net_g: string | null;
  deviation_g: string | null;
  verdict: Verdict | null;
  reason: string;
  allergens: string[];
  judgeable: boolean;
  caution?: string;
  /** Its own vessel stands on the scale, and what leaves it counts. */
  method?: "by difference";
  /** Its place in a plan of several scales or vessels. */
  step?: Step;
  /** The amount it is of, where its number does not say so. */
  of?: number;
}

export type Into = "bowl" | "dish" | "premix" | "source";
export type Role = "whole" | "part" | "premix ingredient" | "premix carrier" | "from premix" | "rest of the carrier";

export interface Step {
  of: number;
  into: Into;
  vessel: number;
  role: Role;
  part: number;
  parts: number;
  premix: number;
  /** Target and limits of the whole amount. */
  whole_g: string;
  low_g: string;
  high_g: string;
}

/** Something done with a vessel before weighing `n`. */
export interface Doing {
  do: "set down" | "take off" | "tip in" | "stir";
  vessel: string;
  scale: string;
  n: number;
}

/** What the bowl should weigh when it comes back to a scale; `off_g` where it does not. Without `due_g`:
 *  it still stands where a dish belongs. */
export interface Due {
  due_g: string | null;
  off_g: string | null;
}

export interface Batch {
  id: string;
  /** The lot to take first for the current addition, where there is one. */
  first_out?: FirstOut;
  formula: { id: string; name: string; revision: string };
  batch_g: string;
  operator: string;
  opened: string;
  closed: string | null;
  status: "open" | "in process" | "closed" | "abandoned";
  rule: { name: string; k: string };
  allergens: string[];
  current: number | null;
  reason?: string;
  cautions?: string[];
  additions: Addition[];
  acts?: Doing[];
  put_right?: PutRight[];
  /** How many amounts the formula calls for. */
  called?: number;
}

export type Cue = "pour" | "slow" | "stop";

/** What the cook is told, and where it lands if that is to stop now: grams of the addition. */
export interface Guidance {
  cue: Cue;
  landing_g: string | null;
  sigma_g: string | null;
}

export interface Live {
  batch: string;
  addition: number;
  scale: string;
  phase: Phase;
  why: string;
  /** Whether the scale has come to rest, firmly enough for a record. */
  settled: boolean;
  gross_g: string | null;
  tare_g: string | null;
  net_g: string | null;
  to_go_g: string | null;
  u_g: string | null;
  /** How far inside a limit an amount must be to count as on target. */
  guard_g?: string | null;
  /** What a lifted vessel is known to hold of this addition. */
  sum_g?: string | null;
  verdict: Verdict | null;
  held: { cause: Cause; since: string; sum_g?: string | null; sum_within_g?: string | null } | null;
  /** Somebody said to take some out, and the amount has not changed yet. */
  taking_out: boolean;
  /** How the scale's zero last moved in this addition. */
  zero?: { cause: string; at: string; sum_g: string | null } | null;
  /** What a load at rest gains a minute, or loses (below zero). */
  drift_g_min?: string | null;
  due?: Due | null;
  /** By difference: the vessel is off the scale, to be poured from. */
  lifted?: boolean;
  vessel?: { tared: string; chosen: string; standing: Fit[]; differs: Fit | null };
  full?: Full | null;
  /** Held at zero, and the scale shows that the vessel is off. */
  off?: boolean;
  /** The vessel is awaited at zero with some in it: it may stand there, and the scale was zeroed under it. */
  perhaps_on?: boolean;
  /** What the addition before left still stands there, and is to make room. */
  left?: boolean;
  /** Its scale is a check's for now. */
  checking?: boolean;
  can: Can[];
  cue?: Guidance | null;
}

export interface State {
  station: Station;
  scales: Record<string, Scale>;
  batch: Batch | null;
  live: Live | null;
  process?: Process; // batches that are off the bench and still being made
  sharing?: import("./outgoing.ts").Outgoing | null; // null without a shared store
}

export type Frame =
  | { kind: "snapshot"; seq: number; state: State }
  | ({ kind: "change"; seq: number } & Partial<State>)
  | { kind: "beat"; seq: number };

// --- formulas, batches, records: asked for by request ------------------------------------------

export interface FormulaAddition {
  n: number;
  ingredient: string;
  name: string;
  target_g: string;
  low_g: string;
  high_g: string;
  tolerance: string;
  allergens: string[];
  /** Whether the scale can tell; null while nothing is known of it. */
  judgeable?: boolean | null;
  caution?: string;
  method?: "by difference";
}

/** What should be known before pouring; masses as far as the code has them. */
export interface Warning {
  addition: number | null;
  code: string;
  text: string;
  scale?: string;
  least_g?: string | null;
  finest_g?: string;
  least_batch_g?: string | null;
  other_scale?: string | null;
  min_g?: string;
  wavers_g?: string;
  vessel?: string;
  ends_g?: string;
  other_vessel?: string | null;
}

export interface Formula {
  id: string;
  name: string;
  note: string;
  revision: string;
  batch_g: string;
  scenario: string;
  allergens: string[];
  additions: FormulaAddition[];
  /** What is made of it after weighing. */
  steps?: { name: string; limits: string; with: string; cautions?: { name: string; text: string }[] }[];
  cautions?: string[];
  warnings?: Warning[];
  /** What each scale can judge of it at its own size; in the list of formulas. */
  scales?: { scale: string; interval_g: string | null; warnings: Warning[] }[];
}

export interface Weighing {
  n: number;
  addition: number;
  name: string;
  scale: string;
  into: Into;
  vessel: number;
  role: Role;
  part: number;
  parts: number;
  premix?: number;
  target_g: string;
  low_g: string;
  high_g: string;
  fit: boolean;
}

export interface Premix {
  premix: number;
  of: number;
  carrier_of: number;
  scale: string;
  part_g: string;
  carrier_g: string;
  taken_g: string;
  shared_g: string;
  left_g: string;
  u_g: string;
  alone_u_g: string;
}

export interface Shortfall {
  addition: number;
  name: string;
  text: string;
}

export interface Plan {
  moves: number;
  plain: boolean;
  unfit: number;
  scales: string[];
  vessels: { bowl_g: string; dish_g: string; dish_holds_g: string | null };
  weighings: Weighing[];
  acts: (Omit<Doing, "do"> & { do: Doing["do"] | "weigh" })[];
  premixes: Premix[];
  shortfalls: Shortfall[];
  /** Scales that are not planned with: away, or not heard yet. */
  left_out?: string[];
}

export interface FormulaProblem {
  file: string;
  line: number | null;
  field: string;
  message: string;
}

export interface BatchRow {
  id: string;
  formula: string;
  name: string;
  batch_g: string;
  operator: string;
  opened: string;
  closed: string | null;
  status: string;
  additions: number;
  accepted: number;
}

export interface Entry {
  seq: number;
  station: string;
  kind: string;
  at: string;
  body: Record<string, unknown>;
  prev: string;
  hash: string;
}

export interface BatchRecord {
  weighd_record: number;
  station: unknown;
  batch: string | { id: string };
  entries: Entry[];
  /** What the station's key signed. */
  signatures?: { key: string; entries: number }[];
}
