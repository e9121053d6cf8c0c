// Which language this device speaks, put over the English before anything is drawn.

import { writeAs } from "../core/locale.ts";
import { type Language, languageOf, showingOf, tagOf } from "../core/settings.ts";
import { texts } from "../core/texts.ts";
import { putOver } from "../core/translation.ts";
import { recall, remember } from "./store.ts";

/** Each language but English comes in a file of its own, asked for only where it is chosen. */
const LOADED: Record<Exclude<Language, "en">, () => Promise<object>> = {
  de: () => import("../lang/de/index.ts").then((it) => it.de),
};

export const language = (): Language => languageOf(recall("language"), navigator.languages);
export const showing = () => showingOf(recall("units"));

/** Once, before the first thing is drawn. Where a language cannot be loaded, the page speaks English. */
export async function speak(): Promise<void> {
  const chosen = language();
  document.documentElement.lang = "en";
  writeAs(tagOf(chosen, navigator.languages), showing());
  if (chosen === "en") return;
  try {
    putOver(texts, await LOADED[chosen]());
    document.documentElement.lang = chosen;
  } catch {
    writeAs(tagOf("en", navigator.languages), showing());
  }
}

/** Keeps a choice and draws the page anew with it: the address stays, and nothing is typed there. */
export function choose(name: "language" | "units", value: string): void {
  remember(name, value);
  location.reload();
}
