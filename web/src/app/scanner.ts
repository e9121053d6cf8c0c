// Scans that were heard, for whichever screen is there; and what the station says they are.

import { signal } from "@preact/signals";
import { useEffect, useRef } from "preact/hooks";
import type { Scan } from "../core/lots.ts";
import { requests } from "./store.ts";

/** The newest scan: its text, and a count that tells it from one of the same text before. */
export const heard = signal<{ text: string; n: number } | null>(null);

export function tell(text: string): void {
  heard.value = { text, n: (heard.peek()?.n ?? 0) + 1 };
}

/** How many screens wait for scans: where none does, what is typed fast is only typed. */
let waiting = 0;

export const listening = (): boolean => waiting > 0;

/** Ask the station what each scan is while a screen stands; those from before are not its. */
export function useScans(taken: (scan: Scan) => void): void {
  const first = useRef(heard.peek()?.n ?? 0);
  const newest = heard.value;
  const take = useRef(taken);
  take.current = taken;
  useEffect(() => {
    waiting += 1;
    return () => {
      waiting -= 1;
    };
  }, []);
  useEffect(() => {
    if (newest === null || newest.n === first.current) return;
    first.current = newest.n;
    void requests.ask<Scan>("api/scan", { text: newest.text }).then((answer) => {
      if (answer.kind === "ok") take.current(answer.value);
    });
  }, [newest]);
}
