// How numbers, times and masses are written here: the language chosen, and the unit liked. Set once,
// before anything is drawn; a change draws the page anew.

/** Units a mass can be shown in. `g-kg` is grams below a kilogram and kilograms from there on. */
export const UNITS = ["g", "g-kg", "kg", "oz", "lb"] as const;
export type Showing = (typeof UNITS)[number];
export type Unit = Exclude<Showing, "g-kg">;

interface Way {
  /** For Intl: language, with the region where the browser names one. */
  tag: string;
  /** Between whole and part. */
  mark: string;
  showing: Showing;
}

export const way: Way = { tag: "en-GB", mark: ".", showing: "g" };

/** From now on numbers and times are written as in `tag`, masses in `showing`. */
export function writeAs(tag: string, showing: Showing): void {
  const parts = new Intl.NumberFormat(tag).formatToParts(1.5);
  way.tag = tag;
  way.mark = parts.find((it) => it.type === "decimal")?.value ?? ".";
  way.showing = showing;
}

/** The unit that a mass of this size is shown in. */
export function unitFor(grams: string | null | undefined): Unit {
  if (way.showing !== "g-kg") return way.showing;
  return /^-?0*[1-9]\d{3,}/.test(grams ?? "") ? "kg" : "g";
}

/** Rules for one and many: "one", "few", "other" as the language has them. */
export const plural = (n: number): Intl.LDMLPluralRule => new Intl.PluralRules(way.tag).select(n);

const clockOf: Intl.DateTimeFormatOptions = { hour: "2-digit", minute: "2-digit" };
export const TO_SECONDS: Intl.DateTimeFormatOptions = { ...clockOf, second: "2-digit" };
const dayOf = (tag: string): Intl.DateTimeFormatOptions =>
  // English writes 11/12 for two different days: the month is a word there.
  tag.startsWith("en") ? { day: "numeric", month: "short", year: "numeric" } : { day: "2-digit", month: "2-digit", year: "numeric" };

/** What is not known. */
export const NONE = "\u2013\u2013\u2013";
const written = (date: Date, how: Intl.DateTimeFormatOptions) => new Intl.DateTimeFormat(way.tag, how).format(date);

/** Day and time with nothing but a space between, where a line may end. */
const both = (date: Date, clock: Intl.DateTimeFormatOptions) => `${written(date, dayOf(way.tag))} ${written(date, clock)}`;

/** A time of day as the person's own clock shows it; the date too where it is not today. */
export function when(at: string | null, now: Date = new Date(), clock = clockOf): string {
  if (at === null) return NONE;
  const date = new Date(at);
  if (Number.isNaN(date.getTime())) return at;
  if (date.toDateString() === now.toDateString()) return written(date, clock);
  return both(date, clock);
}

/** Date and time to the second, for the record. */
export function stamp(at: string | null): string {
  if (!at) return NONE;
  const date = new Date(at);
  return Number.isNaN(date.getTime()) ? at : both(date, TO_SECONDS);
}

/** A day without a time, as it stands on a pack; what is no day stays as it came. */
export function day(text: string): string {
  const found = /^(\d{4})-(\d{2})-(\d{2})$/.exec(text);
  if (!found) return text;
  const date = new Date(Number(found[1]), Number(found[2]) - 1, Number(found[3]));
  return Number.isNaN(date.getTime()) ? text : written(date, dayOf(way.tag));
}
