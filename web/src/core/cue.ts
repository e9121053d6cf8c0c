// The cue: whether to pour, slow down or stop, as the station reckons it. What of it is shown and
// what is heard is decided here; the page adds nothing to it and takes nothing from it.
//
// 1. Shown only on the newest frame, while something may be poured: pouring, or settling with more
//    to come. At rest the verdict speaks; while settling after a stop, the wait does.
// 2. Heard only while pouring. A sound that goes on when the hand has stopped would be a lie.

import type { Cue, Guidance, Live } from "./frames.ts";
import { disturbance } from "./choice.ts";

/** The cue to show, with its landing; null where there is none. `fresh`: the frame is the newest. */
export function shownCue(live: Live | null, fresh: boolean): Guidance | null {
  if (live === null || !fresh || live.held !== null || live.taking_out || disturbance(live)) return null;
  const guidance = live.cue ?? null;
  if (live.phase === "pouring") return guidance;
  return live.phase === "settling" && guidance?.cue !== "stop" ? guidance : null;
}

/** The cue to sound. */
export function heardCue(live: Live | null, fresh: boolean): Cue | null {
  return live?.phase === "pouring" ? (shownCue(live, fresh)?.cue ?? null) : null;
}

export type Sound = "tick" | "stop";

/** What sounds at each cue, and how often, in ms. */
const BEATS: Record<Cue, { sound: Sound; every: number }> = {
  pour: { sound: "tick", every: 900 },
  slow: { sound: "tick", every: 300 },
  stop: { sound: "stop", every: 1100 },
};

/** A phase that flickers must not drum: two of the same sound are at least so far apart, in ms. */
export const APART_MS = 140;

export interface Timers {
  after(ms: number, call: () => void): unknown;
  cancel(timer: unknown): void;
  now(): number;
}

/** Beats the cue: at once when it changes, then evenly, and not at all without one. */
export class Beats {
  #cue: Cue | null = null;
  #timer: unknown = null;
  #last: { sound: Sound; at: number } | null = null;

  constructor(
    private readonly play: (sound: Sound) => void,
    private readonly timers: Timers,
  ) {}

  follow(cue: Cue | null): void {
    if (cue === this.#cue) return;
    this.#cue = cue;
    if (this.#timer !== null) this.timers.cancel(this.#timer);
    this.#timer = null;
    if (cue !== null) this.#beat(cue);
  }

  #beat(cue: Cue): void {
    const { sound, every } = BEATS[cue];
    const now = this.timers.now();
    if (this.#last === null || this.#last.sound !== sound || now - this.#last.at >= APART_MS) {
      this.#last = { sound, at: now };
      this.play(sound);
    }
    this.#timer = this.timers.after(every, () => this.#beat(cue));
  }
}
