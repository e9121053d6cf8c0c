// The words of vessels: known by their mass, poured from by difference, and what still fits on the scale.
// The other words are in words.ts, refusals.ts, doubts.ts, scales.ts and plan.ts.

import type { Addition, Fit, Full, Live, Vessel } from "./frames.ts";
import { massWithUnit, sizeWithUnit, unsureWithUnit } from "./numbers.ts";

const more = (it: Fit): string => (it.differs_g.startsWith("-") ? "less" : "more");

/** What is said where something is poured out of its own container. */
export const outOf = {
  /** Which container, for a heading. */
  own: (name: string) => `${name}, by difference`,
  role: "Its own container stands on the scale; what leaves it counts.",
  setDown: (name: string) => `Set the ${name} container on`,
  zeroEmpty: "Zero the empty scale",
  clear: (name: string) => `Take it off, set the ${name} on`,
  tare: "Tare: container is on",
  lifted: "Pour, then set it back",
  pour: "Pour from it",
  pouring: "Pour up to the notch",
  short: "Pour more from it",
  toPour: "to pour",
  out: "poured out",
  plates: { none: "No container yet", lifted: "In your hand", ready: "Ready to pour from" },
  noCue: "Nothing shows while it is in your hand: pour a little less, set it back, and look.",
  back: "Pour some back",
  over: "Pour back only what has not touched the mix, or keep it with a reason.",
  short_: "Pour more from it, or keep it with a reason.",
  soFar: (g: string) => `Poured out so far: ${massWithUnit(g)}.`,
  zeroOff: "The scale shows less than nothing, so the container is off. Set it back.",
  zeroMore: "If the container is on and nothing was poured meanwhile, press the button. If it is off, set it back.",
  zeroElse: "Not sure? Take the container off, zero the empty scale, and set it back.",
  resume: "Nothing was poured: go on",
} as const;

/** Buttons beside a refusal of a tare, by its code: it can be done all the same. */
const anyway: Record<string, string> = {
  "no-vessel": "It is on, tared by the scale's own key: tare",
  "other-vessel": "Tare this one all the same",
  "same-vessel": "It is the same one: tare",
  "not-enough": "Pour what there is: tare",
};

export const terms = { anyway };

export const vessels = {
  anyway: (code: string): string | null => anyway[code] ?? null,
  another: "It is another vessel, nothing was added: tare",
  /** Before the tare: which vessel this is, or that it is not the one chosen. */
  seen: (live: Live): string => {
    const it = live.vessel;
    if (!it) return "";
    const names = it.standing.slice(0, 2).map((one) => one.name).join(" or ");
    if (!it.differs) return names ? `This weighs as much as ${names}.` : "";
    const off = `This is not ${it.differs.name}: ${sizeWithUnit(it.differs.differs_g)} ${more(it.differs)}.`;
    return names ? `${off} It weighs as much as ${names}.` : off;
  },
  tare: (name: string) => `Tare: ${name}`,
  setDown: (name: string) => `Set ${name} on the scale`,
  still: (name: string) => `That is still the one before. Set the ${name} on, or press here if it is the same.`,
  stillBowl: "That is still the one before. Set the vessel on to weigh into, or press here if it is the same.",
  /** That the scale will be full, told before it is. */
  full: (it: Full, now: number, name: string): string => {
    const ends = `${massWithUnit(it.ends_g)} would stand on the scale, which holds ${massWithUnit(it.max_g)}`;
    if (it.addition > now) {
      return `At addition ${it.addition}, ${name}, ${ends}. Before it, take this vessel off and tare another one.`;
    }
    const what = it.beyond ? "The target lies above what this scale can show" : "This scale is nearly full";
    return `${what}: ${ends}. Before you pour, take this vessel off and tare a lighter one.`;
  },

  /** A tare that was out of the ordinary, in the record. */
  odd: ([name, differs]: [string, string | null], notAdded: string | null): string => {
    const parts = [];
    if (differs !== null) parts.push(`named ${name}, but ${sizeWithUnit(differs)} ${differs.startsWith("-") ? "less" : "more"} than that`);
    if (notAdded !== null) parts.push(`another vessel: ${massWithUnit(notAdded)} were not added`);
    return parts.length > 0 ? `: ${parts.join("; ")}` : "";
  },

  title: "Vessels",
  about: "Known by their empty mass: another one set down instead is told by its weight.",
  none: "None yet.",
  mass: (it: Vessel) => massWithUnit(it.mass_g) + (Number(it.u_g) > 0 ? ` \u00b1${unsureWithUnit(it.u_g)}` : ""),
  allow: (it: Vessel) => (Number(it.allow_g) > 0 ? `may differ by ${massWithUnit(it.allow_g)}` : ""),
  from: (it: Vessel) => (it.configured ? "from the configuration" : it.scale ? `weighed on ${it.scale}` : "typed in"),
  name: "Name of the vessel",
  on: "Scale it stands on",
  allowField: "May differ by",
  allowHint: "g, wet; if at all",
  how: "Take everything off the scale first, wait for zero, then set the empty vessel on.",
  weigh: "Weigh and keep it",
  kept: (it: Vessel) => `${it.name} is kept: ${massWithUnit(it.mass_g)}.`,
  forget: "Forget",
  forgetSure: "Forget it",
  needsName: "Give the vessel a name.",

  choose: "Vessel",
  any: "Any vessel",
  byDifference: "The bowl cannot be weighed",
  byDifferenceMore: "Each ingredient's own container is weighed instead, and what leaves it counts.",
  marked: "by difference",
  /** Whether an addition is weighed by difference. */
  isOut: (it: Addition | null): boolean => it?.method === "by difference",
} as const;
