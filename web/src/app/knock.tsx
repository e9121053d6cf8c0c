// The way in for a device that the station does not know: a code of eight digits, on large keys.

import { useEffect, useRef, useState } from "preact/hooks";
import { undone } from "../core/answers.ts";
import { devices, DIGITS, grouped, type This, typed } from "../core/devices.ts";
import { words } from "../core/words.ts";
import { Complaint } from "./dialogs.tsx";
import { forgotten, letIn } from "./door.ts";
import { Said } from "./said.tsx";
import { Shape } from "./shapes.tsx";
import { requests } from "./store.ts";

export function Knock() {
  const w = devices.knock;
  const [code, type] = useState("");
  const [said, say] = useState("");
  const [wait, hold] = useState(0);
  const [busy, be] = useState(false);
  const field = useRef<HTMLInputElement>(null);
  useEffect(() => field.current?.focus(), []);
  useEffect(() => {
    if (wait <= 0) return;
    const soon = setTimeout(() => hold(wait - 1), 1000);
    return () => clearTimeout(soon);
  }, [wait]);
  const ready = code.length === DIGITS && !busy && wait <= 0;
  const press = (key: string) => {
    type((it) => typed(it, key));
    say("");
  };
  const touched = (event: MouseEvent, key: string) => {
    press(key);
    if (event.detail > 0) field.current?.focus();
  };
  const go = async (event: Event) => {
    event.preventDefault();
    if (!ready) return;
    be(true);
    say("");
    const answer = await requests.ask<{ device: This["device"] }>("api/device/pair", { code });
    be(false);
    if (answer.kind === "ok") return letIn({ home: false, device: answer.value.device });
    type("");
    const seconds = answer.kind === "refused" ? (answer.problem.wait_s ?? 0) : 0;
    hold(seconds);
    say(seconds ? "" : answer.kind === "refused" && answer.problem.code === "wrong-code" ? w.wrong : undone(answer));
    field.current?.focus();
  };
  return (
    <main class="page narrow knock" data-testid="knock">
      <h1>{w.title}</h1>
      {forgotten.value && (
        <p class="knock-forgotten" role="status">
          <Shape name="lost" /> {w.forgotten}
        </p>
      )}
      <p>{w.how}</p>
      <form class="keypad" onSubmit={(event) => void go(event)}>
        <label class="field pin-field">
          <span>{w.code}</span>
          <input
            ref={field}
            type="text"
            name="code"
            inputMode="none"
            autocomplete="one-time-code"
            aria-description={w.digits(code.length)}
            value={grouped(code)}
            onInput={(e) => {
              say("");
              const next = [...e.currentTarget.value].reduce(typed, "");
              type(next);
              e.currentTarget.value = grouped(next);
            }}
          />
        </label>
        <div class="keypad-keys">
          {["1", "2", "3", "4", "5", "6", "7", "8", "9"].map((digit) => (
            <button type="button" class="plain key" key={digit} onClick={(e) => touched(e, digit)}>
              {digit}
            </button>
          ))}
          <button type="button" class="plain key key-word" onClick={(e) => touched(e, "Backspace")}>
            {w.erase}
          </button>
          <button type="button" class="plain key" onClick={(e) => touched(e, "0")}>
            0
          </button>
          <button type="submit" class="solid key" disabled={!ready}>
            {w.ok}
          </button>
        </div>
        {wait > 0 && (
          <p class="complaint" role="status">
            <Said text={w.waits(wait)} />
          </p>
        )}
        {busy ? <p class="hint" role="status">{w.checking}</p> : <Complaint text={said} />}
      </form>
      <p class="soft">{words.legal}</p>
    </main>
  );
}
