// What several stations share: words and shapes for lots, formulas and traces of others.

import { massWithUnit } from "./numbers.ts";

/** A formula that another station published. */
export interface SharedFormula {
  id: string;
  number: number;
  formula: string;
  revision: string;
  name: string;
  station: string;
  by: string;
  at: string;
  chosen: "new" | "taken" | "left";
  own: "none" | "same" | "differs";
  newest: boolean;
}

export interface SharedFormulas {
  sharing: boolean;
  formulas: SharedFormula[];
}

/** A lot as far as other stations have to do with it. */
export interface Elsewhere {
  station: string;
  elsewhere: { station: string; g: string }[];
  over_g: string;
  used_g: string;
}

/** When the other stations were heard of last, and why not since. */
export interface Heard {
  heard_at: string;
  cut_off: string;
}

/** What a trace says of which stations it shows. */
export interface Looked {
  everywhere?: boolean;
  stations?: string[];
  owners?: string[];
  said?: string;
}

/** The formula's own id, without the revision that it came down under. */
export const plainId = (id: string): string => id.split("@")[0]!;
/** Whether a formula of the list came down from another station. */
export const cameDown = (id: string): boolean => id.includes("@");

/** What is to be decided of: not what the kitchen has as it is, nor what something newer stands for. */
export function toDecide(all: SharedFormula[]): SharedFormula[] {
  return all.filter((it) => it.newest && it.own !== "same");
}

const drew = (it: { station: string; g: string }) => `${it.station} ${massWithUnit(it.g)}`;

export const shared = {
  at: (station: string) => `received at ${station}`,
  elsewhere: "Drawn elsewhere",
  drewAt: (it: Elsewhere) => it.elsewhere.map(drew).join(", "),
  over: (it: Elsewhere) =>
    it.over_g !== "0" && it.elsewhere.length > 0
      ? `${massWithUnit(it.over_g)} more drawn than there was: ${[`here ${massWithUnit(it.used_g)}`, ...it.elsewhere.map(drew)].join(", ")}. Count it, and look who has it.`
      : "",
  heard: (it: Heard, when: string) =>
    it.cut_off
      ? it.heard_at
        ? `Cut off from the other stations: what they did is known up to ${when}.`
        : "Cut off from the other stations: nothing is known of them yet."
      : "",
  looked: (it: Looked) => (it.everywhere ? `Looked at: ${(it.stations ?? []).join(", ")}.` : (it.said ?? "")),
  twice: (it: Looked) =>
    (it.owners ?? []).length > 1 ? `Lots of this code were received at ${it.owners!.join(" and ")}: CODE@STATION is one of them.` : "",
  title: "From other stations",
  lead: "What others published. The kitchen's own files stay as they are.",
  from: (it: SharedFormula, when: string) => `${it.by} at ${it.station}, ${when}`,
  own: { none: "", same: "", differs: "The kitchen's own is another one." },
  chosen: { new: "Not taken yet", taken: "Can be weighed here", left: "Left" },
  take: "Take it",
  leave: "Leave it",
  down: "from another station",
  publish: "Publish to all stations",
  publishing: "Publishing\u2026",
  published: (number: number) => `Published, number ${number}. Every station hears of it.`,
  already: "The newest that was published is this one already.",
  saveFirst: "Save it first.",
  who: "Say who you are.",
};

const rest = (text: string) => text.split(" ").slice(1).join(" ");
const first = (text: string) => text.split(" ")[0]!;

/** Notices of what came down. */
export const sharedNotices: Record<string, (text: string) => string> = {
  "lot-blocked-now": (text) => `STOP: the lot named for this addition, ${first(text)}, was blocked at ${rest(text)}. Do not pour it. Name another lot.`,
  "lot-blocked-at": (text) => `Lot ${first(text)} was blocked at ${rest(text)}.`,
  "lot-code-twice": (text) => {
    const [code, station, here] = text.split(" ");
    return `Station ${station} received another lot with the code ${code}. Here that one is ${here}.`;
  },
  "lot-overdrawn": (text) => `Of lot ${first(text)} all stations together drew ${rest(text)} g more than there was. Count it, and look who has it.`,
  "not-shared": (text) => `Entry ${rest(text)} of station ${first(text)} in the shared store does not hold. Nothing more is taken from there until somebody looks at it.`,
  "formula-came-down": (names) => `Formulas came from other stations: ${names}.`,
};

/** Refusals that have to do with other stations. */
export const sharedRefusals: Record<string, string | ((detail: string) => string)> = {
  "formula-not-taken": (detail) => `${detail} Look at it under Formulas, and take it.`,
  "not-shared": (detail) => `${detail} Look at that station's record.`,
  "no-shared-store": "This station shares with no other one.",
};
