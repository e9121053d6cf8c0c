// The freezing curve as a drawing: where its points, axes and marks lie. Knows nothing of the page.

import { type Mix, points } from "./mix.ts";
import { iceAt } from "./before.ts";

/** The drawing's room, in its own units: left and below is where the axes are named. */
export const ROOM = { wide: 340, high: 218, left: 42, right: 12, top: 12, below: 34 };
/** The coldest that is drawn, in °C. */
export const COLDEST = -20;
export const COLD = [0, -5, -10, -15, -20];
export const SHARES = [0, 25, 50, 75, 100];

export const across = (celsius: number) => ROOM.left + (celsius / COLDEST) * (ROOM.wide - ROOM.left - ROOM.right);
export const up = (percent: number) => ROOM.high - ROOM.below - (percent / 100) * (ROOM.high - ROOM.below - ROOM.top);

const at = (celsius: number, percent: number) => `${across(celsius).toFixed(1)} ${up(percent).toFixed(1)}`;

export interface Drawn {
  line: string;
  area: string;
  /** Between the least and the most that may be ice, where that is not one number. */
  band: string;
  /** Where it is served, if that is known. */
  mark: { x: number; y: number } | null;
}

/** All of it as paths; null where too little is known to draw. */
export function drawn(it: Mix, served: string): Drawn | null {
  const known = points(it).filter((one) => one.at >= COLDEST);
  const spans = it.freezing.curve
    .flatMap((one) => (one.frozen_percent === null || one.at_most_percent === null ? [] : [{ at: Number(one.at_c), low: Number(one.frozen_percent), high: Number(one.at_most_percent) }]))
    .filter((one) => one.at >= COLDEST)
    .sort((a, b) => b.at - a.at);
  const wide = spans.some((one) => one.low !== one.high);
  if (known.length < 3 && !(wide && spans.length > 2)) return null;
  const begun = it.freezing.begins_c === null ? [] : [{ at: 0, ice: 0 }];
  const told = known.length < 3 ? [] : [...begun, ...known];
  const path = told.map((one) => at(one.at, one.ice)).join(" L ");
  const band = wide ? [...spans.map((one) => at(one.at, one.high)), ...[...spans].reverse().map((one) => at(one.at, one.low))].join(" L ") : "";
  const here = iceAt(it, served);
  const ice = here?.frozen_percent ?? null;
  return {
    line: path && `M ${path}`,
    area: path && `M ${path} L ${at(told.at(-1)!.at, 0)} Z`,
    band: band && `M ${band} Z`,
    mark: ice === null || ice !== here!.at_most_percent ? null : { x: across(Number(served)), y: up(Number(ice)) },
  };
}

/** Every second degree that is known, for a small table. */
export function rows(it: Mix): { at: string; low: string; high: string }[] {
  return it.freezing.curve.flatMap((one) =>
    Number(one.at_c) % 2 === 0 && one.frozen_percent !== null && one.at_most_percent !== null
      ? [{ at: one.at_c, low: one.frozen_percent, high: one.at_most_percent }]
      : [],
  );
}
