// A question to the station that a screen asks when it opens, and may ask again.

import { useEffect, useRef, useState } from "preact/hooks";
import { unanswered } from "../core/answers.ts";
import type { Answer, Problem } from "../core/commands.ts";
import { link, requests, returns } from "./store.ts";

export interface Asked<T> {
  value: T | null;
  /** Why there is no answer, in words; empty while waiting and when answered. */
  trouble: string;
  problem: Problem | null;
  again(): void;
}

/** For lists that others may change meanwhile: they are asked again when a lost station is back. An editor is
 *  not, since another answer would take away what is typed. */
export const ON_RETURN = true;

/** Ask `path` now, when it changes, and when a lost station is back without an answer given. */
export function useAsked<T>(path: string | null, onReturn = false): Asked<T> {
  const [round, next] = useState(0);
  const returned = onReturn ? returns.value : 0;
  const [got, keep] = useState<{ path: string | null; value: T | null; trouble: string; problem: Problem | null }>({
    path: null,
    value: null,
    trouble: "",
    problem: null,
  });
  const lost = got.path === path && got.trouble !== "" && got.problem === null;
  const back = lost && link.value === "live";
  useEffect(() => {
    if (path === null) return;
    let mine = true;
    void requests.get<T>(path).then((answer) => {
      if (!mine) return;
      const value = answer.kind === "ok" ? answer.value : null;
      keep({ path, value, trouble: unanswered(answer), problem: answer.kind === "refused" ? answer.problem : null });
    });
    return () => {
      mine = false;
    };
  }, [path, round, returned]);
  useEffect(() => {
    if (!back) return;
    const soon = setTimeout(() => next((n) => n + 1), 1000);
    return () => clearTimeout(soon);
  }, [back, got]);
  const here = got.path === path;
  return {
    value: here ? got.value : null,
    trouble: here ? got.trouble : "",
    problem: here ? got.problem : null,
    again: () => {
      keep((it) => ({ ...it, trouble: "", problem: null }));
      next((n) => n + 1);
    },
  };
}

/** The newest answer there was about `of`, and whether it is the one to what is asked now. */
export function useNewest<T>(asked: Asked<T>, of: string): { value: T | null; present: boolean } {
  const last = useRef<{ of: string; value: T } | null>(null);
  if (asked.value !== null) last.current = { of, value: asked.value };
  const kept = last.current?.of === of ? last.current.value : null;
  return { value: asked.value ?? kept, present: asked.value !== null };
}

/** Send `text` to `path` whenever typing has paused and it is `ready`, and again when a lost station is back;
 *  only the answer to the newest is told, with the text that it is of. */
export function useSaidOf<T>(path: string, text: string, ready: boolean, told: (answer: Answer<T>, text: string) => void): void {
  const settled = useSettled(text);
  const back = link.value === "live";
  useEffect(() => {
    if (!ready) return;
    let mine = true;
    void requests.ask<T>(path, JSON.parse(settled) as object).then((answer) => mine && told(answer, settled));
    return () => {
      mine = false;
    };
  }, [settled, back]);
}

/** What was typed, once typing has paused: each key press is not a request. */
export function useSettled<T>(value: T, ms = 250): T {
  const [settled, settle] = useState(value);
  useEffect(() => {
    const soon = setTimeout(() => settle(value), ms);
    return () => clearTimeout(soon);
  }, [value]);
  return settled;
}
