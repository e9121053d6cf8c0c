// Every word the page says, in English. The station sends codes; the words are made here (and in
// the files that texts.ts names). A translation is a folder of words of the same shape, put over these
// (translation.ts): no sentence is put together elsewhere.

import { checks } from "./checks.ts";
import type { Cause, Cue, Live, Phase, Verdict } from "./frames.ts";
import { disturbance, standing, vesselOn } from "./choice.ts";
import { massWithUnit, sizeWithUnit, unsureWithUnit, between } from "./numbers.ts";
import { lots } from "./lots.ts";
import { notice, refusal } from "./refusals.ts";
import { pantry } from "./pantry.ts";
import { planned } from "./plan.ts";
import { process } from "./process.ts";
import { recovery } from "./recovery.ts";
import { simulation } from "./simulation.ts";
import { outOf, vessels } from "./vessels.ts";
import { settings } from "./settings.ts";
import { disturbed, scales, zeroMoved, zeroMoves } from "./scales.ts";

const verdicts: Record<Verdict, string> = {
  short: "Short",
  "on target": "On target",
  over: "Over",
  "too close to call": "Too close to call",
};

const phases: Record<Phase, string> = {
  "awaiting vessel": "No vessel yet",
  ready: "Ready to pour",
  pouring: "Pouring",
  settling: "Settling",
  judged: "Weighed",
  held: "Needs you",
};

const causes: Record<Cause, string> = {
  over: "Over",
  short: "Short",
  "too close to call": "Too close to call",
  "scale lost": "Scale lost",
  "scale silent": "Scale silent",
  "scale at zero": "Scale at zero",
};

const acts = {
  tare: "Tare",
  accept: "Accept",
  "top up": "Top up",
  "take out": "Take some out",
  "accept with reason": "Keep it as it is\u2026",
  resume: "Nothing was added: go on",
  "weigh again": "Weigh the vessel again",
  "tare another": vessels.another,
} as const;

const waits: Record<string, string> & Record<"held" | "lift" | "disturbed" | "past" | "short", string> = {
  "awaiting vessel": "Set the vessel on the scale",
  ready: "Pour",
  pouring: "Pour up to the notch",
  past: "Stop: too much",
  settling: "Wait: it is settling",
  judged: "One moment",
  short: "Pour more",
  held: "One moment",
  "scale lost": "Plug the scale in",
  "scale silent": "Wake the scale",
  lift: "Set the vessel back",
  overload: "Take some off the scale",
  shaking: "Wait until the bench is still",
  disturbed: "Leave the scale alone for a moment",
};

/** One short word each: it stands as large as its bar is high, and must not break in two. */
const cues: Record<Cue, string> = { pour: "Pour", slow: "Slow", stop: "Stop" };
const cuePlates: Record<Cue, string> = { pour: phases.pouring, slow: "Slow down", stop: "Stop" };

const list: Record<string, string> = {
  "batch opened": "Batch opened",
  tared: "Tared",
  held: "Held",
  decided: "Decided",
  resumed: "Went on",
  "zero moved": "Zero moved",
  "lot named": "Lot named",
  "addition accepted": "Addition accepted",
  "all weighed": "All weighed",
  "step begun": "Step begun",
  "temperature entered": "Temperature entered",
  "temperature struck out": "Temperature struck out",
  "step ended": "Step ended",
  "step decided": "Held step decided",
  "step noted": "Note",
  "clock set": "The computer's clock was set",
  "batch closed": "Batch finished",
  "yield recorded": "What came out of it was put right",
  "batch abandoned": "Batch abandoned",
  restarted: "Station restarted",
  "put right": "Put right", corrected: "Put right in the record",
};

