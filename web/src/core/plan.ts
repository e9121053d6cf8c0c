// The words of a weighing plan: what to do with bowl and dish, before a batch and during it. The other
// words are in words.ts, refusals.ts, doubts.ts and scales.ts.

import type { Addition, Doing, Due, Live, Plan, Premix, Shortfall, Step, Weighing } from "./frames.ts";
import { massWithUnit, sizeWithUnit, unsureWithUnit } from "./numbers.ts";

const vesselOf = (doing: Doing) => doing.vessel.split(" ")[0]!;

/** Which vessel is set down: the bowl, an empty dish, or the ingredient's own. */
function setDown(doing: Doing, name: string): string {
  const kind = vesselOf(doing);
  if (kind === "bowl") return "the bowl";
  if (kind === "source") return `the ${name} in its own vessel`;
  return kind === "premix" ? `an empty dish for ${doing.vessel}` : "an empty dish";
}

function does(doing: Doing, name: string): string {
  switch (doing.do) {
    case "set down":
      return `Set ${setDown(doing, name)} on ${doing.scale}`;
    case "take off":
      return `Take the ${vesselOf(doing) === "bowl" ? "bowl" : "vessel"} off ${doing.scale}`;
    case "tip in":
      return "Tip the dish into the bowl and scrape it out";
    case "stir":
      return `Stir ${doing.vessel} until it is even`;
  }
}

/** What is weighed, where not simply all of the ingredient. */
function called(name: string, step: Step | undefined): string {
  return step?.role === "from premix" ? `Premix ${step.premix}` : name;
}

