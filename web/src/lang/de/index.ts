// German. Loaded only where it is chosen; terms are in README.md beside this file.

import type { Texts } from "../../core/texts.ts";
import type { Translation } from "../../core/translation.ts";
import { page, pageTerms } from "./page.ts";
import { refusals } from "./refusals.ts";
import { settings } from "./settings.ts";
import * as weighing from "./weighing.ts";

export const de: Translation<Texts> = { page, pageTerms, refusals, settings, ...weighing };
