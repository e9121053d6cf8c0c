// What the one big button does now. Taken from `live.can` alone: the page offers nothing that the
// station would refuse, and never guesses ahead of it.

import type { Addition, Can, Fit, Live, Scale, Verdict } from "./frames.ts";

export interface Act {
  do: Exclude<Can, "put right" | "use scale" | "abandon" | "name lot" | "next lot">;
}

const DECISIONS = ["take out", "top up", "accept with reason"] as const;

/** The act behind the big button, or null where the cook has to do something else first. */
export function primary(live: Live | null): Act | null {
  if (live === null) return null;
  const can = (what: Can) => live.can.includes(what);
  if (can("resume")) return { do: "resume" };
  if (live.phase === "held") return recommended(live);
  // Something is being taken out by hand; keeping it after all is offered beside.
  if (live.taking_out) return null;
  // The bowl does not weigh what it should: going on all the same is offered beside.
  if (live.phase === "awaiting vessel") return tares(live) ? { do: "tare" } : null;
  // Short wants more poured, not a press: keeping it short is offered beside, never as the big button.
  if (live.verdict === "short") return null;
  if (live.verdict !== null && live.verdict !== "on target") return recommended(live);
  return can("accept") ? { do: "accept" } : null;
}

/** Whether something heavy enough to be a vessel stands on the scale and can be tared, in grams. */
export function vesselOn(live: Live): boolean {
  return live.can.includes("tare") && live.gross_g !== null && Number(live.gross_g) > 1;
}

/** Whether what stands there is to be tared: not a bowl that does not weigh what it should, nor what the
 *  addition before left there, nor another vessel than the one that was chosen. Those have buttons of
 *  their own, which say so. */
function tares(live: Live): boolean {
  return vesselOn(live) && !live.due?.off_g && !live.left && !misfit(live);
}

/** The chosen vessel, where it cannot be what stands there and no other known one can be. */
export function misfit(live: Live): Fit | null {
  const it = live.vessel;
  return it?.differs && it.standing.length === 0 ? it.differs : null;
}

/** The known vessel that stands there, where it can be told: the one chosen, or the only one. */
export function vesselThere(live: Live): string {
  const it = live.vessel;
  if (!it || it.standing.length === 0) return "";
  if (it.standing.some((one) => one.name === it.chosen)) return it.chosen;
  return it.standing.length === 1 ? it.standing[0]!.name : "";
}

const OF_THE_SCALE: readonly string[] = ["scale lost", "scale silent", "scale at zero"];

/** `live` as the board shows it: a scale that cannot be heard comes before whatever else there is to
 *  decide. The station itself holds only what was being poured; here nothing is offered meanwhile, and
 *  no mass is known. */
export function asShown(live: Live | null, scale: Scale | undefined): Live | null {
  if (live === null || scale === undefined || scale.link === "live") return live;
  if (live.held !== null && OF_THE_SCALE.includes(live.held.cause)) return live;
  const cause = scale.link === "lost" ? "scale lost" : "scale silent";
  const held = { cause, since: live.held?.since ?? "", sum_g: live.sum_g ?? null } as const;
  const can = live.can.filter((what) => what === "abandon" || what === "name lot" || what === "use scale");
  return { ...live, phase: "held", held, verdict: null, can, gross_g: null, net_g: null, to_go_g: null };
}

/** Whether more is in than the limit allows, going by the number on the board. */
export function pastLimit(live: Pick<Live, "net_g"> | null, addition: Pick<Addition, "high_g"> | null): boolean {
  return live !== null && addition !== null && live.net_g !== null && Number(live.net_g) > Number(addition.high_g);
}

/** What disturbs the scale, as far as it is no part of the work: a spoon that takes some out looks like
 *  a lift to the scale, and the vessel stays on. Empty where nothing does. */
export function disturbance(live: Live): string {
  const on = live.net_g !== null && !live.net_g.startsWith("-");
  if (live.why !== "lift" || !on) return live.why;
  return live.taking_out || live.held !== null ? "" : "some off";
}

/** The verdict that a hold is about now: the amount as it stands, or as it was held while it moves. */
export function standing(live: Live): Verdict | null {
  const cause = live.held?.cause;
  if (cause !== "over" && cause !== "short" && cause !== "too close to call") return null;
  return live.verdict ?? cause;
}

function recommended(live: Live): Act | null {
  // Held, and put right since: accepting is what is left to do.
  if (live.can.includes("accept")) return { do: "accept" };
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
  const order: Act["do"][] = ["take out", "top up", "accept with reason", "accept", "weigh again", "tare another", "tare"];
  return order
    .filter((what) => what !== first && live.can.includes(what))
    // Short and not held: pouring on is enough, nothing has to be pressed for it.
    .filter((what) => what !== "top up" || live.phase === "held" || live.verdict !== "short")
    // A bowl that does not weigh what it should is tared by its own button, which says so.
    .filter((what) => what !== "tare" || live.phase !== "awaiting vessel" || tares(live))
    .filter((what) => what !== "accept" || !live.can.includes("accept with reason"))
    .map((what) => ({ do: what }));
}
