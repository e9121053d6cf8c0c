// The floor: what every station does, as it crosses the wire; what of it calls for somebody; and
// every word about it. It is a view: nothing here is pressed, and nothing is taken for live that is old.

import type { Cause, Cue, Phase, ScaleLink, Verdict } from "./frames.ts";
import { plural, TO_SECONDS, when } from "./locale.ts";
import { massWithUnit } from "./numbers.ts";
import { clock, process } from "./process.ts";
import { mapOf, maybe, readTold, shape, string } from "./read.ts";
import type { Told, Wire } from "./link.ts";

export type Standing = "here" | "unconfirmed" | "silent" | "away" | "stopped" | "cut";

export interface Weighed {
  n: number;
  name: string;
  scale: string;
  target_g: string;
  low_g: string;
  high_g: string;
  net_g: string | null;
  phase: Phase;
  why: string;
  verdict: Verdict | null;
  cue: Cue | null;
  held: { cause: Cause; since: string } | null;
  lifted: boolean;
}

export interface Making {
  id: string;
  name: string;
  state: "waiting" | "running" | "held" | "done";
  step: number | null;
  of: number;
  what: string;
  begun: string | null;
  ready_at: string | null;
  late_at: string | null;
  awaited: string[];
  out: string[];
  held: string[] | null;
  cool_by: string | null;
}

export interface Card {
  name: string;
  standing: Standing;
  /** By the clock of the station that watches: since when it stands so, when it last spoke. */
  since: string;
  heard: string;
  /** By the station's own clock, which is `ahead_s` before that of the one that watches. */
  said: string;
  ahead_s: number | null;
  twice: boolean;
  version: string;
  batch: {
    id: string;
    formula: string;
    batch_g: string;
    of: number;
    accepted: number;
    allergens: string[];
    operator?: string;
    addition: Weighed | null;
  } | null;
  last: { id: string; formula: string; status: string; at: string | null } | null;
  steps: { batches: Making[]; more: number } | null;
  scales: { scales: { name: string; link: ScaleLink; why: string; check: { standing: string; barred: boolean; due: string | null } | null }[]; more: number } | null;
  sharing: { state: string; behind: number; since: string | null; code: string } | null;
  notices: { store: { ok: boolean; code: string }; notices: { level: string; code: string; text: string; at: string }[] } | null;
}

export interface FloorState {
  floor: { boot: string; now: string; connected: boolean; why: string; since: string };
  stations: Record<string, Card>;
}

type Change = Partial<{ floor: FloorState["floor"]; stations: Record<string, Card | null> }>;

const card = shape({ name: string, standing: string });
const whole = { floor: shape({ boot: string }), stations: mapOf(card) };
/** In a change, a station that is gone is null. */
const part = { ...whole, stations: mapOf(maybe(card)) };

/** How frames of the floor are read; `clock` is told of the watching station's time in each. */
export const wireOfFloor = (told: (now: string) => void): Wire<FloorState> => ({
  read(text) {
    const frame = readTold(text, whole, part);
    if (typeof frame["now"] === "string") told(frame["now"]);
    return frame as unknown as Told<FloorState>;
  },
  apply(before, change) {
    const { floor, stations } = change as Change;
    const kept: Record<string, Card> = { ...before.stations };
    for (const [name, card] of Object.entries(stations ?? {})) {
      if (card === null) delete kept[name];
      else kept[name] = card;
    }
    return { floor: floor ?? before.floor, stations: stations ? kept : before.stations };
  },
  boot: (it) => it.floor?.boot,
});

// --- what calls for somebody ----------------------------------------------------------------------

export type Rank = "held" | "due" | "trouble" | "weighing" | "waiting" | "idle" | "gone";
const RANKS: readonly Rank[] = ["held", "due", "trouble", "weighing", "waiting", "idle", "gone"];

/** Is what it does shown as done now? `unconfirmed` is about to be heard. */
export const isGone = (it: Card): boolean => it.standing !== "here" && it.standing !== "unconfirmed";

/** Milliseconds of the station's clock, where that of the one that watches shows `now`. */
export const there = (it: Card, now: number): number => now + (it.ahead_s ?? 0) * 1000;