export const words = {
  title: "Weighing station",
  banners: "Messages of the station",
  legal: "Not a legal-for-trade instrument.",
  nav: { bench: "Weigh", formulas: pantry.nav, lots: lots.nav, records: "Records", scales: "Scales", label: "Screens" },
  pantry,
  lots,
  menu: "Menu",
  close: "Close",
  cancel: "Cancel",
  loading: "One moment\u2026",
  again: "Try again",
  noAnswer: "The station does not answer.",
  unreachable: "The station did not answer. Nothing was changed that it did not confirm.",

  link: {
    connecting: "Finding the station\u2026",
    lost: "No connection to the station",
    plate: "No connection",
    lostMore: "The weight shown here has stopped. It comes back by itself when the station answers.",
    retry: "Try now",
    live: "Live",
  },
  store: "The record cannot be written. Nothing is accepted until this is put right.",
  dismiss: "Put away",
  sound: {
    name: "Sound",
    on: "Sound is on",
    off: "Sound is off",
    asleep: "Sound is on: touch the page once, the browser asks for it",
  },
  notice,
  refusal,

  start: {
    title: "What are you making?",
    none: "No formulas yet. Put formula files into the station's formula folder.",
    problems: "Formula files that cannot be used",
    problem: (file: string, line: number | null, field: string) =>
      [file, line === null ? "" : `line ${line}`, field].filter(Boolean).join(", "),
    additions: (n: number) => (n === 1 ? "1 addition" : `${n} additions`),
    noAllergens: "No allergens listed",
    batch: "Batch size",
    batchWrong: "Give the batch size as a number of grams above zero, or like 5 L at 30 %.",
    operator: "Who is weighing",
    operatorWrong: "Say who is weighing: it goes into the record.",
    scale: "Scale",
    target: "Target",
    start: "Start",
    choose: "Choose a formula to see what goes in.",
    open: (name: string) => `${name} is still open.`,
    goOn: "Go on with it",
    back: "All formulas",
    unjudgeable: "This scale is too coarse to judge it",
  },

  weigh: {
    nth: (n: number, of: number) => `${n} of ${of}`,
    target: "Target",
    /** `interval`: of the scale the limits are for; null where they are to stand as they are. */
    between: (low: string, high: string, interval: string | null) => {
      const [from, to, unit] = between(low, high, interval);
      return `${from} to ${to}\u00a0${unit}`;
    },
    toGo: "to go",
    overBy: "too much",
    onScale: "on the scale",
    inVessel: "in the vessel",
    of: (target: string) => `of ${massWithUnit(target)}`,
    additions: "Additions",
    lot: "Lot",
    noLot: "none yet",
    allergens: (list: string) => `Contains ${list}`,
    batch: (g: string, who: string) => (who ? `${massWithUnit(g)} batch, ${who}` : `${massWithUnit(g)} batch`),
    stable: "scale says steady",
    moving: "scale says moving",
    unjudgeable: "This scale is too coarse to judge this addition.",
    acceptNet: (net: string | null) => (net === null ? acts.accept : `Accept ${massWithUnit(net)}`),
    tareFirst: "Tare: vessel is on",
    sending: "Sending\u2026",
    tareAnyway: "It is on, tared by the scale's own key: tare",
    resumeEmpty: "Nothing was in: go on",
    resumeAbout: "Go on from about that much",
    zeroMoved,
    perhapsOn: "Is it on the scale all the same? Then that was zeroed under it: lift it off, and set it back.",
    drift: (g: string) =>
      g.startsWith("-") ? `Losing ${sizeWithUnit(g)} a minute.` : `Gaining ${sizeWithUnit(g)} a minute.`,
  },

  act: (what: keyof typeof acts, verdict: Verdict | null, out = false) =>
    out && what === "take out" ? outOf.back : what === "accept" && verdict !== null && verdict !== "on target" ? acts["accept with reason"] : acts[what],
  /** What stands on the big button while there is nothing to press. */
  waitFor: (live: Live, past: boolean, out = false) => {
    if (live.off) return waits.lift;
    if (live.phase === "held") return waits[live.held?.cause ?? ""] ?? waits.held;
    if (live.lifted) return outOf.lifted;
    const why = disturbance(live);
    if (why) return waits[why] ?? waits.disturbed;
    if (live.taking_out && past) return plateWords.takeOut(sizeWithUnit(live.to_go_g));
    if (live.phase === "pouring" && past) return waits.past;
    if (live.phase === "judged" && live.verdict === "short") return out ? outOf.short : waits.short;
    if (out && live.phase === "ready") return outOf.pour;
    return waits[live.phase] ?? "";
  },
  /** What the cook is told: on the big button's place, where there is nothing to press. */
  cue: (cue: Cue) => cues[cue],
  verdict: (v: string) => verdicts[v as Verdict] ?? v,
  /** The word on the plate. `past`: more is in than the limit allows; `cue`: while one is shown. */
  phase: (live: Live, past: boolean, cue: Cue | null = null, out = false) => plate(live, past, cue, out),
  why: (why: string) => disturbed[why] ?? why,
  cause: (cause: string) => causes[cause as Cause] ?? cause,

  held: {
    over: "Take some out, or keep it with a reason.",
    short: "Top up, or keep it with a reason.",
    righted: "It is within the limits now. Accept it.",
    close: (u: string | null) =>
      u === null
        ? "The scale cannot tell on which side of the limit this is."
        : `The scale is sure to \u00b1${unsureWithUnit(u)} only, and the limit lies inside that.`,
    away: "The scale cannot be heard.",
    lost: "The scale's cable or adapter is out. Plug it in again.",
    silent: "The scale sends nothing. Check that it is switched on and awake.",
    kept: "What was poured so far is kept. Weighing goes on by itself.",
    soFar: (g: string) => `In the vessel so far: ${massWithUnit(g)}.`,
    zero: (sum: string | null) =>
      sum === null
        ? "The scale has gone to zero, and what was in was not recorded."
        : `The scale has gone to zero. ${massWithUnit(sum)} were in.`,
    zeroMore: "If the vessel is on and nothing was added or taken out meanwhile, press the button. If it is off, set it back.",
    zeroOff: "The scale shows less than nothing, so the vessel is off. Set it back.",
    zeroUnknown: "If the vessel is on and nothing of this was in, press the button. If it is off, set it back.",
    zeroPouring: (sum: string, within: string) =>
      `The scale went to zero in mid-pour: its own key may have been pressed. About ${massWithUnit(sum)} were in, give or take ${unsureWithUnit(within)}.`,
    zeroPouringMore: "To know it exactly: take the vessel off, zero the empty scale, set the vessel back. Or press the button and go on from about that much.",
    zeroElse: "Not sure? Take the vessel off, zero the empty scale, and set the vessel back.",
  },

  reason: {
    title: "Keep it as it is",
    over: (g: string | null) => `${sizeWithUnit(g)} too much stays in.`,
    short: (g: string | null) => `${sizeWithUnit(g)} stays missing.`,
    other: "It stays as it was poured.",
    righted: "It is on target now, and needs no reason any more.",
    ask: "Why? It goes into the record.",
    quick: [
      "Cannot be taken out again",
      "Makes no difference to this batch",
      "The rest will be adjusted",
      "No more of it in the house",
    ],
    own: "In your own words",
    needed: "Choose a reason or write one.",
    wait: "Wait: it is settling.",
    save: "Keep it",
  },
  abandon: {
    open: "Abandon batch\u2026",
    title: "Abandon this batch?",
    body: "What was weighed stays in the record. The batch cannot be taken up again.",
    ask: "Why?",
    quick: ["Started by mistake", "Spilled", "Wrong ingredient", "Trial only"],
    save: "Abandon batch",
    keep: "Go on weighing",
  },
  lot: {
    title: (name: string) => `Lot of ${name}`,
    field: "As on the label of the pack",
    save: "Save lot",
    needed: "Type the lot as it stands on the pack.",
  },
  done: {
    title: "Batch finished",
    abandoned: "Batch abandoned",
    record: "Open the record",
    another: "Weigh another",
    all: "All additions on target.",
    some: (n: number) => (n === 1 ? "1 addition was kept off target." : `${n} additions were kept off target.`),
    none: "Nothing was accepted.",
  },
  records: {
    title: "Records",
    none: "No batches yet.",
    more: "Older batches",
    of: (done: number, all: number) => `${done} of ${all} additions`,
    status: (s: string) => ({ open: "Open", "in process": "In process", closed: "Finished", abandoned: "Abandoned" })[s] ?? s,
  },
  record: {
    title: "As-weighed record",
    back: "All records",
    sheet: "Sheet (PDF)",
    table: "Table (CSV)",
    download: "Download JSON",
    print: "Print",
    missing: "There is no such batch.",
    facts: {
      batch: "Batch", formula: "Formula", revision: "Revision", size: "Batch size", operator: "Operator",
      opened: "Opened", closed: "Finished", abandoned: "Abandoned", station: "Station", rule: "Decision rule",
      entries: "Entries", hash: "Last entry's hash", signed: "Signed with key",
    },
    cols: {
      target: "Target", net: "Net", deviation: "Deviation", limits: "Limits", verdict: "Verdict", lot: "Lot",
      scale: "Scale", operator: "Operator", started: "Started", accepted: "Accepted",
      u: "Uncertainty", accepts: "On target within",
      rule: "Decision rule", reason: "Reason", method: "Weighed", tare: "Tare", gross: "Gross",
    },
    interval: (d: string | null) => (d ? `, interval ${massWithUnit(d)}` : ""),
    evidence: (n: number) => `Evidence: ${n} readings`,
    evidenceCols: { used: "Used for", t: "Time, s", grams: "Grams", raw: "Bytes, hex" },
    events: "What was out of the ordinary",
    noEvents: "Nothing: no holds, no restarts.",
    clocks: (how: string[]) => {
      const was: Record<string, string> = { unset: "had lost its time", behind: "was behind what is recorded", ahead: "was far ahead of what is recorded" };
      return `The clock of the station ${how.map((it) => was[it] ?? it).join(", and ")}. Times marked with ? are by it; entries stand in the order in which they were made.`;
    },
    waiting: "Not weighed",
    noLot: "not named",
    event: (kind: string, what: string, sum: string | null) => {
      const head = list[kind] ?? kind;
      if (kind === "put right") return recovery.event(what.split("/")[0]!, what.split("/")[1] ?? "", sum);
      if (kind === "scale changed") return planned.other.event(what);
      if (kind === "tared") return planned.forced(sum);
      const moved = kind === "zero moved" ? zeroMoves[what] : undefined;
      const more = moved?.[0] ?? causes[what as Cause] ?? decided[what] ?? disturbed[what] ?? what;
      const from = moved && sum !== null && !sum.startsWith("-") ? `; ${moved[1](sum)}` : "";
      return more ? `${head}: ${plateWords.within(more)}${from}` : head;
    },
    addition: (n: number) => `addition ${n}`,
  },
  settings,
  scales,
  planned,
  recovery,
  vessels,
  outOf,
  checks,
  process,
  simulation,
} as const;

