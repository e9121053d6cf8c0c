// Batches in process: their shape on the wire, what they look like, and every word about them.

import type { Figures } from "./dry-ice.ts";

export type StepState = "waiting" | "running" | "held" | "done";
export type StepStatus = "waiting" | "next" | "running" | "held" | "done" | "accepted";

export interface Caution {
  name: string;
  text: string;
}

/** A published time-temperature pair; `celsius` is rounded up. */
export interface Pair {
  pair: string;
  celsius: string;
  time: string;
  time_s: string;
  source: string;
  status: string;
}

export interface HeatTable {
  id: string;
  name: string;
  note: string;
  notice: string;
  pairs: Pair[];
}

export interface Value {
  n: number;
  temperature: string;
  at: string;
  by: string;
  held_s: string;
  /** The time was said by a person. */
  entered: boolean;
  struck: string;
}

export interface Run {
  begun: string;
  begun_entered: boolean;
  by: string;
  confirmed: string[];
  pair: string;
  dry_ice?: Figures | null;
  values: Value[];
  notes: { text: string; at: string; by: string }[];
  ended: string | null;
  ended_entered: boolean;
  ended_by: string;
  outcome: "done" | "held" | null;
  faults: string[];
  reached: string | null;
  told: string;
  failed: string;
  decision: "repeat" | "accept" | null;
  reason: string;
  decided: string | null;
  decided_by: string;
}

export interface Step {
  n: number;
  kind: string;
  name: string;
  how: string;
  with: string;
  limits: string;
  needs_temperature: boolean;
  cautions: Caution[];
  table: HeatTable | null;
  status: StepStatus;
  runs: Run[];
}

export interface Hold extends Pair {
  since_s: string | null;
  measured_s: string | null;
  satisfied: string | null;
}

export interface Now {
  elapsed_s: string;
  least_s: string | null;
  most_s: string | null;
  met: boolean;
  out: string[];
  awaited: string[];
  hold: Hold | null;
}

export interface InProcess {
  id: string;
  name: string;
  batch_g: string;
  operator: string;
  weighed: string;
  state: StepState;
  step: number | null;
  now: Now | null;
  held: { faults: string[]; told: string; reason: string; heat: boolean; notice: string } | null;
  cooling: { limits: string; source: string; status: string; since_s: string; left_s: string | null } | null;
  can: string[];
  steps: Step[];
}

export interface Process {
  at: string;
  batches: InProcess[];
}

export const NOTHING: Process = { at: "", batches: [] };

// --- the clock ------------------------------------------------------------------------------------

/** Seconds as a clock shows them: 4:05, 1:04:05. Below zero nothing is left. */
export function clock(seconds: number): string {
  const whole = Math.max(0, Math.floor(seconds));
  const hours = Math.floor(whole / 3600);
  const minutes = Math.floor(whole / 60) % 60;
  const two = (n: number) => String(n).padStart(2, "0");
  return hours ? `${hours}:${two(minutes)}:${two(whole % 60)}` : `${minutes}:${two(whole % 60)}`;
}

/** A length of time in whole units. */
export function span(seconds: number): string {
  const whole = Math.max(0, Math.round(seconds));
  if (whole >= 3600 && whole % 3600 === 0) return `${whole / 3600}\u00a0h`;
  if (whole >= 60 && whole % 60 === 0) return `${whole / 60}\u00a0min`;
  return whole < 120 ? `${whole}\u00a0s` : `${Math.round(whole / 60)}\u00a0min`;
}

export interface Timer {
  /** What the big figures say, in seconds; null where nothing counts. */
  seconds: number | null;
  caption: string;
  over: boolean;
}

/** What counts now: a hold that goes on, the time that is left, else the time since it began.
 *  `since` is the seconds since the picture was drawn. */
