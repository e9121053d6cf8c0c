// What a scale sends, byte by byte, and what stands where in it.

import { number } from "./numbers.ts";

export type Mark = [what: "status" | "number" | "sign" | "unit" | "check", from: number, to: number];

export interface Report {
  t: number;
  bytes: string[];
  marks: Mark[];
  shown: string | null;
  unit: string | null;
  stable: boolean | null;
  over: boolean;
  fault: string;
}

export interface Wire {
  name: string;
  driver: string;
  shape: Record<string, unknown>;
  reports: Report[];
  rejected: number;
  last_rejected: string[];
}

export interface Piece {
  what: Mark[0] | "";
  /** A sign a byte; one of several letters names a character that cannot be printed. */
  signs: string[];
}

/** A report cut where something begins or ends; what says nothing of the weight stands for itself. */
export function piecesOf(it: Pick<Report, "bytes" | "marks">): Piece[] {
  const out: Piece[] = [];
  let at = 0;
  const upTo = (end: number, what: Piece["what"]) => {
    if (end > at) out.push({ what, signs: it.bytes.slice(at, end) });
    at = Math.max(at, end);
  };
  for (const [what, from, to] of it.marks) {
    upTo(from, "");
    upTo(to, what);
  }
  upTo(it.bytes.length, "");
  return out;
}

const shapes = {
  auto: "It is being worked out from what the scale sends.",
  usb: "As the scale describes its reports itself (USB).",
  named: (name: string) => name,
  own: (name: string) => `${name}, worked out or from a file of your own`,
};

/** By which wire shape a scale is read. */
function shape(it: Wire): string {
  if ("report" in it.shape) return shapes.usb;
  const of = it.shape["shape"];
  if (typeof of === "string") return of === "auto" ? shapes.auto : shapes.named(of);
  return shapes.own(String((of as { name?: unknown } | undefined)?.name ?? ""));
}

export const wire = {
  title: "What it sends",
  shape: "Wire shape",
  shapeOf: shape,
  none: "Nothing is coming just now.",
  waiting: "Listening\u2026",
  hold: "Hold still",
  go: "Go on",
  parts: { status: "how it stands", number: "weight", sign: "sign", unit: "unit", check: "check" } as Record<string, string>,
  read: (it: Report) =>
    it.over
      ? "over capacity"
      : it.shown === null || it.unit === null
        ? `no weight: ${it.fault}`
        : `${number(it.shown)}\u00a0${it.unit}${it.stable === null ? "" : it.stable ? ", steady" : ", moving"}`,
  as: "read as",
  rejected: (n: number) => (n === 1 ? "One report was not understood:" : `${n} reports were not understood. The last:`),
  help: "Nothing is guessed: what does not fit the shape is no weight. Where much is not understood, weighd scales --learn works the shape out.",
};

/** Words that the functions above look up; a translation brings them too. */
export const terms = { shapes };