const past = (at: string | null, now: number): boolean => at !== null && Date.parse(at) <= now;

export const isDue = (it: Making, now: number): boolean => past(it.ready_at, now) || past(it.late_at, now) || past(it.cool_by, now);

export function rank(it: Card, now: number): Rank {
  if (isGone(it)) return "gone";
  const makes = it.steps?.batches ?? [];
  if (it.batch?.addition?.held || makes.some((one) => one.held !== null || one.out.length > 0)) return "held";
  if (makes.some((one) => isDue(one, there(it, now)))) return "due";
  if (troubles(it).length > 0) return "trouble";
  if (it.batch) return "weighing";
  return makes.length > 0 ? "waiting" : "idle";
}

/** Who needs somebody first; by name among equals, so that cards keep their places. */
export function ranked(cards: Record<string, Card>, now: number): { card: Card; rank: Rank }[] {
  return Object.values(cards)
    .map((card) => ({ card, rank: rank(card, now) }))
    .sort((a, b) => RANKS.indexOf(a.rank) - RANKS.indexOf(b.rank) || a.card.name.localeCompare(b.card.name, "en"));
}

/** What is wrong with the station itself. */
export function troubles(it: Card): string[] {
  const out: string[] = [];
  if (it.twice) out.push(floor.twice);
  if (it.notices && !it.notices.store.ok) out.push(floor.store);
  for (const one of it.scales?.scales ?? []) {
    if (one.link === "lost" || one.link === "silent") out.push(floor.scale(one.name, one.link));
    else if (one.check?.barred || (one.check && one.check.standing !== "good")) out.push(floor.check(one.name, one.check.standing));
  }
  for (const one of it.notices?.notices ?? []) {
    const cut = one.text.lastIndexOf(" ");
    if (one.code === "lot-below-nothing" && cut > 0) out.push(floor.overdrawn(one.text.slice(0, cut), one.text.slice(cut + 1)));
  }
  if (it.sharing?.state === "stopped") out.push(floor.sharingStopped);
  return out;
}

/** How a step in process stands, in a word, and the time that goes with it. */
export function making(it: Making, now: number): { urgent: boolean; word: string; time: string } {
  if (it.held !== null) return { urgent: true, word: process.faults(it.held) || floor.held, time: "" };
  if (it.out.length > 0) return { urgent: true, word: process.faults(it.out), time: "" };
  for (const at of [it.cool_by, it.late_at, it.ready_at]) {
    if (at !== null && past(at, now)) return { urgent: true, word: floor.due, time: floor.ago(clock((now - Date.parse(at)) / 1000)) };
  }
  const next = [it.ready_at, it.late_at, it.cool_by].filter((at): at is string => at !== null).sort()[0];
  if (next !== undefined) return { urgent: false, word: "", time: clock((Date.parse(next) - now) / 1000) };
  const since = it.begun === null ? "" : clock((now - Date.parse(it.begun)) / 1000);
  return { urgent: false, word: it.state === "waiting" ? floor.next : it.state === "done" ? floor.done : "", time: since };
}

/** Columns and the size of letters (px) with which so many cards fill a screen; cards are read from afar,
 *  so they are made as large as all of them fit. Where they would be too small, the screen scrolls. */
export function laidOut(n: number, width: number, height: number): { columns: number; size: number; fits: boolean } {
  const [em, ex, least, most] = [20, 11.5, 14, 46];
  let best = { columns: 1, size: 0 };
  for (let columns = 1; columns <= Math.max(1, n); columns += 1) {
    const size = Math.min(width / columns / em, height / Math.ceil(n / columns) / ex);
    if (size > best.size) best = { columns, size };
  }
  if (best.size >= least) return { columns: best.columns, size: Math.min(most, best.size), fits: true };
  const columns = Math.max(1, Math.floor(width / (em * least)));
  return { columns, size: Math.min(18, Math.max(least, width / columns / em)), fits: false };
}

/** As many letters of a state's word are whole beside a name. */
export const MOST_LETTERS = 16;

