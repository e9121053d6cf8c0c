// The pedal under Settings: learned by a press, shown, tested, forgotten.

import { useEffect, useRef, useState } from "preact/hooks";
import { keyWords } from "../core/keys.ts";
import { isModifier, isPedal, keyOf, nameOf, pedal as w, type PedalKey, plainKey, refusedKey, takenFrom, type Why } from "../core/pedal.ts";
import { GAP_MS } from "../core/wedge.ts";
import { words } from "../core/words.ts";
import { keepPedal, pedalKey } from "./pedal-key.ts";

/** A key waits this long for another one: then it came alone, in ms. */
const ALONE_MS = GAP_MS + 10;
const CONTROL = "button, a, summary, label, input, select, textarea";

/** Hears one key, whichever it is; keys on buttons and fields are left to them. */
function useLearning(panel: { current: HTMLElement | null }, learn: (it: PedalKey) => void, refuse: (why: Why) => void): void {
  useEffect(() => {
    panel.current?.focus();
    let held: string | null = null;
    let waits: ReturnType<typeof setTimeout> | undefined;
    let one: PedalKey | null = null;
    const elsewhere = (event: Event) => event.target instanceof Element && event.target !== panel.current && event.target.closest(CONTROL) !== null;
    const down = (event: KeyboardEvent) => {
      if (elsewhere(event)) return;
      event.stopImmediatePropagation();
      const it = keyOf(event);
      const why = refusedKey(it);
      if (why !== "tab") event.preventDefault(); // nobody is kept where only a key leads away
      if (event.repeat) return;
      held = isModifier(it.key) ? it.key : null;
      if (held !== null) return;
      if (one !== null) {
        clearTimeout(waits);
        one = null;
        return refuse("several");
      }
      if (why !== null) return refuse(why);
      one = it;
      waits = setTimeout(() => learn(it), ALONE_MS);
    };
    const up = (event: KeyboardEvent) => {
      if (held !== null && event.key === held) refuse("modifier");
      held = null;
    };
    const click = (event: PointerEvent) => {
      if (event.pointerType === "mouse" && !elsewhere(event)) refuse("mouse");
    };
    document.addEventListener("keydown", down, true);
    document.addEventListener("keyup", up, true);
    document.addEventListener("pointerdown", click, true);
    return () => {
      clearTimeout(waits);
      document.removeEventListener("keydown", down, true);
      document.removeEventListener("keyup", up, true);
      document.removeEventListener("pointerdown", click, true);
    };
  }, []);
}

function Learning({ done }: { done(): void }) {
  const panel = useRef<HTMLDivElement>(null);
  const [why, refuse] = useState<Why | null>(null);
  const learn = (it: PedalKey) => {
    keepPedal(it);
    done();
  };
  useLearning(panel, learn, refuse);
  return (
    <>
      <div class="pedal-panel" ref={panel} tabIndex={-1} role="group" aria-label={w.press} data-testid="pedal-panel">
        <b>{w.press}</b>
        <span>{w.pressMore}</span>
      </div>
      <p class={why === null ? "visually-hidden" : "complaint"} role="alert">
        {why !== null && w.refused(why)}
      </p>
      <button type="button" class="plain" onClick={done}>
        {words.cancel}
      </button>
    </>
  );
}

/** Counts presses of the pedal while Settings stand. */
function useHeard(it: PedalKey): { heard: number; held: boolean } {
  const [heard, count] = useState(0);
  const [held, hold] = useState(false);
  useEffect(() => {
    count(0);
    const down = (event: KeyboardEvent) => {
      if (!isPedal(it, event)) return;
      if (event.repeat) return hold(true);
      count((n) => n + 1);
    };
    const up = (event: KeyboardEvent) => event.code === it.code && hold(false);
    document.addEventListener("keydown", down);
    document.addEventListener("keyup", up);
    return () => {
      document.removeEventListener("keydown", down);
      document.removeEventListener("keyup", up);
    };
  }, [it]);
  return { heard, held };
}

function Learned({ it, again, forget }: { it: PedalKey; again(): void; forget(): void }) {
  const { heard, held } = useHeard(it);
  const gone = takenFrom(it).map((wish) => keyWords.what(wish));
  const native = plainKey(it) === " " || plainKey(it) === "Enter";
  return (
    <>
      <p>
        {w.is} <kbd data-testid="pedal-key">{nameOf(it)}</kbd>
      </p>
      {gone.length > 0 && <p class="soft">{w.instead(gone.join(", "))}</p>}
      {native && <p class="soft">{w.enter}</p>}
      <p class={heard > 0 ? "pedal-panel pedal-heard" : "pedal-panel"} role="status" data-testid="pedal-heard">
        {heard > 0 ? w.heard(heard) : w.test} {held && w.held}
      </p>
      <div class="row">
        <button type="button" class="plain" onClick={again}>
          {w.other}
        </button>
        <button type="button" class="plain" onClick={forget}>
          {w.forget}
        </button>
      </div>
    </>
  );
}

export function Pedal() {
  const it = pedalKey.value;
  const [learning, learn] = useState(false);
  const [forgot, mark] = useState(false);
  const begin = () => {
    mark(false);
    learn(true);
  };
  return (
    <section class="settings-part" data-testid="pedal">
      <h2>{w.title}</h2>
      <p>{w.lead}</p>
      {learning ? (
        <Learning done={() => learn(false)} />
      ) : it !== null ? (
        <Learned
          it={it}
          again={begin}
          forget={() => {
            keepPedal(null);
            mark(true);
          }}
        />
      ) : (
        <button type="button" class="plain" onClick={begin}>
          {w.learn}
        </button>
      )}
      <p role="status">{forgot && it === null ? w.forgotten : ""}</p>
      <p class="soft">{w.rules}</p>
    </section>
  );
}
