// All words of the page, by the file they stand in: what a translation has to bring (src/lang).

import { after } from "./after.ts";
import * as asWeighed from "./as-weighed.ts";
import * as before from "./before.ts";
import * as checks from "./checks.ts";
import * as corrections from "./corrections.ts";
import * as devices from "./devices.ts";
import * as doubts from "./doubts.ts";
import * as dryIce from "./dry-ice.ts";
import * as finding from "./finding.ts";
import * as firsts from "./first.ts";
import * as floor from "./floor.ts";
import * as head from "./head.ts";
import * as keys from "./keys.ts";
import * as labels from "./labels.ts";
import * as lots from "./lots.ts";
import * as mix from "./mix.ts";
import * as outgoing from "./outgoing.ts";
import * as pantry from "./pantry.ts";
import * as pasting from "./pasting.ts";
import * as pedal from "./pedal.ts";
import * as people from "./people.ts";
import * as plan from "./plan.ts";
import * as process from "./process.ts";
import * as recovery from "./recovery.ts";
import * as refusals from "./refusals.ts";
import * as revisions from "./revisions.ts";
import * as scales from "./scales.ts";
import * as shared from "./shared.ts";
import { settings } from "./settings.ts";
import * as sizes from "./sizes.ts";
import * as solving from "./solving.ts";
import { states } from "./states.ts";
import * as steps from "./steps.ts";
import { stray } from "./stray.ts";
import type { Translation } from "./translation.ts";
import * as trends from "./trends.ts";
import * as vessels from "./vessels.ts";
import * as wall from "./wall.ts";
import * as wires from "./wire.ts";
import * as words from "./words.ts";
import * as yields from "./yield.ts";

/** What words.ts holds of its own; the rest of it is in the other files. */
type Page = Omit<
  typeof words.words,
  "pantry" | "lots" | "notice" | "refusal" | "scales" | "settings" | "planned" | "recovery" | "vessels" | "outOf" | "checks" | "process"
>;

export const texts = {
  page: words.words as Page,
  pageTerms: words.terms,
  after,
  asWeighed: asWeighed.asWeighed,
  asWeighedTerms: asWeighed.terms,
  before: before.before,
  beforeTerms: before.terms,
  checks: checks.checks,
  checksTerms: checks.terms,
  corrections: corrections.corrections,
  correctionsTerms: corrections.terms,
  devices: devices.devices,
  devicesTerms: devices.terms,
  doubts: doubts.doubts,
  doubtsTerms: doubts.terms,
  dryIce: dryIce.dryIce,
  finding: finding.finding,
  first: firsts.first,
  floor: floor.floor,
  floorTerms: floor.terms,
  head: head.headWords,
  keyWords: keys.keyWords,
  keyTerms: keys.terms,
  labels: labels.labels,
  lots: lots.lots,
  lotsTerms: lots.terms,
  mixes: mix.mixes,
  mixesTerms: mix.terms,
  pantry: pantry.pantry,
  pantryTerms: pantry.terms,
  pasting: pasting.pasting,
  pedal: pedal.pedal,
  pedalTerms: pedal.terms,
  people: people.people,
  peopleTerms: people.terms,
  outgoing: outgoing.outgoing,
  outgoingTerms: outgoing.terms,
  planned: plan.planned,
  process: process.process,
  processTerms: process.terms,
  recovery: recovery.recovery,
  recoveryTerms: recovery.terms,
  refusals: refusals.terms,
  revisions: revisions.revisions,
  revisionsTerms: revisions.terms,
  shared: shared.shared,
  scales: scales.scales,
  scalesTerms: scales.terms,
  settings,
  sizes: sizes.sizes,
  states,
  solving: solving.solving,
  steps: steps.steps,
  stepsTerms: steps.terms,
  stray,
  trends: trends.trends,
  trendsTerms: trends.terms,
  vessels: vessels.vessels,
  vesselsTerms: vessels.terms,
  outOf: vessels.outOf,
  wall: wall.wall,
  wallTerms: wall.terms,
  yields: yields.yields,
  wire: wires.wire,
  wireTerms: wires.terms,
};

export type Texts = typeof texts;

/** A part of a translation, checked against the English that it stands for. */
export type TextsOf<K extends keyof Texts> = Translation<Texts[K]>;
