// The as-weighed record of a batch, read out of its journal entries for people to look at.
// Entries are read leniently: what an older station did not write is shown as not known.

import type { BatchRecord, Entry, Step } from "./frames.ts";
import { type Again, againOf } from "./after.ts";
import { people } from "./people.ts";
import { sizedBy } from "./sizes.ts";

export interface EvidenceReading {
  t: number | null;
  raw: string;
  grams: string | null;
  used: "tare" | "gross";
}

export interface Accepted {
  n: number;
  /** Number of its entry in the batch. */
  entry: number;
  ingredient: string;
  name: string;
  lot: string;
  target_g: string | null;
  low_g: string | null;
  high_g: string | null;
  net_g: string | null;
  tare_g: string | null;
  gross_g: string | null;
  deviation_g: string | null;
  u_g: string | null;
  /** What `u_g` is made of, each a standard uncertainty in grams; zero ones left out. */
  budget: [string, string][];
  guard_g: string | null;
  accept_low_g: string | null;
  accept_high_g: string | null;
  verdict: string;
  rule: string;
  reason: string;
  scale: string;
  interval_g: string | null;
  operator: string;
  started: string | null;
  accepted: string | null;
  /** "by difference", or empty. */
  method: string;
  readings: EvidenceReading[];
  /** The clock that gave its times was in doubt. */
  doubtful: boolean;
  /** Its place in a plan; null where it is all of its ingredient, into the one bowl. */
  step: Step | null;
}

/** What went in of one ingredient over all its weighings. */
export interface Sum {
  n: number;
  name: string;
  target_g: string | null;
  net_g: string | null;
  u_g: string | null;
}

/** Stands behind a time whose clock was in doubt. */
export const DOUBTFUL = " ?";

/** Something that was out of the ordinary, in the order it happened. */
export interface Event {
  seq: number;
  /** Number of the entry in the batch. */
  entry: number;
  at: string;
  /** The clock that gave the time was in doubt. */
  doubtful: boolean;
  kind: string;
  addition: number | null;
  what: string;
  /** The vessel that was tared, and by how much it was not that, in grams; and what was not added. */
  vessel: [string, string | null];
  not_added_g: string | null;
  /** What was counted on from, where the scale's zero moved. */
  sum_g: string | null;
  reason: string;
  by: string;
}

export interface Summary {
  id: string;
  station: string;
  name: string;
  formula: string;
  revision: string;
  batch_g: string | null;
  /** How its size was chosen, where that was said; empty for a plain mass. */
  sized: string;
  /** How it is made again; null where its formula is not named. */
  again: Again | null;
  operator: string;
  opened: string | null;
  closed: string | null;
  /** Whether it goes on after weighing. */
  process: boolean;
  status: "open" | "in process" | "closed" | "abandoned";
  rule: string;
  planned: { n: number; name: string; target_g: string | null }[];
  accepted: Accepted[];
  /** Where an ingredient took several weighings. */
  sums: Sum[];
  events: Event[];
  /** How the clock was in doubt, each once; empty where it never was. */
  clocks: string[];
  entries: number;
  last_hash: string;
  /** The beginnings of the keys that signed it, each once. */
  signed: string[];
}

type Body = Record<string, unknown>;

const text = (body: Body, ...names: string[]): string => {
  for (const name of names) {
    const value = body[name];
    if (typeof value === "string" && value !== "") return value;
  }
  return "";
};
const textOrNull = (body: Body, name: string): string | null => text(body, name) || null;
const count = (body: Body, name: string): number | null =>
  typeof body[name] === "number" ? (body[name] as number) : null;
const inside = (body: Body, name: string): Body => {
  const value = body[name];
  return typeof value === "object" && value !== null && !Array.isArray(value) ? (value as Body) : {};
};
const list = (body: Body, name: string): Body[] =>
  Array.isArray(body[name]) ? (body[name] as Body[]).filter((v) => typeof v === "object") : [];

/** The decision rule as people write it: "guarded, k = 2". */
function ruleText(value: unknown): string {
  if (typeof value === "string") return value;
  if (typeof value !== "object" || value === null) return "";
  const rule = value as Body;
  const k = rule["k"];
  const name = text(rule, "name");
  return k === undefined ? name : `${name}, k = ${String(k)}`;
}

function readings(body: Body): EvidenceReading[] {
  const evidence = inside(body, "evidence");
  return (["tare", "gross"] as const).flatMap((used) =>
    list(evidence, used).map((r) => ({
      t: count(r, "t"),
      raw: text(r, "raw"),
      grams: textOrNull(r, "grams"),
      used,
    })),
  );
}

function accepted(body: Body, fallback: Body): Accepted {
  const own = list(fallback, "additions").find((it) => it["n"] === body["addition"]);
  const carried = text(body, "carried_u_g");
  return {
    n: count(body, "addition") ?? 0,
    entry: count(body, "n") ?? 0,
    ingredient: text(body, "ingredient"),
    name: text(body, "name", "ingredient"),
    lot: text(body, "lot"),
    target_g: textOrNull(body, "target_g"),
    low_g: textOrNull(body, "low_g"),
    high_g: textOrNull(body, "high_g"),
    net_g: textOrNull(body, "net_g"),
    tare_g: textOrNull(body, "tare_g"),
    gross_g: textOrNull(body, "gross_g"),
    deviation_g: textOrNull(body, "deviation_g"),
    u_g: textOrNull(body, "u_g"),
    budget: Object.entries(inside(body, "budget")).flatMap(([name, u]): [string, string][] =>
      typeof u === "string" && Number(u) > 0 ? [[name, u]] : [],
    ).concat(carried ? [["carried", carried]] : []),
    step: own && "step" in own ? (own["step"] as Step) : null,
    guard_g: textOrNull(body, "guard_g"),
    accept_low_g: textOrNull(body, "accept_low_g"),
    accept_high_g: textOrNull(body, "accept_high_g"),
    verdict: text(body, "verdict"),
    rule: ruleText(body["rule"] ?? fallback["rule"]),
    reason: text(body, "reason"),
    scale: text(body, "scale"),
    interval_g: textOrNull(body, "interval_g"),
    operator: whose(body, text(body, "operator") || text(fallback, "operator")),
    started: textOrNull(body, "started"),
    accepted: textOrNull(body, "accepted"),
    method: text(body, "method"),
    readings: readings(body),
    doubtful: "clock" in body,
  };
}