export const planned = {
  choice: "As planned",
  only: (scale: string) => `Only ${scale}`,
  title: "How it is weighed",
  moves: (n: number, weighings: number) =>
    `${weighings} ${weighings === 1 ? "weighing" : "weighings"}, ${n} ${n === 1 ? "move" : "moves"} of the hands besides`,
  bowl: "Empty bowl",
  dish: "Empty dish",
  vesselHint: "g, if known",
  vesselWrong: "Give the vessel's mass as a number of grams, or leave it out.",
  working: "Working it out\u2026",

  does,
  called,
  /** What comes after the addition on the scale. */
  then: (it: Addition) => `Then ${massWithUnit(it.target_g)} of ${called(it.name, it.step)}`,
  /** One weighing, in a list of things to do. */
  weigh: (it: Weighing) => {
    const target = massWithUnit(it.target_g);
    if (it.role === "from premix") return `About ${target} of premix ${it.premix} for the ${it.name}`;
    if (it.role === "part" && it.part < it.parts) return `About ${about(it.target_g)} of ${it.name}`;
    if (it.role === "part" || it.role === "rest of the carrier") return `The rest of the ${it.name}, about ${about(it.target_g)}`;
    if (it.role !== "whole") return `About ${target} of ${it.name}`;
    return `${target} of ${it.name}`;
  },
  leftOut: (names: string[]) =>
    `${names.join(" and ")} ${names.length === 1 ? "is" : "are"} not there, and not planned with.`,
  premix: (it: Premix, names: (n: number) => string) =>
    `Premix ${it.premix}: ${massWithUnit(it.part_g)} of ${names(it.of)} in ${massWithUnit(it.carrier_g)} of ` +
    `${names(it.carrier_of)}. Of it, ${massWithUnit(it.taken_g)} hold the amount wanted and ${massWithUnit(it.shared_g)} ` +
    `of ${names(it.carrier_of)}; ${massWithUnit(it.left_g)} are left over. Known to ${unsureWithUnit(it.u_g)} if it is stirred even, ` +
    `where this scale alone knows it to ${unsureWithUnit(it.alone_u_g)}.`,
  short: (it: Shortfall) => it.text,

  /** A weighing in the record. */
  titled: (it: { name: string; step: Step | null }) => {
    if (it.step === null) return it.name;
    const { role, part, parts, premix } = it.step;
    if (role === "part") return `${it.name}, part ${part} of ${parts}`;
    if (role === "from premix") return `Premix ${premix}, for the ${it.name}`;
    if (role === "rest of the carrier") return `${it.name}, the rest`;
    return role === "whole" ? it.name : `${it.name}, for premix ${premix}`;
  },
  forced: (due: string | null) =>
    `Tared although the bowl did not weigh what it should${due === null ? "" : ` (${massWithUnit(due)})`}`,
  sums: "As weighed, all weighings together",
  ingredient: "Ingredient",

  /** What this weighing is of its amount; empty for all of it. */
  role: (it: Addition) => {
    const step = it.step;
    if (!step) return "";
    switch (step.role) {
      case "part":
        return step.part < step.parts
          ? `Part ${step.part} of ${step.parts}: about so much. The last part makes ${massWithUnit(step.whole_g)} exact.`
          : `The last of ${step.parts} parts: it makes ${massWithUnit(step.whole_g)} exact.`;
      case "premix ingredient":
        return `For premix ${step.premix}: about so much. The share is reckoned from what is weighed.`;
      case "premix carrier":
        return `For premix ${step.premix}: about so much, on top of what is in the dish.`;
      case "from premix":
        return `It brings ${massWithUnit(step.whole_g)} of ${it.name}.`;
      case "rest of the carrier":
        return `The rest: some of it comes with premix ${step.premix}.`;
      default:
        return "";
    }
  },
  /** Where it is weighed, where a batch has several places. */
  place: (it: Addition) => {
    const into = it.step?.into;
    if (!into) return "";
    const where = { bowl: "into the bowl", dish: "into the dish", premix: "into the dish", source: "by difference" }[into];
    return `On ${it.scale}, ${where}`;
  },
  due: (it: Due) => {
    if (it.due_g === null) return "The bowl still stands there. This goes into a vessel of its own.";
    if (it.off_g === null) return `With all of the dish in it, the bowl weighs about ${massWithUnit(it.due_g)}.`;
    const by = `${sizeWithUnit(it.off_g)}`;
    return it.off_g.startsWith("-")
      ? `The bowl is ${by} lighter than it should be. Is the dish tipped in, and scraped out?`
      : `The bowl is ${by} heavier than it should be. Is it the right one, with nothing else on the scale?`;
  },
  anyway: "It is as it should be: tare",
  itIsADish: "It is no bowl but the right vessel: tare",
  other: {
    open: "Another scale\u2026",
    title: "Weigh on another scale",
    body: (from: string) => `This and what was still to be weighed on ${from} goes on another scale. Set the vessel on it and tare it there.`,
    figures: (d: string, max: string | null) => `interval ${massWithUnit(d)}${max === null ? "" : `, up to ${massWithUnit(max)}`}`,
    event: (to: string) => `Weighed on with the scale ${to}`,
  },
  /** What stands on the big button's place until the vessel is there. */
  next: (acts: Doing[] | undefined, live: Live) => {
    const todo = (acts ?? []).filter((it) => it.n === live.addition);
    const last = todo.at(-1);
    if (last === undefined) return "";
    if (live.due && live.due.due_g === null) return `Take the bowl off ${live.scale}`;
    if (last.do === "tip in") return "Tip the dish into the bowl";
    if (last.do !== "set down" || vesselOf(last) === "source") return "";
    return vesselOf(last) === "bowl" ? `Set the bowl on ${last.scale}` : `Set an empty dish on ${last.scale}`;
  },
} as const;

/** A rough amount, to three digits; what is exact about it is not what it says. */
export function about(grams: string): string {
  const value = Number(grams);
  if (!(value > 0)) return massWithUnit(grams);
  const places = Math.max(0, 2 - Math.floor(Math.log10(value)));
  const step = 10 ** Math.max(0, Math.floor(Math.log10(value)) - 2);
  const text = places > 0 ? value.toFixed(places) : String(Math.round(value / step) * step);
  return `${massWithUnit(text.includes(".") ? text.replace(/\.?0+$/, "") : text)}`;
}

/** What a plan has to do, in order: things done with vessels, and weighings between them. */
export function inOrder(plan: Plan): { n: number; text: string; weighing: Weighing | null }[] {
  return plan.acts.map((doing, k) => {
    const weighing = plan.weighings[doing.n - 1] ?? null;
    if (doing.do === "weigh" && weighing) return { n: k + 1, text: planned.weigh(weighing), weighing };
    return { n: k + 1, text: planned.does(doing as Doing, weighing?.name ?? ""), weighing: null };
  });
}

/** What is done before a weighing, or after the last. */
export function before(acts: Doing[] | undefined, n: number, name: string): string[] {
  return (acts ?? []).filter((it) => it.n === n).map((it) => planned.does(it, name));
}
