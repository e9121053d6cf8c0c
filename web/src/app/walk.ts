// How far the first weighing is, on this device: nothing, "on", or the batch that it came to.

import { computed, signal } from "@preact/signals";
import { batch, recall, remember, scales, station } from "./store.ts";

export const walk = signal(recall("first"));

export function setWalk(to: string): void {
  walk.value = to;
  remember("first", to);
}

/** The station ends and begins anew because this page asked for it: no reason to worry anybody. */
export const bridging = signal(false);

/** Nothing can be weighed on yet. */
export const unscaled = computed(() => station.value !== null && Object.keys(scales.value).length === 0);

/** The batch on the board, or the one just done, is the first. */
export const isFirst = computed(() => batch.value !== null && walk.value === batch.value.id);

export const simulated = computed(() => station.value?.simulation ?? false);
