// Which key means what, where, and whether it does anything now: one table, by which keys act and by which the
// list of keys is made. A key that is held down acts once; a key typed into a field is text.

import type { Can } from "./frames.ts";
import type { Route } from "./routes.ts";

export type Wish = "primary" | "tare" | "temperature" | "accept" | "top up" | "take out" | "lot" | "take lot" | "way" | "sound" | "find" | "keys" | "shut";

export interface Press {
  key: string;
  repeat: boolean;
  ctrlKey: boolean;
  metaKey: boolean;
  altKey: boolean;
}

export interface Where {
  /** The press went into a field that takes text, or a list of choices. */
  typing: boolean;
  /** The press went to a button or link other than the big button: Space and Enter are its own. */
  control: boolean;
  /** A dialog is open: only its own keys count. */
  dialog: boolean;
}

/** What is there for keys to act on. */
export interface At {
  screen: Route["screen"];
  /** There is a big button, and it can be pressed. */
  big: boolean;
  /** What the station says it would take; nothing while it is not heard. */
  can: readonly Can[];
  /** There is a lot that comes first. */
  first: boolean;
  /** How many ways there are to put a pour right. */
  ways: number;
  /** There is a field for a temperature. */
  measures: boolean;
}

interface Row {
  wish: Wish;
  keys: readonly string[];
  /** Screens on which it means anything; all where none are named. */
  on?: readonly Route["screen"][];
  does(at: At): boolean;
}

/** Screens with a big button that keys press. */
export const BOARDS: readonly Route["screen"][] = ["bench", "check", "process"];
const may = (what: Can) => (at: At) => at.can.includes(what);

export const ROWS: readonly Row[] = [
  { wish: "primary", keys: [" ", "Enter"], on: BOARDS, does: (at) => at.big },
  { wish: "tare", keys: ["t"], on: ["bench"], does: may("tare") },
  { wish: "temperature", keys: ["t"], on: ["process"], does: (at) => at.measures },
  { wish: "accept", keys: ["a"], on: ["bench"], does: (at) => may("accept")(at) || may("accept with reason")(at) },
  { wish: "top up", keys: ["u"], on: ["bench"], does: may("top up") },
  { wish: "take out", keys: ["o"], on: ["bench"], does: may("take out") },
  { wish: "lot", keys: ["l"], on: ["bench"], does: may("name lot") },
  { wish: "take lot", keys: ["k"], on: ["bench"], does: (at) => at.first && may("name lot")(at) },
  { wish: "way", keys: ["1", "2", "3", "4", "5", "6", "7", "8", "9"], on: ["bench"], does: (at) => at.ways > 0 },
  { wish: "sound", keys: ["s"], does: () => true },
  { wish: "find", keys: ["/"], does: (at) => at.screen !== "find" },
  { wish: "keys", keys: ["?"], does: () => true },
  { wish: "shut", keys: ["Escape"], does: () => true },
];

const here = (row: Row, screen: Route["screen"]) => row.on === undefined || row.on.includes(screen);

/** What a press asks for on this screen; null where it is not ours. */
export function wish(press: Press, where: Where, screen: Route["screen"] = "bench"): Wish | null {
  if (press.repeat || press.ctrlKey || press.metaKey || press.altKey) return null;
  if (where.typing || where.dialog) return null;
  const key = press.key.length === 1 ? press.key.toLowerCase() : press.key;
  const row = ROWS.find((it) => it.keys.includes(key) && here(it, screen));
  // What is open is closed by the browser's own Esc.
  if (row === undefined || row.wish === "shut") return null;
  return row.wish === "primary" && where.control ? null : row.wish;
}

/** Whether a wish would do anything as things are. */
export const possible = (it: Wish, at: At): boolean => ROWS.some((row) => row.wish === it && here(row, at.screen) && row.does(at));

/** All rows, parted by whether they do anything now. `taken`: the key that a pedal has for itself. */
export function listed(at: At, taken = ""): { now: readonly Row[]; not: readonly Row[] } {
  const rows = ROWS.map((row) => ({ ...row, keys: row.keys.filter((key) => key !== taken) })).filter((row) => row.keys.length > 0);
  const now = rows.filter((row) => possible(row.wish, at));
  return { now, not: rows.filter((row) => !now.includes(row)) };
}

/** A wet finger often presses twice: a second press within this time is the same press, in ms. */
export const TWICE_MS = 450;

// --- the words ------------------------------------------------------------------------------------

const names: Record<string, string> = { " ": "Space", Enter: "Enter", Escape: "Esc", PageDown: "Page Down", PageUp: "Page Up", Insert: "Ins", Home: "Home", End: "End" };

const does: Record<Wish, string> = {
  primary: "the big button",
  tare: "tare",
  temperature: "to the field for a temperature",
  accept: "accept",
  "top up": "top up",
  "take out": "take some out",
  lot: "name the lot",
  "take lot": "take the lot that is shown",
  way: "one of the ways to put it right",
  sound: "sound of the cue, on or off",
  find: "find something",
  keys: "this list",
  shut: "close what is open",
};

export const terms = { names, does };

export const keyWords = {
  title: "Keys",
  now: "Now",
  not: "At other times",
  what: (it: Wish) => terms.does[it],
  or: "or",
  to: "to",
  pedal: "the pedal",
  bigNow: (what: string) => `now: ${what}`,
} as const;

/** A key by its name on the keyboard. */
export const nameOfKey = (key: string): string => terms.names[key] ?? (key.length === 1 ? key.toUpperCase() : key);
