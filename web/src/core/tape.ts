// The approach tape: where a net mass lies on the picture of the pour.
//
// 1. The tape is fixed: empty at 0, the target at TARGET of its length. Nothing zooms or slides, so
//    the eye keeps its place.
// 2. It magnifies near the target. Most of a distance is drawn as asinh(distance / tolerance): far
//    away nearly logarithmic (halving what is left moves the level by the same length), inside the
//    tolerance nearly even. A cook who slows down as the target nears sees a steady level. The rest
//    is drawn evenly, so that the level leaves the start with the first grams.
// 3. What is not known has a width: the mark is as wide as the doubt about it.
// 4. Binary numbers are good enough here: this is a drawing, no mass is made of it.

import type { Guidance, Live } from "./frames.ts";

/** Where the target lies on the tape, 0..1; the rest is room for too much. */
export const TARGET = 0.74;

/** The share of a distance that is drawn evenly. */
const EVEN = 0.3;

/** Distances that may get a mark, in the unit of the masses given. */
const STEPS = [0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10000, 20000];

/** Marks closer than this share of the tape would run into each other. */
const APART = 0.12;

export interface Tape {
  /** Place of a net mass, 0..1; what lies beyond either end is held at the end. */
  place(net: number): number;
  /** The notch: from the lower to the upper limit. */
  low: number;
  high: number;
  /** Marks of what is still to go, farthest first. */
  marks: { to_go: number; at: number }[];
  /** The net mass at the far end: beyond it the tape says "off the end". */
  end: number;
}

export function tape(target: number, low: number, high: number): Tape {
  const under = Math.max(target - low, 1e-9);
  const above = Math.max(high - target, 1e-9);
  // One magnification for both sides, by the tighter one, but never so strong that the notch is a hair.
  const unit = Math.max(Math.min(under, above), Math.max(under, above) / 4, 1e-6);
  const curved = ((1 - EVEN) * TARGET) / Math.asinh(Math.max(target, unit) / unit);
  const even = (EVEN * TARGET) / Math.max(target, unit);
  const free = (net: number) =>
    TARGET + Math.asinh((net - target) / unit) * curved + (net - target) * even;
  const place = (net: number) => Math.min(1, Math.max(0, free(net)));
  const marks: Tape["marks"] = [];
  let last = 0;
  for (const step of [...STEPS].reverse()) {
    if (step >= target) continue;
    const at = place(target - step);
    if (at - last < APART || place(low) - at < APART * 0.6) continue;
    marks.push({ to_go: step, at });
    last = at;
  }
  const end = lastOnTape(free, target);
  return { place, low: place(low), high: place(high), marks, end };
}

/** What the mark on the tape is not sure of: a centre, and how far to either side, in grams. */
export interface Doubt {
  at: number;
  by: number;
  /** Whether it is about where the pour lands, not about what is in. */
  lands: boolean;
}

/** How wide the mark has to be. At rest: what the scale may be wrong by (the guard band, so that a band
 *  that touches a post is an amount too close to call; by the simple rule twice the standard uncertainty).
 *  While something lands: twice the standard deviation of the landing. Else nobody knows: no band. */
export function doubt(live: Live | null, guidance: Guidance | null): Doubt | null {
  if (live === null || live.net_g === null) return null;
  const net = Number(live.net_g);
  if (guidance?.landing_g != null && guidance.sigma_g !== null) {
    return { at: Math.max(net, Number(guidance.landing_g)), by: 2 * Number(guidance.sigma_g), lands: true };
  }
  if (!live.settled || live.u_g === null) return null;
  return { at: net, by: Number(live.guard_g ?? 0) || 2 * Number(live.u_g), lands: false };
}

/** Where the tape ends, by halving: `free` grows with the net mass. */
function lastOnTape(free: (net: number) => number, target: number): number {
  let [on, off] = [target, target * 2 + 1];
  while (free(off) < 1) off *= 2;
  for (let i = 0; i < 60; i += 1) {
    const middle = (on + off) / 2;
    if (free(middle) < 1) on = middle;
    else off = middle;
  }
  return on;
}
