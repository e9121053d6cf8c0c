// The first weighing: from nothing to a weighed batch. Its steps, what the station tells of scales that
// are plugged in, and what is said at the board while somebody weighs for the first time.

import { primary, vesselOn } from "./choice.ts";
import type { Addition, Live, Reading } from "./frames.ts";

/** The board is the fourth step; "add" is the first alone, for a station that is set up. */
export const STEPS = ["scale", "you", "formula"] as const;
export type Step = (typeof STEPS)[number];
export type FirstStep = Step | "add";

export type PlaceState = "used" | "listening" | "reading" | "refused" | "unreadable" | "silent" | "trying" | "in vain";

/** Something that is plugged in and may be a scale. */
export interface Place {
  id: string;
  driver: string;
  where: string;
  what: string;
  used: string;
  state: PlaceState;
  why: string;
  /** The udev rule that ships would let it be read. */
  rule: boolean;
  reading?: Pick<Reading, "shown" | "unit" | "grams" | "stable" | "over" | "fault"> | null;
  max_g?: string;
  interval_g?: string;
  step_g?: string;
}

export interface Looked {
  folder: string;
  file: string;
  scales: string[];
  places: Place[];
  faults: string[];
}

export interface Example {
  id: string;
  name: string;
  note: string;
  batch_g: string;
  additions: number;
  steps: number;
  allergens: string[];
}

/** The step that can be shown: without a scale there is nothing to go on with. */
export function stepOf(wanted: FirstStep | null, scales: number, named: boolean): FirstStep {
  if (scales === 0) return "scale";
  return wanted ?? (named ? "formula" : "you");
}

/** What capacity and interval of a place are taken to be before somebody says otherwise. */
export function plateOf(it: Place): { max: string; interval: string } {
  return { max: it.max_g ?? "", interval: it.interval_g || it.step_g || "" };
}

export type Hint = "set down" | "tare" | "pour" | "go on" | "settle" | "short" | "take it" | "over" | "close" | "much" | "held" | "put back" | "take out" | "asks" | "away";

/** What is to be done at the board now, for somebody who does it for the first time. */
export function hintAt(live: Live, past: boolean, there: boolean): Hint {
  if (!there) return "away";
  if (live.phase === "awaiting vessel") {
    if (live.tare_g !== null) return "put back";
    if (primary(live)?.do === "tare") return "tare";
    return vesselOn(live) ? "asks" : "set down";
  }
  const much = (live.to_go_g ?? "").startsWith("-");
  if (live.taking_out) return much ? "take out" : "settle";
  if (live.verdict === "on target" && live.can.includes("accept")) return "take it";
  if (live.phase === "held") return live.verdict === "over" || past ? "over" : "held";
  if (live.phase === "ready") return "pour";
  if (live.phase === "pouring") return "go on";
  if (live.phase === "settling") return "settle";
  if (live.verdict === "on target") return "settle";
  if (live.verdict === "short") return "short";
  return live.verdict === "over" ? "over" : much ? "much" : "close";
}

