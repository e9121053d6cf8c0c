// Scans that were heard, for whichever screen is there; and what the station says they are.

import { signal } from "@preact/signals";
import { useEffect, useRef } from "preact/hooks";
import { refusedAs } from "../core/answers.ts";
import type { Answer } from "../core/commands.ts";
import type { Scan } from "../core/lots.ts";
import { stray } from "../core/stray.ts";
import { SEPARATOR } from "../core/wedge.ts";
import { live, requests } from "./store.ts";

/** The newest scan: its text, and a count that tells it from one of the same text before. */
export const heard = signal<{ text: string; n: number } | null>(null);

export function tell(text: string): void {
  heard.value = { text, n: (heard.peek()?.n ?? 0) + 1 };
}

/** How many screens wait for scans: where none does, what is typed fast is only typed. */
let waiting = 0;

export const listening = (): boolean => waiting > 0;

/** What is told of a scan with which nothing was done; empty where there is none. */
export const astray = signal("");
addEventListener("hashchange", () => {
  astray.value = "";
});

/** A scan that nobody here waits for. */
export function lose(text: string): void {
  astray.value = stray.notHere(printable(text));
}

const printable = (text: string) => text.replaceAll(SEPARATOR, " ");

/** Asking changes nothing, so that it is tried again where the network failed. */
const TRIES = 3;

async function whatIs(text: string): Promise<Answer<Scan>> {
  let answer: Answer<Scan> = { kind: "unreachable" };
  for (let n = 0; n < TRIES && answer.kind === "unreachable"; n += 1) answer = await requests.ask<Scan>("api/scan", { text });
  return answer;
}

// One after the other: of two scans the later one counts, however their answers come.
let line: Promise<unknown> = Promise.resolve();

/** Ask the station what each scan is while a screen stands; those from before are not its. */
export function useScans(taken: (scan: Scan) => void): void {
  const first = useRef(heard.peek()?.n ?? 0);
  const newest = heard.value;
  const take = useRef<((scan: Scan) => void) | null>(taken);
  take.current = taken;
  useEffect(() => {
    waiting += 1;
    return () => {
      waiting -= 1;
      take.current = null;
    };
  }, []);
  useEffect(() => {
    if (newest === null || newest.n === first.current) return;
    first.current = newest.n;
    astray.value = "";
    const meant = `${live.peek()?.batch}/${live.peek()?.addition}`;
    line = line.then(async () => {
      const answer = await whatIs(newest.text);
      if (take.current === null) return;
      if (answer.kind === "unreachable") astray.value = stray.unheard(printable(newest.text));
      else if (answer.kind === "refused") astray.value = refusedAs(answer.problem);
      else if (meant !== `${live.peek()?.batch}/${live.peek()?.addition}`) astray.value = stray.late(printable(newest.text));
      else take.current(answer.value);
    });
  }, [newest]);
}
