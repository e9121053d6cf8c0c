// The pedal of this device, and when what it would do last became another thing.

import { computed, effect, signal } from "@preact/signals";
import { primary } from "../core/choice.ts";
import { keyOf, type PedalKey, readPedal } from "../core/pedal.ts";
import { told, trouble } from "./recovering.ts";
import { asking, batch, complaint, dialog, fresh, inProcess, live, recall, remember, route, scales, signing, stance } from "./store.ts";

export const pedalKey = signal<PedalKey | null>(readPedal(recall("pedal")));

export function keepPedal(it: PedalKey | null): void {
  pedalKey.value = it === null ? null : keyOf(it);
  remember("pedal", it === null ? "" : JSON.stringify(pedalKey.value));
}

/** What a press would do: nothing in it moves by itself from one reading to the next. */
const meaning = computed(() => {
  void stance.value;
  const it = live.peek();
  const { screen } = route.value;
  const here = [screen, fresh.value, dialog.value, signing.value, asking.value !== null];
  if (screen === "process") {
    return JSON.stringify([here, inProcess.value.batches.map((one) => [one.id, one.state, one.step, one.can, one.now?.out, one.now?.awaited, one.now?.hold?.satisfied])]);
  }
  if (screen === "check") {
    return JSON.stringify([here, Object.values(scales.value).map(({ check }) => [check?.running?.wanted, check?.running?.current?.n, check?.running?.odd_g === null])]);
  }
  return JSON.stringify([here, batch.value?.id, batch.value?.status, it?.addition, it?.verdict, primary(it)?.do, trouble.value, told.value !== null, complaint.value]);
});

/** When it did, on this page's clock, in ms. */
let since = 0;
effect(() => {
  void meaning.value;
  since = performance.now();
});
export const changedAt = (): number => since;