const decided: Record<string, string> = {
  "weigh again": "weigh the vessel again",
  "top up": "top up",
  "take out": "take some out",
  accept: "keep it as it is",
  "accept with reason": "keep it as it is",
};

const plateWords = {
  question: "Vessel on?",
  takeOut: (g: string) => `Take out ${g}`,
  /** What begins a sentence, in the middle of one. */
  within: (text: string) => text.charAt(0).toLowerCase() + text.slice(1),
};

/** What the plate says of an addition held for one thing that has become another since. */
const since: Record<Verdict, string> = {
  short: "Now short",
  "on target": "Now on target",
  over: "Now over",
  "too close to call": "Now too close to call",
};

function plate(live: Live, past: boolean, cue: Cue | null, out: boolean): string {
  if (live.phase === "held" && live.held) {
    const stands = standing(live);
    return stands === null || stands === live.held.cause ? causes[live.held.cause] : since[stands];
  }
  if (live.verdict && live.phase === "judged") return verdicts[live.verdict];
  if (live.lifted) return outOf.plates.lifted;
  const why = disturbance(live);
  if (why) return disturbed[why] ?? phases[live.phase];
  if (live.taking_out && past) return out ? outOf.back : acts["take out"];
  if (out && live.phase === "ready") return outOf.plates.ready;
  if (out && live.phase === "awaiting vessel" && !vesselOn(live)) return outOf.plates.none;
  if (live.phase === "awaiting vessel" && vesselOn(live)) return plateWords.question;
  if (live.phase === "pouring" && cue !== null) return cuePlates[cue];
  return phases[live.phase];
}

/** Words that the functions above look up; a translation brings them too. */
export const terms = { verdicts, phases, causes, acts, waits, cues, cuePlates, list, decided, since, plateWords };