export function timer(now: Now, since: number): Timer {
  const hold = now.hold;
  if (hold) {
    if (hold.since_s === null) return { seconds: null, caption: process.notHot(hold), over: false };
    return { seconds: Number(hold.since_s) + since, caption: process.holding(hold), over: false };
  }
  const elapsed = Number(now.elapsed_s) + since;
  const least = now.least_s === null ? null : Number(now.least_s);
  const most = now.most_s === null ? null : Number(now.most_s);
  if (least !== null && elapsed < least) {
    return { seconds: least - elapsed, caption: process.until(least), over: false };
  }
  if (most !== null && !now.met) {
    if (elapsed > most) return { seconds: elapsed - most, caption: process.past(most), over: true };
    return { seconds: most - elapsed, caption: process.left(most), over: false };
  }
  return { seconds: elapsed, caption: process.since, over: false };
}

// --- a temperature --------------------------------------------------------------------------------

/** What was typed as a temperature, with its unit; empty where it is no number. */
export function typed(text: string, unit: string): string {
  const plain = text.trim().replace(",", ".").replace("\u2212", "-");
  return /^[-+]?\d{1,4}(\.\d{1,4})?$/.test(plain) ? `${plain} ${unit}` : "";
}

// --- the looks ------------------------------------------------------------------------------------

const looks = {
  waiting: ["waiting", "quiet"],
  next: ["ready", "flow"],
  running: ["settling", "flow"],
  held: ["stop", "over"],
  done: ["good", "good"],
  accepted: ["short", "close"],
} as const;

export const stepLook = (status: StepStatus) => looks[status] ?? looks.waiting;

/** The step that is done now or comes next. */
export const present = (it: InProcess): Step | null => it.steps.find((one) => one.n === it.step) ?? null;

export const newest = (step: Step | null): Run | null => step?.runs.at(-1) ?? null;

/** A number and its unit, not to be broken apart. */
const tied = (text: string) => text.replaceAll(" ", "\u00a0");

// --- the words ------------------------------------------------------------------------------------

const statuses: Record<StepStatus, string> = {
  waiting: "To come",
  next: "Next",
  running: "Going on",
  held: "Held",
  done: "Done",
  accepted: "Kept, with a reason",
};

const faults: Record<string, string> = {
  "too cool": "Too cool",
  "too warm": "Too warm",
  "too short": "Too short",
  "too long": "Too long",
  "too slow": "Too slow",
  failed: "It failed",
};

export const terms = { statuses, faults };

