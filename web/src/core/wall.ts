// The station on a screen on the wall, read from some metres: what is shown there, in which order, and its words.

import type { Addition, Batch } from "./frames.ts";
import type { FirstOut } from "./lots.ts";
import { massWithUnit } from "./numbers.ts";
import { type InProcess, timer } from "./process.ts";

/** Letters of a name's longest word, and of all of it: a name is set as large as both fit. */
export function lettersOf(name: string): { longest: number; letters: number } {
  const lengths = name.split(/[\s-]+/).map((it) => [...it].length);
  return { longest: Math.max(1, ...lengths), letters: Math.max(1, [...name].length) };
}

/** A name of more letters than this may be set smaller than what is read from three metres: else it would push
 *  away what it is read with. */
export const LONG_NAME = 36;

/** What is weighed after addition `n`, in order. */
export const comesNext = (batch: Batch, n: number): Addition[] => batch.additions.filter((it) => it.status === "waiting" && it.n > n);

/** What a batch in process is about to need: 0 somebody now, 1 somebody soon or at a time, 2 nobody yet. */
export function urgency(it: InProcess, since: number): 0 | 1 | 2 {
  if (it.state === "held" || (it.now?.out.length ?? 0) > 0) return 0;
  if (it.cooling?.left_s != null && Number(it.cooling.left_s) - since <= 0) return 0;
  if (it.now === null) return 2;
  const counts = timer(it.now, since);
  return counts.over ? 0 : 1;
}

/** Batches in process, who needs somebody first; among equals in the order the station tells them. */
export function inNeed(them: readonly InProcess[], since: number): InProcess[] {
  return them.map((it, n) => ({ it, n, u: urgency(it, since) })).sort((a, b) => a.u - b.u || a.n - b.n).map(({ it }) => it);
}

/** So many batches in process stand on the wall, whole; the others are counted. */
export const MOST_IN_PROCESS = 5;

// --- the words ------------------------------------------------------------------------------------

const ended: Record<Exclude<Batch["status"], "open">, string> = {
  closed: "Finished",
  "in process": "All weighed",
  abandoned: "Abandoned",
};

export const terms = { ended };

export const wall = {
  nav: "On the wall",
  title: "This station on the wall",
  lead: "For a screen that is read from some metres: what goes in now and of which lot, how much is missing, what comes next. Nothing on it can be pressed, and it sends nothing to the station.",
  size: "Letters are as large as the screen allows: on a 24-inch screen they can be read from three metres.",
  full: "Fill the screen",
  here: "Stay in this window",
  leave: "Esc leaves it, on a tablet the gesture that ends a full screen.",
  itself: "A screen that starts by itself opens this address:",
  awake: "The screen is kept awake while it is shown.",
  asleep: "This browser does not let the page keep the screen awake: it allows that on the station itself and by TLS. Set the device to stay on.",

  lot: (lot: string) => `Lot ${lot}`,
  noLot: "Lot: none yet",
  take: (it: FirstOut) => `Take lot ${it.lot}`,
  target: (g: string) => `Target ${massWithUnit(g)}`,
  /** What the station waits for: the words of its big button, which is not here. */
  atStation: "At the station:",
  next: "Next",
  then: "then",
  last: "This is the last addition",
  piece: (g: string, name: string) => `${massWithUnit(g)} ${name}`,

  quiet: "Nothing is being weighed",
  before: "Last batch",
  ended: (it: Batch) => terms.ended[it.status as Exclude<Batch["status"], "open">] ?? it.status,
  batch: (it: Batch) => `${it.formula.name}, ${it.id}`,
  more: (n: number) => `and ${n} more`,

  away: "The station does not answer",
  awayMore: "No weight is shown. It comes back by itself.",
  since: (at: string) => `since ${at}`,
  pretend: "Simulated scale",
} as const;

/** What the station itself says of a batch that ended off target. */
export const offTarget = (it: Batch): number =>
  it.additions.filter((one) => one.status === "accepted" && one.verdict !== null && one.verdict !== "on target").length;