/** Who did it, and who let them. */
function whose(body: Body, name: string): string {
  const allowed = text(body, "allowed_by");
  return allowed ? people.allowedBy(name, allowed) : name;
}

function event(entry: Entry): Event {
  const body = entry.body;
  return {
    seq: entry.seq,
    entry: count(body, "n") ?? 0,
    at: entry.at,
    doubtful: "clock" in body,
    kind: entry.kind,
    addition: count(body, "addition"),
    vessel: vesselOf(body),
    not_added_g: textOrNull(body, "not_added_g"),
    what: entry.kind === "put right" ? `${text(body, "cause")}/${text(body, "way")}` : text(body, "decision", "cause", "lot", "why", "text", "to"),
    sum_g: textOrNull(body, "sum_g") ?? (entry.kind === "put right" ? textOrNull(body, "mass_g") : null) ?? (forced(entry) ? textOrNull(body, "expected_g") : null),
    reason: text(body, "reason"),
    by: whose(body, text(body, "by", "operator")),
  };
}

/** A bowl that was tared although it did not weigh what it should. */
const forced = (e: Entry) => e.kind === "tared" && e.body["expected_confirmed"] === true;

/** The vessel that was tared, where its mass was known: its name, and by how much it was not that. */
function vesselOf(body: Body): [string, string | null] {
  const vessel = inside(body, "vessel");
  return [text(vessel, "name"), vessel["fits"] === false ? text(vessel, "differs_g", "holds_g") : null];
}

/** A tare that was out of the ordinary: another vessel than the one named, or one said to be another. */
function odd(entry: Entry): boolean {
  return entry.kind === "tared" && (vesselOf(entry.body)[1] !== null || text(entry.body, "not_added_g") !== "");
}

const ORDINARY = new Set([
  "batch opened", "tared", "addition accepted", "batch closed", "lot named", "all weighed",
  "step begun", "temperature entered", "step ended", "step noted", "corrected", "countersigned",
]);

/** A draw is told with the yield; one that stands in the place of another is told here too. */
const ordinary = (e: Entry) => ORDINARY.has(e.kind) || (e.kind === "yield recorded" && !("corrects" in e.body));

/** The additions as they were planned, with what was put right from then on. */
function lastPlanned(entries: Entry[], opened: Body): Body[] {
  let planned = list(opened, "additions");
  for (const { kind, body } of entries) {
    const n = count(body, "addition");
    if (kind === "put right" && n !== null) planned = [...planned.slice(0, n - 1), ...list(body, "additions")];
  }
  return planned;
}


/** A key by its beginning, in groups that an eye can compare. */
const shortKey = (key: string): string => (key.slice(0, 16).match(/.{1,4}/g) ?? []).join("-");

/** The summary of an exported record. */
export function summary(record: BatchRecord): Summary {
  const find = (kind: string) => record.entries.find((e) => e.kind === kind);
  const opened = find("batch opened");
  const closed = find("batch closed");
  const weighed = find("all weighed");
  const abandoned = find("batch abandoned");
  const first = opened?.body ?? {};
  const formula = inside(first, "formula");
  const last = record.entries.at(-1);
  return {
    id: typeof record.batch === "string" ? record.batch : record.batch.id,
    station:
      typeof record.station === "string"
        ? record.station
        : text((record.station ?? {}) as Body, "name") || (last?.station ?? ""),
    name: text(formula, "name", "id"),
    formula: text(formula, "id"),
    revision: text(formula, "revision"),
    batch_g: textOrNull(first, "batch_g"),
    sized: sizedBy(inside(first, "size")),
    again: againOf(first),
    operator: text(first, "operator"),
    opened: opened?.at ?? null,
    closed: (closed ?? abandoned)?.at ?? null,
    process: weighed !== undefined,
    status: abandoned ? "abandoned" : closed ? "closed" : weighed ? "in process" : "open",
    rule: ruleText(first["rule"]),
    planned: lastPlanned(record.entries, first).map((a, i) => ({
      n: count(a, "n") ?? i + 1,
      name: text(a, "name", "ingredient"),
      target_g: textOrNull(a, "target_g"),
    })),
    accepted: record.entries
      .filter((e) => e.kind === "addition accepted")
      .map((e) => accepted(e.body, { ...first, additions: lastPlanned(record.entries, first) })),
    sums: list((weighed ?? closed)?.body ?? {}, "as_weighed").map((it) => ({
      n: count(it, "addition") ?? 0,
      name: text(it, "name", "ingredient"),
      target_g: textOrNull(it, "target_g"),
      net_g: textOrNull(it, "net_g"),
      u_g: textOrNull(it, "u_g"),
    })),
    events: record.entries.filter((e) => !ordinary(e) || forced(e) || odd(e)).map(event),
    clocks: [...new Set(record.entries.filter((e) => "clock" in e.body).map((e) => text(inside(e.body, "clock"), "is")))],
    entries: record.entries.length,
    last_hash: last?.hash ?? "",
    signed: [...new Set((record.signatures ?? []).map((one) => shortKey(one.key)))],
  };
}
