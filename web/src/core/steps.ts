// Steps of a formula as somebody writes them: drafts, what is sent of them, and each step read back as a
// sentence. Whether a limit can be is judged by the station alone.

import type { Fault } from "./drafts.ts";
import { folded } from "./folding.ts";
import { numbers } from "./numbers.ts";
import type { Caution, Pair } from "./process.ts";

export interface StepDraft {
  kind: string;
  name: string;
  how: string;
  with: string;
  temperature: string;
  time: string;
  table: string;
  cautions: Caution[];
  was: number | null;
}

/** What holds a step to account, by its kind: the others are set aside while it has another kind. */
const HELD_TO = ["temperature", "time", "table"] as const;
export type HeldTo = (typeof HELD_TO)[number];

/** A step with a key that stays its own, and what was typed for another kind of step. */
export interface StepRow extends StepDraft {
  key: number;
  aside: Partial<Record<HeldTo, string>>;
}

/** A temperature as it was written, and in both units, rounded so that they allow nothing more. */
export interface Degrees {
  written: string;
  celsius: string;
  fahrenheit: string;
}

/** A step as the station read it. */
export interface StepRead {
  kind: string;
  name: string;
  how: string;
  with: string;
  keeps: boolean;
  at_least: Degrees | null;
  at_most: Degrees | null;
  least_s: string | null;
  most_s: string | null;
  table: string | null;
  cautions: Caution[];
}

export interface StepKind {
  kind: string;
  name: string;
  takes: string[];
  needs: string[];
  keeps: boolean;
}

export interface TreatmentPair extends Pair {
  at_least: Degrees;
}

export interface Treatment {
  id: string;
  name: string;
  note: string;
  pairs: TreatmentPair[];
  cooling: { at_most: Degrees; within_s: string | null; source: string; status: string } | null;
}

/** What there is to choose from. */
export interface Choices {
  kinds: StepKind[];
  tables: Treatment[];
  notice: string;
  brings: Record<string, Caution[]>;
  usual: { id: string; source: string; steps: StepDraft[] }[];
  most: number;
}

export interface Read {
  steps: (StepRead | null)[];
  faults: Fault[];
}

// --- rows -----------------------------------------------------------------------------------------

let keys = 0;
export const stepRow = (it: StepDraft): StepRow => ({ ...it, cautions: it.cautions.map((one) => ({ ...one })), key: ++keys, aside: {} });

export const emptyStep = (kind: string): StepRow =>
  stepRow({ kind, name: "", how: "", with: "", temperature: "", time: "", table: "", cautions: [], was: null });

/** Usual steps as new rows: nothing of them was in the file. */
export const usualRows = (them: StepDraft[]): StepRow[] => them.map((it) => stepRow({ ...it, was: null }));

/** What is sent of rows; null where the file's steps cannot be shown, and stay. */
export const sentSteps = (rows: StepRow[] | null): StepDraft[] | null => rows && rows.map(({ key: _, aside: __, ...row }) => row);

/** Rows once they were saved: each is where it stood when it was sent. */
export function savedRows(rows: StepRow[] | null, sent: StepRow[] | null): StepRow[] | null {
  const order = (sent ?? []).map((row) => row.key);
  return rows && rows.map((row) => (order.includes(row.key) ? { ...row, was: order.indexOf(row.key) } : row));
}

/** The row as another kind: what that does not take is set aside, what it takes comes back. */
export function withKind(row: StepRow, kind: string, takes: readonly string[]): StepRow {
  const out: StepRow = { ...row, kind, aside: {} };
  for (const field of HELD_TO) {
    const typed = row[field] || row.aside[field] || "";
    out[field] = takes.includes(field) ? typed : "";
    if (!takes.includes(field) && typed) out.aside[field] = typed;
  }
  return out;
}

/** The fields that are shown: those that the kind takes, and what stands in the file where it should not. */
export function fieldsOf(row: StepRow, kind: StepKind | undefined): HeldTo[] {
  return HELD_TO.filter((field) => row[field] !== "" || kind?.takes.includes(field));
}

/** A fault that says nothing but that something is still empty: told once somebody wants to save. */
export function isOfEmpty(row: StepRow, field: string): boolean {
  const caution = /^cautions\[(\d+)\]\.(name|text)$/.exec(field);
  if (caution) return row.cautions[Number(caution[1]) - 1]?.[caution[2] as keyof Caution] === "";
  return (row as unknown as Record<string, unknown>)[field] === "";
}

/** What a row says, wherever it stands: to tell whether an answer is of its present text. */
export const saying = ({ key: _, was: __, aside: ___, ...row }: StepRow): string => JSON.stringify(row);