/** How large a station's name stands in its head, in letters of the card (em): as large as is left beside
 *  the word of its state, which is whole. */
export function nameSize(name: string, word: string): number {
  const left = 16 - 0.67 * Math.min(word.length, MOST_LETTERS);
  return Math.max(0.8, Math.min(1.35, left / (0.6 * Math.max(1, name.length))));
}

// --- the words ------------------------------------------------------------------------------------

const standings: Record<Standing, string> = {
  here: "Here",
  unconfirmed: "Not heard yet",
  silent: "Silent",
  away: "Away",
  stopped: "Stopped",
  cut: "Not known",
};

const counted: Record<Rank, (n: number) => string> = {
  held: (n) => ({ one: `${n} needs somebody` })[plural(n) as string] ?? `${n} need somebody`,
  due: (n) => `${n} with time up`,
  trouble: (n) => `${n} with trouble`,
  weighing: (n) => `${n} weighing`,
  waiting: (n) => `${n} in process`,
  idle: (n) => `${n} free`,
  gone: (n) => `${n} not there`,
};

const phases: Record<string, string> = { "awaiting vessel": "No vessel", ready: "Ready" };
const links: Record<string, string> = { lost: "lost", silent: "silent" };
const checked: Record<string, string> = {
  overdue: "check overdue",
  failed: "check failed",
  "too close to call": "check too close to call",
  "never checked": "check never made",
};
const ended: Record<string, string> = { closed: "Finished", "in process": "All weighed", abandoned: "Abandoned" };

export const terms = { standings, counted, phases, links, checked, ended };

const seconds = (at: string): string => when(at, new Date(), TO_SECONDS);

export const floor = {
  nav: "Floor",
  title: "Floor",
  none: "No station has been heard yet. A station says what it does where its weighd.toml names a broker under [floor].",
  off: "This station watches no floor. Name a broker in its weighd.toml, under [floor], and start it again.",
  finding: "Listening\u2026",
  lost: "No connection to this station: what is shown has stopped.",
  cut: (why: string) => `No connection to the broker: what is shown has stopped. ${why}`,
  summary: (ranks: readonly Rank[]): string =>
    RANKS.flatMap((rank) => {
      const n = ranks.filter((one) => one === rank).length;
      return n ? [terms.counted[rank](n)] : [];
    }).join(" \u00b7 "),
  of: (n: number, of: number) => `${n} of ${of}`,
  outOf: (target: string) => `of ${massWithUnit(target)}`,
  toGo: (g: string) => `${massWithUnit(g)} to go`,
  over: (g: string) => `${massWithUnit(g)} over`,
  lifted: "in the hand",
  idle: "Free",
  held: "Held",
  finished: (status: string) => terms.ended[status] ?? status,
  standing: (it: Standing) => terms.standings[it] ?? it,
  phase: (it: string) => terms.phases[it],
  sinceThen: (at: string) => `since ${at}`,
  lastWord: (at: string) => `last word ${at} by its own clock`,
  since: (it: Card): string => {
    if (it.standing === "here") return "";
    if (it.since && it.standing !== "unconfirmed") return floor.sinceThen(seconds(it.since));
    return it.said ? floor.lastWord(seconds(it.said)) : "";
  },
  batch: (id: string, formula: string) => `${formula}, ${id}`,
  twice: "Two stations use this name",
  store: "Its record cannot be written",
  scale: (name: string, link: string) => `Scale ${name} ${terms.links[link] ?? link}`,
  check: (name: string, standing: string) => `Scale ${name}: ${terms.checked[standing] ?? standing}`,
  overdrawn: (lot: string, g: string) => `Lot ${lot}: ${massWithUnit(g)} more weighed than there was`,
  sharingStopped: "Nothing goes to the shared store",
  behind: (n: number) => ({ one: `${n} entry not yet in the shared store` })[plural(n) as string] ?? `${n} entries not yet in the shared store`,
  more: (n: number) => `and ${n} more`,
  due: "Time is up",
  ago: (time: string) => `${time} ago`,
  next: "Next",
  done: "Done",
} as const;
