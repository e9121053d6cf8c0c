// How a mass is written on the page: the only place that decides it. What is shown has the digits of the
// record; where another unit is liked, it is converted by whole numbers, never by binary fractions.

import { NONE, type Unit, unitFor, way } from "./locale.ts";

export { day, NONE, stamp, unitFor, when } from "./locale.ts";

const MINUS = "\u2212";
const THIN = "\u202f";
const NBSP = "\u00a0";

/** Billionths of a gram in a unit. The avoirdupois ounce is 28.349523125 g and the pound 453.59237 g
 *  exactly (NIST Handbook 44, appendix C). */
const NANOGRAMS: Record<Unit, bigint> = {
  g: 1_000_000_000n,
  kg: 1_000_000_000_000n,
  oz: 28_349_523_125n,
  lb: 453_592_370_000n,
};

/** Decimal places more than in grams: the least with which one step in grams still shows. */
const FINER: Record<Unit, number> = { g: 0, kg: 3, oz: 2, lb: 3 };

type Rounding = "nearest" | "up" | "down";

/** A plain number as the language writes it: its decimal mark, a true minus, grouped from five digits.
 *  No rounding. Groups are parted by a thin space in every language (SI brochure, 5.4.4): a dot and a
 *  comma are both read as the decimal mark where something is typed, so neither may part groups. */
export function number(text: string | null | undefined): string {
  if (text === null || text === undefined) return NONE;
  const match = /^([-\u2212]?)(\d+)(?:\.(\d+))?$/.exec(text);
  if (!match) return text;
  const whole = match[2]!;
  const grouped = whole.length > 4 ? whole.replace(/\B(?=(\d{3})+$)/g, THIN) : whole;
  return (match[1] ? MINUS : "") + grouped + (match[3] === undefined ? "" : way.mark + match[3]);
}

/** Every number in a short text as the language writes it: "68.5 °C", "-5". */
export function numbers(text: string): string {
  return text.replace(/[-\u2212]?\d+\.\d+|[-\u2212]\d+/g, (found, at: number) => {
    const before = text[at - 1] ?? "";
    // A hyphen between words or in a date is no minus.
    if (/[-\u2212]/.test(found[0]!) && /[\p{L}\d]/u.test(before)) return found;
    return number(found);
  });
}

/** A mass in grams as digits in `unit`, to so many places; null where it is no plain number. */
function converted(grams: string, unit: Unit, places: number, rounding: Rounding): string | null {
  const match = /^(-?)(\d+)(?:\.(\d+))?$/.exec(grams);
  if (!match) return null;
  const digits = match[3] ?? "";
  const size = BigInt(match[2]! + digits) * 10n ** BigInt(9 + places);
  const divisor = NANOGRAMS[unit] * 10n ** BigInt(digits.length);
  const below = match[1] !== "";
  let count = size / divisor;
  if (rounding === "nearest") count = (2n * size + divisor) / (2n * divisor);
  else if (size % divisor !== 0n && (rounding === "up") !== below) count += 1n;
  const text = written(count, places, places);
  return below && count > 0n ? `-${text}` : text;
}

const placesOf = (grams: string, unit: Unit) => (grams.split(".")[1] ?? "").length + FINER[unit];

/** A mass of the record, given in grams, as digits in the unit that is shown. In grams: as it came. */
export function mass(grams: string | null | undefined, unit: Unit = unitFor(grams), rounding: Rounding = "nearest"): string {
  if (grams === null || grams === undefined || unit === "g") return number(grams);
  return number(converted(grams, unit, placesOf(grams, unit), rounding) ?? grams);
}

/** The same with its unit, kept on one line. */
export function massWithUnit(grams: string | null | undefined, unit: Unit = unitFor(grams)): string {
  return `${mass(grams, unit)}${NBSP}${unit}`;
}

/** What lies between two limits: digits of both, and their unit. Rounded inward, to what a display with
 *  this interval can show and then to the unit shown: a limit on the page allows nothing that the record
 *  does not. */
export function between(low: string, high: string, interval: string | null): [string, string, Unit] {
  const [from, to] = withinSteps(low, high, interval);
  const unit = unitFor(to);
  return [mass(from, unit, "up"), mass(to, unit, "down"), unit];
}

/** A number of grams, for a drawing only, in the unit shown. */
export const drawn = (grams: number, unit: Unit): number => (grams * 1e9) / Number(NANOGRAMS[unit]);

