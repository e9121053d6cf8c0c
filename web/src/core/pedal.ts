// A foot pedal that sends a key: which keys it may send, how one is told again, and when a press counts.
// That pedals send a key as a keyboard does, often a letter, Page Down, Enter or a function key, or a click
// of the mouse: common practice, no source.

import { ROWS, type Wish, nameOfKey } from "./keys.ts";
import { GAP_MS } from "./wedge.ts";

export interface PedalKey {
  key: string;
  /** Where it lies on a keyboard, whatever is written on it; empty where the browser does not say. */
  code: string;
  ctrlKey: boolean;
  altKey: boolean;
  shiftKey: boolean;
  metaKey: boolean;
}

export type Why = "tab" | "escape" | "arrow" | "modifier" | "lock" | "browser" | "unknown" | "several" | "mouse";

const MODIFIERS = ["Shift", "Control", "Alt", "Meta", "AltGraph", "Fn", "Hyper", "Super", "OS"];
const LOCKS = ["CapsLock", "NumLock", "ScrollLock", "FnLock", "SymbolLock"];
/** What browsers do with these by themselves: help, find, reload, the whole screen and the like. */
const BROWSERS = ["F1", "F3", "F5", "F6", "F7", "F10", "F11", "F12", "ContextMenu", "PrintScreen", "Backspace", "Delete"];

export const isModifier = (key: string): boolean => MODIFIERS.includes(key);

/** What is wrong with a key as a pedal's; null where nothing is. */
export function refusedKey(it: PedalKey): Why | null {
  if (it.key === "Tab") return "tab";
  if (it.key === "Escape") return "escape";
  if (it.key.startsWith("Arrow")) return "arrow";
  if (isModifier(it.key)) return "modifier";
  if (LOCKS.includes(it.key)) return "lock";
  if (["", "Unidentified", "Process", "Dead"].includes(it.key)) return "unknown";
  if (BROWSERS.includes(it.key) || it.key.startsWith("Browser") || it.key.startsWith("Launch")) return "browser";
  // Together with Ctrl, Alt or Meta nearly every other key is the browser's or the system's.
  const held = it.ctrlKey || it.altKey || it.metaKey;
  return held && !/^F(?:[289]|1[3-9]|2[0-4])$/.test(it.key) ? "browser" : null;
}

export const keyOf = ({ key, code, ctrlKey, altKey, shiftKey, metaKey }: PedalKey): PedalKey => ({ key, code, ctrlKey, altKey, shiftKey, metaKey });

/** Whether a press is the pedal's: by where the key lies, else by what it says, with the same modifiers. */
export function isPedal(pedal: PedalKey | null, press: PedalKey): boolean {
  if (pedal === null) return false;
  const same = pedal.code && press.code ? pedal.code === press.code : pedal.key.toLowerCase() === press.key.toLowerCase();
  return same && pedal.ctrlKey === press.ctrlKey && pedal.altKey === press.altKey && pedal.shiftKey === press.shiftKey && pedal.metaKey === press.metaKey;
}

/** What was kept on this device; null where it is no key, or one that may not be one. */
export function readPedal(kept: string): PedalKey | null {
  try {
    const it = JSON.parse(kept) as Record<string, unknown>;
    const { key, code } = it;
    if (typeof key !== "string" || typeof code !== "string") return null;
    const found = { key, code, ctrlKey: it["ctrlKey"] === true, altKey: it["altKey"] === true, shiftKey: it["shiftKey"] === true, metaKey: it["metaKey"] === true };
    return refusedKey(found) === null ? found : null;
  } catch {
    return null;
  }
}

/** The key as it would stand in the table of keys; empty where modifiers make it another. */
export function plainKey(it: PedalKey | null): string {
  if (it === null || it.ctrlKey || it.altKey || it.metaKey) return "";
  return it.key.length === 1 ? it.key.toLowerCase() : it.key;
}

/** What the key meant before, besides the big button. */
export const takenFrom = (it: PedalKey): Wish[] => ROWS.filter((row) => row.wish !== "primary" && row.keys.includes(plainKey(it))).map((row) => row.wish);

export const nameOf = (it: PedalKey): string =>
  [it.ctrlKey && "Ctrl", it.altKey && "Alt", it.shiftKey && it.key.length > 1 && "Shift", it.metaKey && "Meta", nameOfKey(it.key)].filter(Boolean).join(" + ");

/** A foot comes down on what the eye saw: what has come since is not meant by it, in ms. */
export const SETTLE_MS = 500;

/** Whether a press may act. `t`: when; `changed`: when what it would do last became another thing; `typed`: when
 *  the character before it came. All in ms. */
export function counts(t: number, changed: number, typed: number, character: boolean): boolean {
  if (t - changed < SETTLE_MS) return false;
  return !character || t - typed > GAP_MS;
}

// --- the words ------------------------------------------------------------------------------------

const refused: Record<Why, string> = {
  tab: "Tab goes from field to field, and cannot be the pedal. Set the pedal to send another key.",
  escape: "Esc closes what is open, and cannot be the pedal. Set the pedal to send another key.",
  arrow: "The arrow keys choose and scroll, and cannot be the pedal. Set the pedal to send another key.",
  modifier: "That is a key that is held with others, and does nothing alone. Set the pedal to send another key.",
  lock: "That key changes how others are typed, and cannot be the pedal. Set the pedal to send another key.",
  browser: "That key belongs to the browser or edits text, and cannot be the pedal. Set the pedal to send another key: F8, or Page Down.",
  unknown: "The browser does not say which key that was. Set the pedal to send another key.",
  several: "That were several keys, one after the other: a scanner, or a pedal with a text in it. A pedal has to send one.",
  mouse: "That was a click of the mouse, which goes where the pointer is. Set the pedal to send a key.",
};

export const terms = { refused };

export const pedal = {
  title: "Foot pedal",
  lead: "A pedal that sends a key can be the big button, on this device, wherever a board is shown.",
  rules: "It does nothing while somebody types or a sheet is open, while it is held down, and within half a second of something new on the board.",
  learn: "Learn the pedal",
  other: "Learn another",
  press: "Press the pedal",
  pressMore: "The page waits for one key.",
  is: "The pedal sends",
  test: "Press it: it is heard here.",
  heard: (n: number) => (n === 1 ? "Heard once." : `Heard ${n} times.`),
  held: "It is held down.",
  instead: (what: string) => `This key no longer does: ${what}.`,
  enter: "On a board this key now presses the big button only, whichever button there has the focus.",
  forget: "Forget the pedal",
  forgotten: "Forgotten. No key is the pedal.",
  refused: (why: Why) => terms.refused[why],
} as const;
