// Which key means what. A key that is held down acts once; a key typed into a field is text.

export type Wish = "primary" | "tare" | "accept" | "top up" | "take out" | "lot" | "take lot" | "sound" | "keys" | "find";

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

const LETTERS: Record<string, Wish> = {
  t: "tare",
  a: "accept",
  u: "top up",
  o: "take out",
  l: "lot",
  k: "take lot",
  s: "sound",
  "?": "keys",
  "/": "find",
};

/** What a press asks for; null where it is not ours. */
export function wish(press: Press, where: Where): Wish | null {
  if (press.repeat || press.ctrlKey || press.metaKey || press.altKey) return null;
  if (where.typing || where.dialog) return null;
  if (press.key === " " || press.key === "Enter") return where.control ? null : "primary";
  return LETTERS[press.key.toLowerCase()] ?? null;
}

/** A wet finger often presses twice: a second press within this time is the same press, in ms. */
export const TWICE_MS = 450;
