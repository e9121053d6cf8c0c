// What the page says of scales: what disturbs one, what became of its zero, how it is known. Part of
// words.ts, in a file of its own for its length: a translation brings both.

import type { Scale } from "./frames.ts";
import { massWithUnit, number } from "./numbers.ts";

export const disturbed: Record<string, string> = {
  lift: "The vessel is off the scale",
  "some off": "Something was taken off",
  touch: "Something touches the scale",
  shaking: "The bench is shaking",
  "tare key": "The scale's own tare key was pressed",
  asleep: "The scale went to sleep",
  vessel: "The vessel was changed",
  overload: "Too heavy for the scale",
  under: "The scale shows less than nothing",
  fault: "The scale reports a fault",
  "zero error": "The scale cannot find zero",
  "tare error": "The scale cannot tare",
  "requires calibration": "The scale asks to be calibrated",
  "requires rezeroing": "The scale asks to be zeroed",
};

const counted = { on: (sum: string) => `counted on from ${massWithUnit(sum)}` };
const countedOn = (sum: string) => counted.on(sum);
export const zeroMoves: Record<string, [string, (sum: string) => string]> = {
  "tare key": ["The scale's own tare key was pressed", countedOn],
  "scale at zero": ["The scale was back at zero", countedOn],
  "zeroed empty": ["The vessel was weighed again", (sum) => `${massWithUnit(sum)} were in it`],
};

/** Under the number for as long as the addition lasts in which the scale's zero moved. */
export function zeroMoved(cause: string, sum: string | null): string {
  const [what, from] = zeroMoves[cause] ?? [disturbed[cause] ?? cause, countedOn];
  return sum === null || sum.startsWith("-") ? `${what}.` : `${what}; ${from(sum)}.`;
}

const scaleLinks = { waiting: "Looking for it", live: "Live", silent: "Silent", lost: "Lost" } as const;

const scaleMore = {
  waiting: "Not answered yet. Check its plug and that it is on.",
  live: "",
  silent: "Connected, but sends nothing. Is it on and awake?",
  lost: "Its cable or adapter is out.",
} as const;

export const terms = { disturbed, zeroMoves, scaleLinks, scaleMore, counted };

export const scales = {
  title: "Scales",
  none: "No scale is set up.",
  rest: "About this scale",
  away: (names: readonly string[]) => `Not heard just now: ${names.join(", ")}.`,
  link: (s: Scale) => scaleLinks[s.link],
  max: "Max",
  interval: "Interval",
  driver: "Driver",
  answered: "What answered",
  received: "Readings",
  rejected: "Not understood",
  last: "Last not understood",
  flag: "Scale's own flag",
  steady: "steady",
  moving: "moving",
  noFlag: "none sent",
  over: "Over capacity",
  fault: (f: string) => `No number: ${f}`,
  more: (s: Scale) => scaleMore[s.link],
  learned: "Learned of this scale",
  notLearned: "Nothing yet: it gets quicker with every pour.",
  since: "Since",
  thisStart: "this start",
  noise: "Unsteady at rest by",
  response: "Follows a step in",
  seconds: (s: string) => `${number(s)}\u00a0s`,
  rate: "Readings a second",
  trust: "Its own flag",
  noTrust: "none seen",
  trusted: (share: string) => {
    const percent = Math.round(100 * Number(share));
    return percent <= 10 ? "to be trusted" : `not to be trusted: steady in ${percent}\u00a0% of moving readings`;
  },
  forget: "Forget what was learned",
  forgetSure: "Forget it: this is another scale",
} as const;