export const process = {
  nav: "In process",
  title: "In process",
  none: "No batch is in process. A batch comes here when all of it is weighed and its formula goes on with steps.",
  back: "All in process",
  over: "It is still being weighed. Its steps come when all of it is weighed.",
  after: "After weighing",
  go: "Go on with the steps",
  weighed: "All weighed",
  weighedMore: (n: number) => (n === 1 ? "One step comes now." : `${n} steps come now. The bench is free for another batch.`),
  nth: (n: number, of: number) => `step ${n} of ${of}`,
  status: (it: StepStatus) => statuses[it] ?? it,
  /** What the station says of a step that was ended. */
  told: (text: string) => text,
  faults: (them: string[]) => them.map((it) => faults[it] ?? it).join(", "),
  plate: (it: InProcess): string => {
    if (it.state === "held") return `Held: ${process.faults(it.held?.faults ?? []).toLowerCase()}`;
    if (it.state === "running") {
      const out = it.now?.out ?? [];
      if (out.length) return process.faults(out);
      if (it.now?.hold?.satisfied) return "Long enough";
      return it.now?.awaited.includes("temperature") ? "Measure" : "Going on";
    }
    return it.state === "waiting" ? "Next" : "Done";
  },
  step: "Steps",
  with: (what: string) => `With ${what}`,
  table: (it: HeatTable) => it.name,
  pairs: "One of these, each by itself. Between them nothing is known:",
  pair: (it: Pair) => `at least ${it.pair.split(",")[0]} (${it.celsius}) for ${it.time}`,
  follow: "Follow",
  whichever: "Whichever is reached",
  source: (it: Pair) => `${it.source}; ${it.status}`,
  cautions: "Before you begin, confirm each by its name",
  begin: "Begin",
  end: "It is done",
  endAnyway: "End it as it is: it will be held",
  /** In the big button's place, while there is nothing to press. */
  awaits: (it: InProcess): string => {
    if (it.now?.out.length) return "Out of its limits";
    if (it.now?.awaited.includes("temperature")) return it.now.hold?.since_s ? "Hold it, then measure again" : "Measure and enter";
    return it.now?.awaited.includes("time") ? "Wait" : "One moment";
  },
  confirmFirst: (left: number) => (left === 1 ? "Confirm one more caution" : `Confirm ${left} cautions`),
  who: "Who",
  whoWrong: "Say who you are: it goes into the record.",
  temperature: "Temperature measured",
  unit: "Unit",
  enter: "Enter",
  wrong: "That is no temperature. Write a number, like 68.5.",
  ago: "Minutes ago",
  agoMore: "if it was measured earlier",
  heldFor: "Held for, seconds",
  heldMore: "nothing colder up to then",
  more: "It was measured earlier",
  moreHeat: "It was measured earlier, or held for a short time",
  values: "Measured",
  noValues: "Nothing measured yet.",
  strike: "Strike out",
  struck: (why: string) => `struck out: ${why}`,
  said: "time as told",
  heldUp: (seconds: string) => `held ${span(Number(seconds))}`,
  holding: (it: Hold) => `of ${tied(it.time)} at ${tied(it.pair.split(",")[0] ?? "")} or more (${tied(it.celsius)})`,
  notHot: (it: Hold) => `not yet at ${it.pair.split(",")[0]} (${it.celsius})`,
  enough: (pair: string) => `What was measured satisfies ${pair}.`,
  measureAgain: "Measure again at the end of the hold: only what was measured counts.",
  until: (least: number) => `to go, at least ${span(least)}`,
  left: (most: number) => `left of ${span(most)}`,
  past: (most: number) => `over ${span(most)}`,
  since: "since it began",
  outOf: (them: string[]) => `${process.faults(them)}: the step will be held when it ends.`,
  heldTitle: "It needs you",
  repeat: "Do it again",
  accept: "Keep it, with a reason",
  fail: "It failed",
  note: "Write a note",
  close: "Close it now",
  discard: "Discard the batch",
  noWaiver: "A heat treatment is not let pass: do it again, or discard the batch.",
  cooling: (limits: string) => `After the heat treatment: cool to ${limits}`,
  coolingLeft: (seconds: number) => (seconds > 0 ? `${clock(seconds)} left` : `${clock(-seconds)} over`),
  local: "Local codes and licensed practice decide what is required.",
  fromStep: "Go back to",
  fromThis: "this step",
  asks: {
    fail: { title: "How did it fail?", what: "The step is held until somebody decides.", quick: ["Boiled over", "The machine stopped", "The power failed"], save: "It failed" },
    repeat: { title: "Why is it done again?", what: "The reason stays in the record.", quick: ["Not hot enough", "Not long enough", "Too slow", "It failed"], save: "Do it again" },
    accept: { title: "Why may it pass?", what: "The reason stays in the record, and the step counts as done.", quick: ["Measured in the wrong place", "Tasted and looked at"], save: "Keep it" },
    close: { title: "Why is it closed early?", what: "The steps that are left are not done.", quick: ["Used as it is", "Goes on elsewhere"], save: "Close the batch" },
    discard: { title: "Discard the batch?", what: "What was done stays in the record. The batch cannot be taken up again.", quick: ["Not safe to eat", "Dropped", "Made in error"], save: "Discard the batch" },
    note: { title: "A note", what: "It stays in the record with your name.", quick: [], save: "Write it down" },
    strike: { title: "What was wrong with it?", what: "It stays in the record, and counts for nothing.", quick: ["Typed wrong", "Measured in the wrong place"], save: "Strike it out" },
  },
  ask: "Why?",
  text: "What?",
  keep: "Go back",
  record: {
    title: "Steps after weighing",
    confirmed: (them: string[]) => `Confirmed: ${them.join(", ")}`,
    begun: (at: string, by: string) => `Begun ${at}, ${by}`,
    ended: (at: string, by: string) => `Ended ${at}, ${by}`,
    reached: (pair: string) => `Satisfies ${pair}`,
    decided: (what: string) => (what === "repeat" ? "Done again" : "Kept"),
    notDone: "Not done",
  },
} as const;
