// People, PINs and rights: what the station says of them, and the words for it.

import type { May } from "./devices.ts";
import { when } from "./numbers.ts";

export interface Person {
  name: string;
  rights: string[];
  since: string;
  /** When they were retired; empty while they work here. */
  retired: string;
}

/** The answer of api/people. */
export interface People {
  /** Without anybody listed everybody may do everything, and a name typed is enough. */
  listed: boolean;
  people: Person[];
  me: (Person & { left_s: number }) | null;
  rights: { right: string; about: string }[];
  stay_s: number;
  /** The device that asks; null at the station's own computer. */
  device?: { name: string; may: May } | null;
}

export const NOBODY: People = { listed: false, people: [], me: null, rights: [], stay_s: 0 };
export const LOOKS_AFTER = "look after people";

/** The most digits of a PIN, and the fewest. */
export const MOST_DIGITS = 12;
export const FEWEST_DIGITS = 4;

/** A PIN after a key was pressed: digits up to the most there can be, one taken back, all gone. */
export function pressed(pin: string, key: string): string {
  if (/^[0-9]$/.test(key)) return pin.length < MOST_DIGITS ? pin + key : pin;
  if (key === "Backspace") return pin.slice(0, -1);
  return key === "Delete" ? "" : pin;
}

/** What somebody is offered who may not do something: those who may, less whoever is signed in. */
export function helpers(whoMay: string[], me: string): string[] {
  return whoMay.filter((name) => name !== me);
}

/** May whoever is at the page do what needs a right? Where nobody is listed, everybody may. */
export function may(it: People, right: string): boolean {
  return !it.listed || (it.me?.rights.includes(right) ?? false);
}

const names: Record<string, string> = {
  "accept out of tolerance": "Accept out of tolerance",
  correct: "Correct",
  countersign: "Countersign",
  "discard batches": "Discard batches",
  "release lots": "Release lots",
  "change formulas": "Change formulas",
  "look after scales": "Look after scales",
  "look after people": "Look after people",
};
const needs: Record<string, string> = {
  "accept out of tolerance": "Keeping what is out of its limits needs somebody who may.",
  correct: "Putting a record right needs somebody who may.",
  countersign: "Countersigning needs somebody who may.",
  "discard batches": "Giving up a batch, or closing it early, needs somebody who may.",
  "release lots": "This lot needs somebody who may release lots.",
  "change formulas": "Changing formulas, ingredients and limits needs somebody who may.",
  "look after scales": "This needs somebody who may look after scales and vessels.",
  "look after people": "This needs somebody who may look after people.",
};

export const terms = { names, needs };

export const people = {
  title: "People",
  nav: "People",
  signIn: "Sign in",
  signOut: "Sign out",
  who: "Who are you?",
  another: "Somebody else",
  signedIn: (name: string) => `Signed in: ${name}`,
  stays: (seconds: number) => `You stay signed in at this page for ${Math.round(seconds / 60)} minutes after the last thing you did.`,
  pinOf: (name: string) => `PIN of ${name}`,
  digits: (n: number) => (n === 0 ? "No digit yet" : n === 1 ? "1 digit" : `${n} digits`),
  erase: "Erase",
  ok: "OK",
  checking: "One moment",
  waits: (seconds: number) => `Too many wrong PINs. Wait ${seconds} s.`,
  right: (right: string) => names[right] ?? right,
  /** What a right is about, as the station says it. */
  about: (_right: string, told: string) => told,
  allow: {
    title: "Who may do this?",
    body: (right: string) => needs[right] ?? `This needs the right "${right}".`,
    how: "One of them types a PIN, for this one act. The record has both names.",
    sign: "Choose your name and type your PIN.",
    nobody: "Nobody here may do this.",
  },
  none: "Nobody is listed: everybody may do everything, and a name typed is enough.",
  noneMore: "With the first person that changes. They get all rights, and can add the others.",
  lead: "Who works here and what each may do. What is not listed here, everybody on the list may do.",
  all: "All rights",
  noRights: "May weigh, nothing more",
  since: (at: string) => `since ${when(at)}`,
  gone: (at: string) => `retired ${when(at)}`,
  allowedBy: (who: string, by: string) => `${who}, allowed by ${by}`,
  add: "Add somebody",
  addFirst: "Add the first person",
  name: "Name",
  nameHint: "as it is to stand in records",
  pin: "PIN",
  pinHint: "4 to 12 digits, no row and no repetition",
  rights: "Rights",
  save: "Save",
  retire: "Retire",
  retireSure: "Press again to retire",
  retireMore: "Their name stays theirs in records, and nobody else gets it.",
  mayNot: "Only whoever may look after people can change this list.",
  change: "Change",
  you: "you",
  showGone: "Also who was retired",
  countersign: {
    title: "Countersigned",
    none: "Not countersigned.",
    how: "A second person, who had no part in the batch, looks at the whole record and signs it.",
    open: "Countersign",
    sign: "Countersign this record",
    first: "Sign in as somebody who may countersign.",
    name: "Your name",
    note: "Note",
    noteHint: "may be left empty",
    said: (by: string, at: string, upto: number) => `${by}, ${when(at)}, as far as entry ${upto}`,
    later: (n: number) => (n === 1 ? "One entry came later and is not covered." : `${n} entries came later and are not covered.`),
    covers: (entries: number) => `You sign all ${entries} entries above. What is put right later is not covered.`,
  },
} as const;
