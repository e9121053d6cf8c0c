// The hand that pours, kept on this device. The page is laid out by it in style/hands.css.

import { effect, signal } from "@preact/signals";
import { type Hand, handOf } from "../core/settings.ts";
import { recall, remember } from "./store.ts";

export const hand = signal<Hand>(handOf(recall("hand")));

effect(() => {
  document.documentElement.dataset["hand"] = hand.value;
});

export function pourWith(it: Hand): void {
  hand.value = it;
  remember("hand", it);
}
