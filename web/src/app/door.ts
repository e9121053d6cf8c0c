// Whether this device may come in at all. Asked when the link is lost: a station that is away and one that has shut
// its door look the same to a socket. It has a way of its own to the station, so that a screen on the wall has it too.

import { effect, signal } from "@preact/signals";
import type { This } from "../core/devices.ts";
import { knocks, recall, remember, shut, theLink } from "./store.ts";

/** It was known once. */
export const forgotten = signal(false);

let asking = false;

export async function askDoor(): Promise<void> {
  if (asking) return;
  asking = true;
  try {
    const answer = await fetch(new URL("api/device", document.baseURI), { cache: "no-store" });
    if (!answer.ok) return; // an older station, or one that is told of elsewhere
    const it = (await answer.json()) as This;
    if (it.home || it.device !== null) letIn(it);
    else {
      forgotten.value = recall("let-in") !== "";
      shut.value = true;
    }
  } catch {
    // the station is away: the page says so by itself
  } finally {
    asking = false;
  }
}

export function letIn(it: This): void {
  remember("let-in", it.device?.name ?? "");
  if (!shut.peek()) return;
  shut.value = false;
  forgotten.value = false;
  theLink.retry();
}

effect(() => {
  if (knocks.value > 0) void askDoor();
});
