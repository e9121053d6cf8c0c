// What the one big button does now. Taken from `live.can` alone: the page offers nothing that the
// station would refuse, and never guesses ahead of it.

import type { Can, Live } from "./frames.ts";

export interface Act {
  do: Exclude<Can, "abandon" | "name lot">;
}

const DECISIONS = ["take out", "top up", "accept with reason"] as const;

/** The act behind the big button, or null where the cook has to do something else first. */
export function primary(live: Live | null): Act | null {
  if (live === null) return null;
  const can = (what: Can) => live.can.includes(what);
  if (can("resume")) return { do: "resume" };
  if (live.phase === "held") return recommended(live);
  if (live.phase === "awaiting vessel") return vesselOn(live) ? { do: "tare" } : null;
  // Short wants more poured, not a press: keeping it short is offered beside, never as the big button.
  if (live.verdict === "short") return null;
  if (live.verdict !== null && live.verdict !== "on target") return recommended(live);
  return can("accept") ? { do: "accept" } : null;
}

/** Whether something heavy enough to be a vessel stands on the scale and can be tared, in grams. */
export function vesselOn(live: Live): boolean {
  return live.can.includes("tare") && live.gross_g !== null && Number(live.gross_g) > 1;
}

function recommended(live: Live): Act | null {
  const short = live.to_go_g !== null && !live.to_go_g.startsWith("-");
  const first = short ? "top up" : "take out";
  const order: Act["do"][] = [first, ...DECISIONS];
  const found = order.find((what) => live.can.includes(what));
  return found ? { do: found } : null;
}

/** Everything else that can be done now, in the order it is offered. */
export function others(live: Live | null): Act[] {
  if (live === null) return [];
  const first = primary(live)?.do;
  const order: Act["do"][] = ["take out", "top up", "accept with reason", "accept", "tare"];
  return order
    .filter((what) => what !== first && live.can.includes(what))
    .filter((what) => what !== "accept" || !live.can.includes("accept with reason"))
    .map((what) => ({ do: what }));
}
