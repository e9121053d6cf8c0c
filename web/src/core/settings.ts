// Which language the page speaks, which unit it shows masses in and for which hand it is laid out: chosen on
// this device, for this device. The record, commands and exports know nothing of it.

import { type Showing, UNITS } from "./locale.ts";

/** Languages by their tag (BCP 47), each by its own name. */
export const LANGUAGES = { en: "English", de: "Deutsch" } as const;
export type Language = keyof typeof LANGUAGES;

const known = (tag: string): Language | null => {
  const language = tag.toLowerCase().split("-")[0]!;
  return language in LANGUAGES ? (language as Language) : null;
};

/** The language kept on this device, else the first that the browser asks for and we have. */
export function languageOf(kept: string, wanted: readonly string[]): Language {
  return known(kept) ?? wanted.map(known).find((it) => it !== null) ?? "en";
}

const USUAL: Record<Language, string> = { en: "en-GB", de: "de-DE" };

/** How numbers and dates are written: as in the browser's own region of that language, if it names one. */
export function tagOf(language: Language, wanted: readonly string[]): string {
  const regional = wanted.find((it) => it.includes("-") && known(it) === language);
  try {
    return regional ? (Intl.getCanonicalLocales(regional)[0] ?? USUAL[language]) : USUAL[language];
  } catch {
    return USUAL[language]; // a browser that names what is no language
  }
}

/** The unit kept on this device, else grams. */
export const showingOf = (kept: string): Showing => UNITS.find((it) => it === kept) ?? "g";

/** The hand that pours: what is read lies away from its arm, what is pressed beside it on its side. */
export const HANDS = ["right", "left"] as const;
export type Hand = (typeof HANDS)[number];
export const handOf = (kept: string): Hand => HANDS.find((it) => it === kept) ?? "right";

export const settings = {
  title: "Settings",
  lead: "For this device only.",
  language: "Language",
  units: "Masses are shown in",
  unit: {
    g: "grams",
    "g-kg": "grams, kilograms from 1\u00a0kg on",
    kg: "kilograms",
    oz: "ounces (avoirdupois)",
    lb: "pounds (avoirdupois)",
  } satisfies Record<Showing, string>,
  unitsMore: "Only what is shown changes. The record, its exports and what you type without a unit stay in grams; limits are rounded inward.",
  short: (showing: Showing) => (showing === "g-kg" ? "kg" : showing),
  /** At the foot of every screen, where masses are not shown in grams. */
  note: (unit: string) => `Shown in ${unit}; recorded in grams.`,
  example: "A sample",
  hand: "The hand that pours",
  hands: { right: "The right one", left: "The left one" } satisfies Record<Hand, string>,
  handMore:
    "The board lies away from the arm that pours, the list and what is pressed beside it on its side. The screen stands best on the other side of the scale: where the left hand pours, to the right of it.",
  /** Where the station's own words are not translated. */
  english: "What the station or the kitchen itself wrote stays in its own language.",
};