const plain = (typed: string) => folded(typed).replace(/[-\s]+/g, " ").trim();

/** The means that brings cautions, however it is written, as the station takes it; else what was typed. */
export const meansOf = (typed: string, brings: Choices["brings"]): string => (plain(typed) in brings ? plain(typed) : typed.trim());

/** The names that have to be confirmed before a step: those of its means, then its own by other names. Told
 *  while the step is still being written, so that no danger waits for the rest of it. */
export const toConfirm = (row: StepRow, brings: Choices["brings"]): string[] => [
  ...new Set([...(brings[meansOf(row.with, brings)] ?? []), ...row.cautions].map((it) => it.name.trim()).filter(Boolean)),
];

/** Whether what was typed may be meant as the means that brings cautions, and is not its name. */
export const mayBe = (typed: string, means: string, others: readonly string[]): boolean =>
  plain(typed) !== means && [means, ...others].some((one) => plain(typed).includes(one));

// --- what they come to ------------------------------------------------------------------------------

/** The shortest time that the limits allow, in seconds; a step that is not read yet counts nothing. */
export function leastTime(them: (StepRead | null)[], tables: Treatment[]): number {
  return them.reduce((sum, it) => {
    const pairs = tables.find((one) => one.id === it?.table)?.pairs ?? [];
    const held = pairs.length ? Math.min(...pairs.map((pair) => Number(pair.time_s))) : 0;
    return sum + Number(it?.least_s ?? 0) + held;
  }, 0);
}

/** The place of the last heat treatment, where no step cools after it; else -1. */
export function uncooled(rows: StepRow[]): number {
  const last = rows.map((it) => it.kind === "heat-treat" && it.table !== "").lastIndexOf(true);
  return last >= 0 && rows.slice(last + 1).some((it) => it.kind === "cool") ? -1 : last;
}

/** A length of time, exactly: a limit is never rounded. */
export function exactly(seconds: string): string {
  const whole = Number(seconds);
  const [of, unit] = whole > 0 && whole % 3600 === 0 ? [3600, "h"] : whole > 0 && whole % 60 === 0 ? [60, "min"] : [1, "s"];
  return `${numbers(String(whole / of))}\u00a0${unit}`;
}

/** Hours and minutes of what several steps take. */
export function inAll(seconds: number): string {
  const minutes = Math.floor(seconds / 60);
  if (minutes < 1) return `${seconds}\u00a0s`;
  const [h, min] = [Math.floor(minutes / 60), minutes % 60];
  return [h && `${h}\u00a0h`, min && `${min}\u00a0min`].filter(Boolean).join(" ");
}

const tidy = (text: string) => numbers(text.replace(/\.0+(?=\s)/, "")).replaceAll(" ", "\u00a0");

/** As it was written, and in the unit that somebody measures in where that is another. */
export function degrees(it: Degrees, unit: string): string {
  const other = unit === "\u00b0F" ? it.fahrenheit : it.celsius;
  return other === it.written ? tidy(it.written) : `${tidy(it.written)} (${tidy(other)})`;
}

// --- the words ------------------------------------------------------------------------------------

const kinds: Record<string, string> = {
  mix: "Mix until dissolved",
  "heat-treat": "Heat-treat",
  cool: "Cool",
  age: "Age",
  freeze: "Freeze",
  harden: "Harden",
  temper: "Temper",
  fill: "Fill",
};
const means: Record<string, string> = { "dry ice": "dry ice" };
const sets: Record<string, string> = { custard: "Cooked dairy mix or custard", sorbet: "Sorbet or water ice" };

export const terms = { kinds, means, sets, lookalikes: ["co2", "carbon dioxide"] as readonly string[] };

const range = (it: StepRead, unit: string): string => {
  const [low, high] = [it.at_least, it.at_most].map((one) => one && degrees(one, unit));
  if (low && high) return `${it.keeps ? "keep it" : "bring it"} between ${low} and ${high}`;
  const to = it.keeps ? "keep it at" : "bring it to";
  return low ? `${to} ${low} or warmer` : high ? `${to} ${high} or colder` : "";
};
const lasting = (it: StepRead): string => {
  const [least, most] = [it.least_s, it.most_s].map((one) => one && exactly(one));
  const reaches = !it.keeps && (it.at_least ?? it.at_most) !== null;
  if (least && most) return reaches ? `for at least ${least}, there within ${most}` : `for ${least} to ${most}`;
  if (least) return `for at least ${least}`;
  return most ? (reaches ? `within ${most}` : `for at most ${most}`) : "";
};