export const first = {
  title: "First weighing",
  steps: { scale: "Scale", you: "You", formula: "Formula", weigh: "Weigh" },
  nth: (n: number, of: number) => `Step ${n} of ${of}`,
  back: "Back",
  goOn: "Go on",
  notNow: "Not now",
  unfinished: "The first weighing is not done yet.",
  noScale: "No scale is set up yet.",
  setUp: "Set one up",
  weighing: (name: string) => `${name} is being weighed.`,
  toBoard: "To the board",
  lost: "The station does not answer. What was chosen is not lost: it goes on from here when it is back.",
  loading: "One moment\u2026",
  failed: "This part of the page could not be loaded.",
  scale: {
    title: "Which scale?",
    lead: "Plug it in and switch it on. Whatever is found here is listened to.",
    looking: "Looking for scales\u2026",
    serial: "Serial port",
    usb: "USB scale",
    state: {
      used: "This station weighs on it already.",
      listening: "Listening\u2026",
      reading: "It says:",
      refused: "It cannot be opened.",
      unreadable: "It sends something, but nothing that is understood.",
      silent: "It says nothing. It may be switched off, or answer only when it is asked.",
      trying: "Trying the usual speeds, and asking it for a weight. This takes up to a minute.",
      "in vain": "Nothing was understood.",
    } satisfies Record<PlaceState, string>,
    test: "Put something on it. The number has to follow.",
    moving: "moving",
    stable: "steady",
    noNumber: "no number now",
    over: "more than it can weigh",
    use: "Use this scale",
    tryIt: "Try the usual speeds",
    tryAgain: "Try once more",
    rule: "Whoever looks after this computer types these three lines, then plugs the scale in again:",
    again: "Look again",
    none: "No scale is found.",
    checks: [
      "Is it switched on?",
      "Is the cable in this computer? A cable made only for charging does not do.",
      "A round or nine-pin plug needs a USB serial adapter.",
      "Some scales send nothing before it is switched on in their menu. The booklet calls it output, data or print.",
    ],
    plate: "What stands on its plate",
    plateHint: "Beside Max and d. Leave out what is not there.",
    max: "It weighs up to",
    interval: "Its smallest step",
    name: "Call it",
    nameHint: "letters and digits",
    badAmount: "Give grams as a number, like 6000 or 0.1, or leave it out.",
    other: "Another one",
    none_at_hand: "No scale at hand?",
    simulated: "Try it with a simulated scale",
    simulatedMore: "Nothing real is weighed, and every screen says so. A real scale takes its place later, under Settings.",
    opening: "The scale is set up. The station begins anew with it\u2026",
    notBack: "The station has not come back. Look at the window that it was started in.",
    has: (name: string) => `The scale ${name} is set up.`,
    kept: (path: string) => `The choice is written into ${path}. A scale is only ever asked for its weight.`,
    addTitle: "Add a scale",
    addLead: "Plug it in and switch it on. The others stay as they are.",
    addInstead: "Plug it in and switch it on. It takes the simulated one's place.",
  },
  you: {
    title: "Who weighs?",
    lead: "The name goes into the record with everything that is weighed.",
    name: "Name",
    skip: "Leave it out",
    nobody: "no name given",
  },
  formula: {
    title: "What is weighed first?",
    lead: "An invented example, or a list of your own.",
    yours: "Already here",
    examples: "Invented examples",
    examplesMore: "They are made up, for trying this out. One is copied into the kitchen's folder.",
    about: (n: number, steps: number) => `${n} ingredients${steps === 0 ? "" : `, ${steps} steps after weighing`}`,
    list: "A list of your own",
    listMore: "A line for each ingredient, with its grams.",
    listExample: "820 g milk\n140 g sugar\n2.5 g salt",
    listName: "What it makes",
    text: "The list",
    taken: (n: number, sum: string) => `${n} ingredients, ${sum}`,
    fresh: (names: string) => `New here: ${names}. What is in them, and their allergens, can be entered later under Ingredients.`,
    weigh: "Weigh this",
    needsName: "Say what it makes.",
    starting: "Starting\u2026",
    otherSize: "Choose another size",
    listLines: "Lines of the list",
  },
  hints: {
    label: "What to do now",
    "set down": "Set an empty bowl on the scale.",
    tare: "Press the big button: from now on the bowl counts as nothing.",
    pour: (name: string) => `Pour ${name}. Watch the big word: pour, slow, stop.`,
    "go on": "Slower when it says slow. At stop, stop at once.",
    settle: "Hands off. It waits until the scale is at rest.",
    short: "A little is missing. Pour on.",
    "take it": "On target. Press the big button, and it is recorded.",
    over: "Too much went in. Choose below what is done; nothing is lost.",
    close: "Nearly, but the scale cannot be sure. Add a little more.",
    much: "A touch too much for the scale to be sure. Take a little out, or keep it with a reason.",
    held: "Held. The board says why, and what can be done.",
    "put back": "Set the bowl back on the scale.",
    "take out": "Take out with a spoon what is too much.",
    pretendTake: "Take it out",
    asks: "The board asks something first. Read it, then press.",
    away: "The scale is not heard. Is it on, and is its cable in?",
    pretend: "Set the bowl down",
    hold: (name: string) => `Hold \u201cHold to pour\u201d down: it pours ${name}. Let go at stop.`,
    holdSlow: "It pours slower by itself when the word says slow. At stop, let go.",
    holdMore: "A little is missing. Press \u201cHold to pour\u201d for a moment.",
  },
  end: {
    title: "That was the first one",
    held: (n: number) =>
      `In the record now: ${n === 1 ? "one ingredient" : `${n} ingredients`}, each with what went in, its limits, the scale, the time and who weighed. It is signed: a change would show.`,
    simulated: "The record says, too, that the scale was a simulated one.",
    where: "Where to go from here",
    record: "See the record",
    label: "A label for it",
    check: "Scales and their checks",
    another: "Another formula",
    real: "A real scale in its place",
    help: "Every screen is in the menu.",
  },
  settings: {
    title: "Scales",
    add: "Add a scale",
    real: "A real scale in place of the simulated one",
    more: "Only at the station's own computer.",
  },
} as const;

/** How fast a pretend hand pours for somebody who weighs for the first time, in grams a second: what is to
 *  go takes some seconds, and slower once the cue says so. Our own choice. */
export function pretendFlow(toGo: string | null, slow: boolean): string {
  const left = Math.max(0, Number(toGo ?? "0"));
  const [seconds, most] = slow ? [4, 12] : [8, 80];
  return String(Math.min(most, Math.max(0.4, left / seconds)).toFixed(1));
}

/** The sentence of a hint; with pretend hands it says which button they are. */
export function said(hint: Hint, addition: Addition | null, simulated: boolean): string {
  const w = first.hints;
  const name = addition?.name ?? "";
  if (hint === "pour") return simulated ? w.hold(name) : w.pour(name);
  if (hint === "go on" && simulated) return w.holdSlow;
  if ((hint === "short" || hint === "close") && simulated) return w.holdMore;
  return w[hint];
}
