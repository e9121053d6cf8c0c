// Every screen that can be gone to by name, once: the bar, the menu and the search take theirs from here.

import { devices } from "../core/devices.ts";
import { finding } from "../core/finding.ts";
import { floor } from "../core/floor.ts";
import { people } from "../core/people.ts";
import { to } from "../core/routes.ts";
import { trends } from "../core/trends.ts";
import { wall } from "../core/wall.ts";
import { words } from "../core/words.ts";
import { PANTRY } from "./pantry.tsx";

export interface Place {
  id: string;
  at: string;
  name: string;
  /** Only the search knows the others. */
  menu?: true;
  /** It stands in the bar too, marked while one of these is shown. */
  screens?: readonly string[];
}

export const places = (): Place[] => [
  { id: "bench", at: to.bench(), name: words.nav.bench, menu: true, screens: ["bench", "start", "first"] },
  { id: "process", at: to.process(), name: words.process.nav, menu: true, screens: ["process"] },
  { id: "formulas", at: to.formulas(), name: words.nav.formulas, menu: true, screens: PANTRY },
  { id: "ingredients", at: to.ingredients(), name: words.pantry.tabs.ingredients },
  { id: "limits", at: to.limits(), name: words.pantry.tabs.limits },
  { id: "lots", at: to.lots(), name: words.nav.lots, menu: true, screens: ["lots", "lot", "receive", "trace", "labels"] },
  { id: "receive", at: to.receive(), name: words.lots.form.title },
  { id: "trace", at: to.trace(), name: words.lots.traced.title },
  { id: "records", at: to.records(), name: words.nav.records, menu: true, screens: ["records", "record", "trends", "trend"] },
  { id: "trends", at: to.trends(), name: trends.title },
  { id: "scales", at: to.scales(), name: words.nav.scales, menu: true, screens: ["scales", "check"] },
  { id: "floor", at: to.floor(), name: floor.nav, menu: true, screens: ["floor"] },
  { id: "wall", at: to.wall(), name: wall.nav, menu: true },
  { id: "find", at: to.find(), name: finding.title, menu: true },
  { id: "people", at: to.people(), name: people.nav, menu: true },
  { id: "devices", at: to.devices(), name: devices.nav },
  { id: "settings", at: to.settings(), name: words.settings.title, menu: true },
];
