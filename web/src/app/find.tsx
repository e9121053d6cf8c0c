// Search by typing: whatever the station knows, and every screen. The first hit is one Enter away.

import { useEffect, useRef, useState } from "preact/hooks";
import { address, finding as f, type Hit, screens } from "../core/finding.ts";
import { when } from "../core/numbers.ts";
import { useAsked, useSettled } from "./ask.ts";
import { places } from "./places.ts";
import { Unanswered } from "./trouble.tsx";

const KINDS = ["screen", "formula", "ingredient", "lot", "batch"] as const;

export function FindScreen() {
  const [typed, type] = useState("");
  const [pressed, press] = useState(false);
  const settled = useSettled(typed.trim(), 150);
  const asked = useAsked<{ found: Hit[] }>(settled ? `api/find?q=${encodeURIComponent(settled.slice(0, 120))}` : null);
  const field = useRef<HTMLInputElement>(null);
  const list = useRef<HTMLDivElement>(null);
  useEffect(() => field.current?.focus(), []);
  const hits = [...screens(typed, places().filter((it) => it.id !== "find")), ...(asked.value?.found ?? [])];
  const done = settled === typed.trim() && (settled === "" || asked.value !== null);

  const open = (event: Event) => {
    event.preventDefault();
    press(true);
  };
  // Pressed before the answer is there, Enter waits for it.
  const first = pressed && done ? hits[0] : undefined;
  useEffect(() => {
    if (first) location.hash = address[first.kind](first.id);
  }, [first?.id]);
  const step = (event: KeyboardEvent) => {
    const by = { ArrowDown: 1, ArrowUp: -1 }[event.key];
    if (by === undefined) return;
    const links = [...(list.current?.querySelectorAll<HTMLElement>("a") ?? [])];
    const at = links.indexOf(document.activeElement as HTMLElement) + by;
    event.preventDefault();
    if (at < 0) field.current?.focus();
    else links[Math.min(at, links.length - 1)]?.focus();
  };
  return (
    <main class="page find" onKeyDown={step}>
      <h1>{f.title}</h1>
      <form onSubmit={open} role="search">
        <label class="field">
          <span>{f.label}</span>
          <input ref={field} type="text" inputMode="search" enterkeyhint="search" name="find" value={typed} autocomplete="off" maxLength={120} onInput={(e) => (press(false), type(e.currentTarget.value))} />
        </label>
      </form>
      <p class="hint">{f.how}</p>
      {settled !== "" && asked.value === null && <Unanswered asked={asked} />}
      <p role="status" class="visually-hidden">
        {done && typed.trim() ? (hits.length ? f.found(hits.length) : f.none(typed.trim())) : ""}
      </p>
      {done && typed.trim() && hits.length === 0 && <p>{f.none(typed.trim())}</p>}
      <div ref={list}>
        {KINDS.filter((kind) => hits.some((it) => it.kind === kind)).map((kind) => (
          <section key={kind} class="find-kind">
            <h2>{f.kinds[kind]}</h2>
            <ul>
              {hits
                .filter((it) => it.kind === kind)
                .map((it) => (
                  <li key={it.id}>
                    <a class="find-hit" href={address[kind](it.id)} data-first={it === hits[0]}>
                      <b>{it.name}</b>
                      <span class="soft">
                        {[kind === "screen" ? "" : it.id, kind === "batch" ? when(it.about) : it.about].filter(Boolean).join(", ")}
                      </span>
                    </a>
                  </li>
                ))}
            </ul>
          </section>
        ))}
      </div>
    </main>
  );
}
