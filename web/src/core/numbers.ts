// How a mass is written on the page. The only place that decides it: a translation changes this file
// and words.ts, nothing else.

const MINUS = "\u2212";
const THIN = "\u202f";
const NONE = "\u2013\u2013\u2013";

/** A mass string as it came, grouped from five digits, with a true minus. No rounding. */
export function mass(grams: string | null | undefined): string {
  if (grams === null || grams === undefined) return NONE;
  const match = /^(-?)(\d+)(\.\d+)?$/.exec(grams);
  if (!match) return grams;
  const whole = match[2]!;
  const grouped = whole.length > 4 ? whole.replace(/\B(?=(\d{3})+$)/g, THIN) : whole;
  return (match[1] ? MINUS : "") + grouped + (match[3] ?? "");
}

/** The same with its unit, kept on one line. */
export function massWithUnit(grams: string | null | undefined): string {
  return `${mass(grams)}\u00a0g`;
}

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
export function size(grams: string | null): string {
  return mass(grams === null ? null : grams.replace(/^-/, ""));
}

/** A deviation always shows its sign. */
export function signed(grams: string | null): string {
  if (grams === null) return NONE;
  return grams.startsWith("-") || /^0(\.0*)?$/.test(grams) ? mass(grams) : `+${mass(grams)}`;
}

/** An uncertainty to two significant digits (JCGM 100:2008, 7.2.6: at most two), never as a power. */
export function unsure(grams: string): string {
  const value = Number(grams);
  if (!(value > 0)) return mass(grams);
  const places = Math.max(0, 1 - Math.floor(Math.log10(value)));
  return mass(value.toFixed(Math.min(places, 9)));
}

/** Is this a mass the station takes: plain digits above zero, a dot or a comma between? */
export function typedMass(text: string): string | null {
  const plain = text.trim().replace(",", ".").replace(/[\s\u202f]/g, "");
  return /^\d{1,9}(\.\d{1,6})?$/.test(plain) && Number(plain) > 0 ? plain : null;
}

/** A time of day as the person's own clock shows it; the date too where it is not today. */
export function when(at: string | null, now: Date = new Date()): string {
  if (at === null) return NONE;
  const date = new Date(at);
  if (Number.isNaN(date.getTime())) return at;
  const two = (n: number) => String(n).padStart(2, "0");
  const clock = `${two(date.getHours())}:${two(date.getMinutes())}`;
  if (date.toDateString() === now.toDateString()) return clock;
  return `${date.getFullYear()}-${two(date.getMonth() + 1)}-${two(date.getDate())} ${clock}`;
}

/** Date and time to the second, for the record. */
export function stamp(at: string | null): string {
  if (!at) return NONE;
  const date = new Date(at);
  if (Number.isNaN(date.getTime())) return at;
  const two = (n: number) => String(n).padStart(2, "0");
  return (
    `${date.getFullYear()}-${two(date.getMonth() + 1)}-${two(date.getDate())} ` +
    `${two(date.getHours())}:${two(date.getMinutes())}:${two(date.getSeconds())}`
  );
}
