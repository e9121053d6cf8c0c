// What was said to have gone wrong, and which way stands ready for the big button.

import { computed, effect, signal } from "@preact/signals";
import { primary } from "../core/choice.ts";
import type { Live } from "../core/frames.ts";
import { type Recovery, ready, seen, type Trouble } from "../core/recovery.ts";
import { typedMass } from "../core/numbers.ts";
import { act, batch, dialog, fresh, live, stance } from "./store.ts";

/** What somebody said went wrong; an over-pour the scale shows by itself. */
export const said = signal<Trouble | null>(null);
/** Of a wrong ingredient, which it is. */
export const was = signal("");
export const dry = signal<"" | "yes" | "no">("");
export const picked = signal("");
/** What the bowl takes, what is left of an ingredient by its id, what else may be put in. */
export const bowl = signal("");
export const left = signal<Record<string, string>>({});
export const extras = signal<string[]>([]);
export const told = signal<Recovery | null>(null);
/** A press that was meant for what stood there before must not act on what has just come. */
const SETTLE_MS = 600;
let since = 0;
/** What was just said may bring another way to the front: Enter is to stand on that one. */
let stands = false;

export const trouble = computed<Trouble | null>(() => {
  void stance.value;
  const it = live.peek();
  if (it === null || !it.can.includes("put right") || !fresh.value) return null;
  if (said.value === "wrong ingredient" && was.value === "") return seen(it);
  return said.value ?? seen(it);
});

export const chosen = computed(() => (trouble.value === null ? null : ready(told.value, picked.value)));

/** What is asked of the station; null while there is nothing to put right. */
export const question = computed(() => {
  const what = trouble.value;
  const of = batch.value;
  if (what === null || of === null) return null;
  const given = new URLSearchParams({ cause: what });
  if (what === "wrong ingredient") given.set("was", was.value);
  if (dry.value) given.set("dry", dry.value);
  if (bowl.value) given.set("bowl_holds_g", bowl.value);
  const rest = Object.entries(left.value).map(([id, text]) => `${id}:${typedMass(text) ?? text.trim()}`);
  if (rest.length > 0) given.set("on_hand", rest.join(","));
  if (extras.value.length > 0) given.set("add", extras.value.join(","));
  return `api/batches/${encodeURIComponent(of.id)}/recovery?${given}`;
});

const about = computed(() => {
  void stance.value;
  const it = live.peek();
  return `${it?.batch}/${it?.addition}/${it?.phase === "pouring"}/${batch.value?.put_right?.length ?? 0}`;
});

// What was said of one addition is no longer true of the next, nor once more is poured.
effect(() => {
  void about.value;
  forget();
});

// The bowl is the same for the whole batch.
const ofBatch = computed(() => batch.value?.id ?? "");
effect(() => {
  void ofBatch.value;
  bowl.value = "";
});

export function forget(): void {
  said.value = null;
  was.value = "";
  dry.value = "";
  picked.value = "";
  left.value = {};
  extras.value = [];
  told.value = null;
}

/** Choose a way, and have Enter stand on it. */
export function pick(way: string): void {
  picked.value = way;
  stand();
}

function stand(): void {
  requestAnimationFrame(() => document.querySelector<HTMLElement>(".way input:checked")?.focus());
}

/** Say whether it can be taken out; `out`: the way that does it. */
export function answer(it: "yes" | "no", out: string): void {
  dry.value = it;
  since = performance.now();
  pick(it === "yes" ? out : "");
  stands = true;
}

export function answered(it: Recovery | null): void {
  if (it !== null && told.peek() === null) since = performance.now();
  told.value = it;
  if (it === null || !stands) return;
  stands = false;
  const at = document.activeElement;
  if (at === null || at === document.body || at.matches(".way input")) stand();
}

/** What the big button does: the way that stands ready, or what the station offers first. */
export function press(it: Live | null): void {
  const way = chosen.peek();
  if (way === null) return act(primary(it));
  if (!fresh.peek() || performance.now() - since < SETTLE_MS) return;
  if (way.command === "put right") dialog.value = "recover";
  else if (way.command === "abandon") dialog.value = "abandon";
  else act({ do: way.command === "accept" ? "accept with reason" : "take out" });
}
