// What people wrote in a batch, and what was put right of it: what the station sends, and its words.

import type { Problem } from "./commands.ts";
import { stamp } from "./numbers.ts";

export interface Correction {
  /** The entry that was put right, by its number in the batch; `n` is that of the correction. */
  entry: number;
  kind: string;
  n: number;
  field: string;
  old: string;
  new: string;
  reason: string;
  by: string;
  at: string;
  /** What spoke against a lot that did go in; empty for nothing. */
  although: string;
}

export interface WrittenEntry {
  entry: number;
  kind: string;
  at: string;
  addition: number | null;
  ingredient: string;
  name: string;
  /** What stands there now, by field. */
  fields: Record<string, string>;
}

export interface Written {
  batch: string;
  written: WrittenEntry[];
  corrections: Correction[];
}

export interface Form {
  field: string;
  new: string;
  reason: string;
  by: string;
}

/** The corrections of a field of an entry, oldest first. */
export function madeOf(it: Written | null, entry: number, field: string): Correction[] {
  return (it?.corrections ?? []).filter((one) => one.entry === entry && one.field === field);
}

export function entryOf(it: Written | null, entry: number): WrittenEntry | null {
  return it?.written.find((one) => one.entry === entry) ?? null;
}

/** The command, by what was written into the form; `old` as it was seen. */
export function toSend(entry: number, old: string, form: Form, confirm: boolean): Record<string, unknown> {
  return {
    do: "correct",
    entry,
    field: form.field,
    old,
    new: form.new.trim(),
    reason: form.reason.trim(),
    by: form.by.trim(),
    ...(confirm ? { confirm: true } : {}),
  };
}

/** A lot that was not to be used: taken once somebody says that it did go in. */
const DID_GO_IN = new Set(["lot-blocked", "lot-expired", "lot-used-up"]);

export const wantsConfirming = (code: string): boolean => DID_GO_IN.has(code);

/** The field of the form that a refusal is about; empty for none. */
export function fieldOf(it: Problem): keyof Form | "" {
  const where = it.where.replace(/^body\./, "");
  if (where === "new" || where === "reason" || where === "field" || where === "by") return where;
  if (it.code === "no-operator") return "by";
  if (it.code === "needs-reason") return "reason";
  if (it.code.startsWith("lot-") || ["other-ingredient", "nothing-changed", "bad-text", "changed-meanwhile"].includes(it.code)) return "new";
  return "";
}

const kinds: Record<string, string> = {
  "batch opened": "Batch opened",
  tared: "Vessel tared",
  held: "Held",
  decided: "Decided",
  resumed: "Gone on",
  "addition accepted": "Accepted",
  "lot named": "Lot named",
  "put right": "Pour put right",
  "batch closed": "Batch closed",
  "batch abandoned": "Batch abandoned",
  "step begun": "Step begun",
  "temperature entered": "Temperature entered",
  "temperature struck out": "Temperature struck out",
  "step ended": "Step ended",
  "step decided": "Step decided",
  "step noted": "Note on a step",
  "yield recorded": "Draw recorded",
};
const fields: Record<string, string> = { lot: "Lot", operator: "Operator", reason: "Reason", note: "Note", vessel: "Vessel" };

export const terms = { kinds, fields };

export const corrections = {
  open: "Correct\u2026",
  openOf: (what: string) => `Correct ${what}`,
  title: (what: string) => `Correct: ${what}`,
  lead: "Nothing is edited: what stood here stays in the record, with what you write now beside it.",
  which: "What was wrong?",
  field: (name: string) => {
    const part = /^lot (\d+)$/.exec(name);
    return part ? `Lot ${part[1]}` : (fields[name] ?? name);
  },
  nothing: "none",
  stands: "What stands now",
  new: "What it should be",
  newHint: (field: string) => (field.startsWith("lot") ? "type or scan it; empty for none" : ""),
  why: "Why?",
  whyHint: "it stays in the record",
  by: "Who are you?",
  confirm: "It did go in all the same",
  confirmHint: "A recall needs the truth: the record then says that it was used although it was not to be.",
  send: "Put it right",
  sending: "Putting it right\u2026",
  done: (field: string) => `Put right: ${field.toLowerCase()}.`,
  times: (n: number) => (n === 1 ? "put right" : `put right ${n} times`),
  section: "What was put right afterwards",
  none: "Nothing so far.",
  more: "What else can be put right",
  moreHint: "What follows from the scale, a thermometer or the clock cannot be put right by hand.",
  about: (it: { kind: string; addition?: number | null; name?: string }) =>
    it.addition ? `${it.addition}. ${it.name ?? ""}` : (kinds[it.kind] ?? it.kind),
  /** Which field of what, before what stood and what stands. */
  of: (what: string, field: string) => `${what}: ${field.toLowerCase()}`,
  whenWho: (it: Correction) => `${stamp(it.at)}, ${it.by}`,
  although: (code: string) => (code ? `although: ${code.replaceAll("-", " ")}` : ""),
} as const;
