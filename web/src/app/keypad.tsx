// Digits on keys for gloves, beside a field for a keyboard.

import type { TargetedInputEvent } from "preact";
import { useSignal } from "@preact/signals";
import { useEffect, useRef } from "preact/hooks";
import { Complaint } from "./dialogs.tsx";
import { Said } from "./said.tsx";

/** What is said of digits that were refused, and the seconds to wait. */
export interface Refused {
  text: string;
  wait_s: number;
}

interface Props {
  label: string;
  /** Whose digits they are: where that changes the field is gone to anew. */
  of?: string;
  words: { digits(n: number): string; erase: string; ok: string; waits(seconds: number): string; checking: string };
  /** `secret`: dots stand for the digits. */
  field: { secret: boolean; name: string; autocomplete: string };
  /** What stands there after a key. */
  take(before: string, key: string): string;
  /** How it is written in the field. */
  shown?(digits: string): string;
  /** Whether it can be sent. */
  whole(digits: string): boolean;
  /** Is given the digits and says what was wrong with them. */
  send(digits: string): Promise<Refused | null>;
}

export function Keypad({ label, of = "", words, field, take, shown = (digits) => digits, whole, send }: Props) {
  const digits = useSignal("");
  const said = useSignal("");
  const wait = useSignal(0);
  const busy = useSignal(false);
  const input = useRef<HTMLInputElement>(null);
  useEffect(() => input.current?.focus(), [of]);
  useEffect(() => {
    if (wait.value <= 0) return;
    const soon = setTimeout(() => (wait.value -= 1), 1000);
    return () => clearTimeout(soon);
  }, [wait.value]);
  const ready = whole(digits.value) && !busy.value && wait.value <= 0;
  const go = async () => {
    if (!ready) return;
    busy.value = true;
    said.value = "";
    const refused = await send(digits.value);
    busy.value = false;
    if (refused === null) return;
    digits.value = "";
    said.value = refused.text;
    wait.value = refused.wait_s;
    input.current?.focus();
  };
  const press = (key: string) => {
    digits.value = take(digits.value, key);
    said.value = "";
  };
  // A key that was touched gives the focus back, so that a keyboard goes on where fingers left off.
  const touched = (event: MouseEvent, key: string) => {
    press(key);
    if (event.detail > 0) input.current?.focus();
  };
  const written = {
    ref: input,
    name: field.name,
    autocomplete: field.autocomplete,
    inputMode: "none",
    "aria-description": words.digits(digits.value.length),
    value: shown(digits.value),
    onInput: (e: TargetedInputEvent<HTMLInputElement>) => {
      said.value = "";
      digits.value = [...e.currentTarget.value].reduce(take, "");
      e.currentTarget.value = shown(digits.value);
    },
  } as const;
  return (
    <form
      class="keypad"
      onSubmit={(event) => {
        event.preventDefault();
        void go();
      }}
    >
      <label class="field pin-field">
        <span>{label}</span>
        {field.secret ? <input type="password" {...written} /> : <input type="text" {...written} />}
      </label>
      <div class="keypad-keys">
        {["1", "2", "3", "4", "5", "6", "7", "8", "9"].map((digit) => (
          <button type="button" class="plain key" key={digit} onClick={(e) => touched(e, digit)}>
            {digit}
          </button>
        ))}
        <button type="button" class="plain key key-word" onClick={(e) => touched(e, "Backspace")}>
          {words.erase}
        </button>
        <button type="button" class="plain key" onClick={(e) => touched(e, "0")}>
          0
        </button>
        <button type="submit" class="solid key" disabled={!ready}>
          {words.ok}
        </button>
      </div>
      {wait.value > 0 && (
        <p class="complaint" role="status">
          <Said text={words.waits(wait.value)} />
        </p>
      )}
      {busy.value ? <p class="hint" role="status">{words.checking}</p> : <Complaint text={said.value} />}
    </form>
  );
}
