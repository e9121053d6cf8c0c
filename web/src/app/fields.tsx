// Fields with their faults, and saving a draft into a file of the kitchen.

import type { ComponentChildren } from "preact";
import { useEffect, useId, useRef, useState } from "preact/hooks";
import { refusedAs, undone } from "../core/answers.ts";
import type { Answer, Problem } from "../core/commands.ts";
import type { Fault } from "../core/drafts.ts";
import { words } from "../core/words.ts";
import { Said } from "./said.tsx";
import { Shape } from "./shapes.tsx";

const w = words.pantry;

interface FieldProps {
  label: string;
  hint?: string;
  name: string;
  value: string;
  type(text: string): void;
  fault?: string | undefined;
  number?: boolean;
  long?: boolean;
  unit?: string;
  /** Where there is room the label stands once over the column, and here only for who cannot see it. */
  bare?: boolean;
}

/** A line (or a few) to type, with what is wrong with it below. */
export function Field({ label, hint, name, value, type, fault, number, long, unit, bare }: FieldProps) {
  const id = useId();
  const common = {
    id,
    name,
    value,
    "aria-invalid": fault ? ("true" as const) : undefined,
    "aria-describedby": fault ? `${id}-fault` : undefined,
    autocomplete: "off",
  };
  return (
    <div class={bare ? "field bare" : "field"}>
      <label for={id}>
        {label} {hint && <small>{hint}</small>}
      </label>
      <span class={unit ? "with-unit" : undefined}>
        {long ? (
          <textarea {...common} rows={2} onInput={(e) => type(e.currentTarget.value)} />
        ) : (
          <input {...common} type="text" inputMode={number ? "decimal" : "text"} onInput={(e) => type(e.currentTarget.value)} />
        )}
        {unit && <span aria-hidden="true">{unit}</span>}
      </span>
      <Wrong id={id} text={fault} />
    </div>
  );
}

/** What is wrong with a field, which names it as its description. */
export function Wrong({ id, text }: { id: string; text: string | undefined }) {
  if (!text) return null;
  return (
    <small class="fault" id={`${id}-fault`}>
      <Shape name="warn" />
      <Said text={w.fault(text)} />
    </small>
  );
}

interface PickProps {
  label: string;
  hint?: string;
  name: string;
  value: string;
  options: [string, string][];
  pick(value: string): void;
  fault?: string | undefined;
  bare?: boolean;
}

/** One of several; a value that is none of them is shown as it is. */
export function Pick({ label, hint, name, value, options, pick, fault, bare }: PickProps) {
  const id = useId();
  return (
    <div class={bare ? "field bare" : "field"}>
      <label for={id}>
        {label} {hint && <small>{hint}</small>}
      </label>
      <select
        id={id}
        name={name}
        value={value}
        aria-invalid={fault ? "true" : undefined}
        aria-describedby={fault ? `${id}-fault` : undefined}
        onChange={(e) => pick(e.currentTarget.value)}
      >
        {!options.some(([one]) => one === value) && <option value={value}>{value}</option>}
        {options.map(([one, text]) => (
          <option key={one} value={one}>
            {text}
          </option>
        ))}
      </select>
      <Wrong id={id} text={fault} />
    </div>
  );
}

/** Drafts that were left for another screen, until they are saved: by the address of their screen. */
const left = new Map<string, unknown>();

/** State that outlives its screen, as long as the page stays open. It is given the next value, or how it
 *  comes of the newest one; `forget` lets go of it where it is still the one that was saved. */
export function useKept<T>(key: string, first: () => T): [T, (next: T | ((now: T) => T)) => void, (saved?: T) => boolean] {
  const [value, set] = useState<T>(() => (left.has(key) ? (left.get(key) as T) : first()));
  const newest = useRef(value);
  const keep = (next: T | ((now: T) => T)) => {
    newest.current = typeof next === "function" ? (next as (now: T) => T)(newest.current) : next;
    left.set(key, newest.current);
    set(newest.current);
  };
  const forget = (saved?: T) => (saved === undefined || saved === newest.current) && left.delete(key);
  return [value, keep, forget];
}