export const steps = {
  title: "Steps after weighing",
  titleHint: "in the order they are done",
  none: "No steps: a batch of it is finished when all of it is weighed.",
  usual: "Begin with usual steps",
  usualHint: "Common practice, no source: change what differs. A heat treatment stays open until you choose a published table.",
  set: (id: string) => sets[id] ?? id,
  count: (n: number) => (n === 1 ? "1 step" : `${n} steps`),
  cannot: "The steps in this file cannot be shown here, and stay as they are. Mend them with an editor of texts.",
  add: "Add a step",
  kind: (it: string) => kinds[it] ?? it,
  change: (n: number) => `Change step ${n}`,
  shut: (n: number) => `Close step ${n}`,
  changeShort: "Change",
  shutShort: "Close",
  up: (n: number) => `Move step ${n} up`,
  down: (n: number) => `Move step ${n} down`,
  drop: (n: number) => `Take step ${n} out`,
  byKeys: "Alt and an arrow move the step that has the focus.",
  moved: (name: string, n: number) => `${name} is step ${n} now.`,
  gone: (name: string) => `${name} was taken out.`,
  back: "Put it back",
  what: "What is done",
  choose: "choose\u2026",
  name: "Name",
  nameHint: (usual: string) => `else: ${usual}`,
  how: "How",
  howHint: "for whoever does it",
  with: "With",
  withHint: "what it is done with",
  dryIce: "Dry ice",
  lookalike: "If this is dry ice, press the button: only then do its cautions come.",
  temperature: "Temperature",
  temperatureKept: "kept all the time: at most 4\u00a0\u00b0C, 2 to 4\u00a0\u00b0C",
  temperatureReached: "to be reached: at most 4\u00a0\u00b0C, at least 40\u00a0\u00b0C, -14 to -11\u00a0\u00b0C",
  time: "Time",
  timeHint: "within 90\u00a0min, at least 4\u00a0h, 4\u00a0h to 24\u00a0h",
  table: "Published table",
  tableHint: "Your choice. Each pair counts by itself; between two of them nothing is known.",
  noTable: "Choose a published table.",
  pair: (at: string, time: string) => `${at} or hotter for ${time}`,
  atOnce: (at: string) => `${at} or hotter, no time to wait`,
  source: (it: { source: string; status: string }) => `${it.source}; ${it.status}`,
  tableName: (it: Treatment) => it.name,
  tableNote: (it: Treatment) => it.note,
  cautions: "Cautions",
  cautionsHint: "each is confirmed by its name before the step begins",
  byItself: "These come by themselves:",
  cautionName: "Short name",
  cautionText: "What to mind",
  addCaution: "Add a caution",
  dropCaution: (n: number) => `Take caution ${n} out`,
  twice: "This one comes by itself already, and yours is left out.",
  aside: (them: string[]) => `Set aside, and not saved: ${them.join("; ")}. It comes back with its kind of step.`,
  incomplete: "not complete yet",
  wrong: "not understood",
  working: "Reading it\u2026",
  late: "The station has not answered. What stands here may be of an earlier text; nothing you typed is lost.",
  confirm: (names: string[]) => `To confirm before it begins: ${names.join(", ")}`,
  head: (name: string, it: string) => (it ? `${name} with ${means[it] ?? it}` : name),
  /** What a step asks for, after its name; empty where it asks for nothing. */
  asks: (it: StepRead, table: Treatment | null, unit: string): string => {
    if (table) return `hold it at one of these: ${table.pairs.map((pair) => steps.pairOf(pair, unit)).join("; ")}`;
    return [range(it, unit), lasting(it)].filter(Boolean).join(", ");
  },
  pairOf: (it: TreatmentPair, unit: string): string => {
    const at = degrees(it.at_least, unit);
    return Number(it.time_s) > 0 ? steps.pair(at, exactly(it.time_s)) : steps.atOnce(at);
  },
  then: (limit: string) => `Afterwards: ${limit}`,
  cooling: (limit: string) => `No step cools it after this. The table asks for ${limit}.`,
  coolingTo: (at: string, within: string) => `${at} or colder${within && ` within ${within}`}`,
  sum: (n: number, least: string, cautions: number): string => {
    const told = [n === 1 ? "1 step" : `${n} steps`];
    if (least) told.push(`at least ${least} by their limits`);
    if (cautions) told.push(cautions === 1 ? "1 caution to confirm" : `${cautions} cautions to confirm`);
    return `${told.join(", ")}.`;
  },
  noHeat: "No step here is a heat treatment, and there is milk or egg in it.",
  said: (text: string) => text,
} as const;