/** Limits as a display with this interval can show them: rounded inward, so that every number that can
 *  stand on the scale lies within both or neither. As they came where a text is not of that kind. */
export function withinSteps(low: string, high: string, interval: string | null): [string, string] {
  const places = Math.max(...[low, high, interval ?? ""].map((text) => (text.split(".")[1] ?? "").length));
  const parts = [low, high, interval ?? ""].map((text) => units(text, places));
  const [least, most, step] = parts;
  if (least == null || most == null || step == null || step <= 0n || least < 0n) return [low, high];
  const [up, down] = [((least + step - 1n) / step) * step, (most / step) * step];
  if (up > down) return [low, high]; // the scale is too coarse for these limits: show them as they are
  const shown = (interval!.split(".")[1] ?? "").length;
  return [written(up, places, shown), written(down, places, shown)];
}

/** A mass to the nearest step that a display with this interval can show, halves away from zero; as it
 *  came where a text is not of that kind. What is still to go is no better known than that. */
export function inSteps(grams: string | null, interval: string | null | undefined): string | null {
  if (grams === null || !interval) return grams;
  const places = Math.max(...[grams, interval].map((text) => (text.split(".")[1] ?? "").length));
  const [value, step] = [units(grams, places), units(interval, places)];
  if (value === null || step === null || step <= 0n) return grams;
  const [below, size] = [value < 0n, value < 0n ? -value : value];
  const steps = ((2n * size + step) / (2n * step)) * step;
  const text = written(steps, places, (interval.split(".")[1] ?? "").length);
  return below && steps > 0n ? `-${text}` : text;
}

/** A plain number as a count of its smallest decimal places: "1.5" to three places is 1500. */
function units(text: string, places: number): bigint | null {
  const match = /^(-?)(\d+)(?:\.(\d+))?$/.exec(text);
  if (!match) return null;
  const size = BigInt(match[2]! + (match[3] ?? "").padEnd(places, "0"));
  return match[1] ? -size : size;
}

function written(count: bigint, places: number, shown: number): string {
  const digits = count.toString().padStart(places + 1, "0");
  const whole = digits.slice(0, digits.length - places);
  const rest = digits.slice(digits.length - places).slice(0, shown);
  return rest ? `${whole}.${rest}` : whole;
}

/** The size of a mass without its sign: "over by 12.4". */
export function size(grams: string | null, unit?: Unit): string {
  return mass(grams === null ? null : grams.replace(/^-/, ""), unit);
}

/** The same with its unit. */
export const sizeWithUnit = (grams: string | null): string => massWithUnit(grams === null ? null : grams.replace(/^-/, ""));

const plus = (text: string, shown: string) => (text.startsWith("-") || /^0(\.0*)?$/.test(text) ? shown : `+${shown}`);

/** A deviation always shows its sign. */
export function signed(grams: string | null): string {
  return grams === null ? NONE : plus(grams, mass(grams));
}

export const signedWithUnit = (grams: string | null): string => `${signed(grams)}${NBSP}${unitFor(grams)}`;

/** A number that is no mass, with its sign. */
export const signedNumber = (text: string): string => plus(text, number(text));

/** An uncertainty to two significant digits (JCGM 100:2008, 7.2.6: at most two), never as a power. */
export function unsureNumber(text: string): string {
  const value = Number(text);
  if (!(value > 0)) return number(text);
  return number(value.toFixed(significant(value)));
}

const significant = (value: number) => Math.min(9, Math.max(0, 1 - Math.floor(Math.log10(value))));

/** The same of a mass, in the unit shown. */
export function unsure(grams: string): string {
  const unit = unitFor(grams);
  const value = drawn(Number(grams), unit);
  if (unit === "g" || !(value > 0)) return unsureNumber(grams);
  return number(converted(grams, unit, significant(value), "nearest") ?? value.toFixed(significant(value)));
}

export const unsureWithUnit = (grams: string): string => `${unsure(grams)}${NBSP}${unitFor(grams)}`;

/** Is this a mass the station takes: plain digits above zero, a dot or a comma between? */
export function typedMass(text: string): string | null {
  const plain = text.trim().replace(",", ".").replace(/[\s\u202f]/g, "");
  return /^\d{1,9}(\.\d{1,6})?$/.test(plain) && Number(plain) > 0 ? plain : null;
}