export function isKept(key: string): boolean {
  return left.has(key);
}

export interface Saving {
  busy: boolean;
  said: string;
  trouble: string;
  faults: Fault[];
  /** The file is another by now: it has to be read again. */
  conflict: boolean;
  send<T>(what: () => Promise<Answer<T>>): Promise<T | null>;
  clear(): void;
}

/** Sends a change, and tells what became of it. */
export function useSaving(): Saving {
  const [state, set] = useState({ busy: false, said: "", trouble: "", faults: [] as Fault[], conflict: false });
  const running = useRef(false);
  return {
    ...state,
    clear: () => set({ busy: false, said: "", trouble: "", faults: [], conflict: false }),
    async send(what) {
      if (running.current) return null;
      running.current = true;
      set({ busy: true, said: "", trouble: "", faults: [], conflict: false });
      const answer = await what();
      running.current = false;
      const none = { busy: false, said: "", trouble: "", faults: [] as Fault[], conflict: false };
      if (answer.kind === "ok") {
        set({ ...none, said: w.saved });
        return answer.value;
      }
      if (answer.kind === "unreachable") set({ ...none, trouble: undone(answer) });
      else set({ ...none, ...told(answer.problem) });
      return null;
    },
  };
}

function told(it: Problem): { trouble: string; faults: Fault[]; conflict: boolean } {
  const faults = it.errors?.length ? it.errors : [{ where: it.where, message: it.detail }];
  return {
    trouble: refusedAs(it),
    faults,
    conflict: it.code === "changed-since",
  };
}

interface BarProps {
  saving: Saving;
  fixed: string;
  changed: boolean;
  again(): void;
  /** What should be in sight beside the button. */
  children?: ComponentChildren;
}

/** The big button of a draft, and what became of it. */
export function SaveBar({ saving, fixed, changed, again, children }: BarProps) {
  return (
    <div class="save-bar">
      {saving.trouble && (
        <p class="complaint" role="alert">
          <Said text={saving.trouble} />
        </p>
      )}
      {saving.conflict && (
        <button type="button" class="plain" onClick={again}>
          <span>
            {w.reload} <small>{w.reloadHint}</small>
          </span>
        </button>
      )}
      {fixed && <p class="hint">{fixed}</p>}
      <div class="save-row">
        <div>
          {children}
          <p class="soft" role="status">
            {saving.said && !changed ? saving.said : changed ? w.notSaved : ""}
          </p>
          <p class="soft save-key">{w.saveWithKey}</p>
        </div>
        <button type="submit" class="solid" disabled={saving.busy || Boolean(fixed)}>
          {saving.busy ? w.saving : w.save}
        </button>
      </div>
    </div>
  );
}

/** A button that wants to be pressed twice. */
export function Twice({ text, hint, press, disabled }: { text: string; hint?: string; press(): void; disabled?: boolean }) {
  const [sure, ask] = useState(false);
  return (
    <button
      type="button"
      class="plain danger-text"
      disabled={disabled}
      onBlur={() => ask(false)}
      onClick={() => {
        if (sure) press();
        ask(!sure);
      }}
    >
      <span>
        {sure ? w.sure : text} {hint && <small>{hint}</small>}
      </span>
    </button>
  );
}

/** Ctrl and Enter send the form they are pressed in. */
export function sendsByKey(event: KeyboardEvent): void {
  if (event.key !== "Enter" || !(event.ctrlKey || event.metaKey)) return;
  event.preventDefault();
  (event.currentTarget as HTMLFormElement).requestSubmit();
}

/** The browser asks before it leaves what is not saved. */
export function useLeaving(changed: boolean): void {
  useEffect(() => {
    if (!changed) return;
    const ask = (event: BeforeUnloadEvent) => event.preventDefault();
    addEventListener("beforeunload", ask);
    return () => removeEventListener("beforeunload", ask);
  }, [changed]);
}
