// German. Loaded only where it is chosen; terms are in README.md beside this file.

import type { Texts } from "../../core/texts.ts";
import type { Translation } from "../../core/translation.ts";
import * as after from "./after.ts";
import * as before from "./before.ts";
import * as checks from "./checks.ts";
import * as counter from "./counter.ts";
import * as desk from "./desk.ts";
import { first } from "./first.ts";
import * as devices from "./devices.ts";
import * as floor from "./floor.ts";
import * as outgoing from "./outgoing.ts";
import { page, pageTerms } from "./page.ts";
import * as people from "./people.ts";
import { refusals } from "./refusals.ts";
import * as revisions from "./revisions.ts";
import * as results from "./results.ts";
import { settings } from "./settings.ts";
import * as steps from "./steps.ts";
import * as stock from "./stock.ts";
import { stray } from "./stray.ts";
import * as weighing from "./weighing.ts";
import * as working from "./working.ts";

export const de: Translation<Texts> = {
  page, pageTerms, first, refusals, settings, stray,
  ...after, ...before, ...weighing, ...working, ...outgoing, ...checks, ...people, ...devices, ...steps, ...stock, ...desk, ...results, ...revisions, ...floor, ...counter,
};
