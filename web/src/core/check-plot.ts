// The history of a scale's checks as strips: one for each load, errors as shares of what was allowed.

import type { Made, Outcome } from "./checks.ts";
import { checks } from "./checks.ts";

export interface Dot {
  x: number;
  /** Error as a share of the limit, up is more; held within what is drawn. */
  share: number;
  /** Beyond what is drawn. */
  beyond: boolean;
  /** Twice the standard uncertainty, as a share of the limit. */
  sure: number;
  outcome: Outcome;
  seq: number;
}

export interface Strip {
  title: string;
  allowed: string;
  oneSided: boolean;
  dots: Dot[];
}

/** Shares further from zero than this are drawn at the edge. */
export const REACH = 1.6;

/** Strips of checks that come newest first; `x` runs from 0 to 1, oldest to newest. */
export function strips(made: readonly Made[]): Strip[] {
  const oldestFirst = [...made].reverse();
  const out = new Map<string, Strip>();
  oldestFirst.forEach((check, i) => {
    const x = oldestFirst.length === 1 ? 1 : i / (oldestFirst.length - 1);
    const add = (key: string, strip: Omit<Strip, "dots">, off: number, u: number, limit: number, outcome: Outcome) => {
      const share = limit > 0 ? off / limit : 0;
      const held = Math.max(-REACH, Math.min(REACH, share));
      const at = out.get(key) ?? { ...strip, dots: [] };
      at.allowed = strip.allowed;
      at.dots.push({ x, share: held, beyond: held !== share, sure: limit > 0 ? (2 * u) / limit : 0, outcome, seq: check.seq });
      out.set(key, at);
    };
    const corners = check.steps.filter((it) => it.part === "corner");
    for (const step of check.steps) {
      if (step.part === "repeatability") continue;
      if (step.part === "corner" && step !== worst(corners)) continue;
      const title = step.part === "corner" ? `${checks.step({ ...step, part: "mass" })}, worst corner` : checks.step(step);
      add(title, { title, allowed: checks.allowed(step.limit_g), oneSided: false },
        Number(step.error_g), Number(step.u_g), Number(step.limit_g), step.outcome);
    }
    const it = check.repeatability;
    if (it !== null) {
      const title = checks.repeatability;
      add(title, { title, allowed: checks.range(it.limit_g), oneSided: true },
        Number(it.range_g), Number(it.u_g), Number(it.limit_g), it.outcome);
    }
  });
  return [...out.values()];
}

function worst<T extends { error_g: string }>(corners: T[]): T | undefined {
  return corners.reduce<T | undefined>(
    (most, it) => (most === undefined || Math.abs(Number(it.error_g)) > Math.abs(Number(most.error_g)) ? it : most),
    undefined,
  );
}
