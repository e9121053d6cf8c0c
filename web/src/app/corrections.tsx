// Putting right what somebody wrote in a batch: what stood struck out beside what stands, and a form.

import type { ComponentChildren } from "preact";
import { createContext } from "preact";
import { useContext, useEffect, useRef, useState } from "preact/hooks";
import { refusedAs } from "../core/answers.ts";
import type { Problem } from "../core/commands.ts";
import {
  corrections as w,
  entryOf,
  fieldOf,
  type Form,
  madeOf,
  toSend,
  type Correction,
  type WrittenEntry,
  type Written,
  wantsConfirming,
} from "../core/corrections.ts";
import type { Scan } from "../core/lots.ts";
import { stamp } from "../core/numbers.ts";
import { words } from "../core/words.ts";
import { useAsked, useNewest } from "./ask.ts";
import { Sheet } from "./dialogs.tsx";
import { Field } from "./fields.tsx";
import { NameField } from "./person.tsx";
import { Said } from "./said.tsx";
import { useScans } from "./scanner.ts";
import { operator, requests } from "./store.ts";

interface Book {
  it: Written | null;
  open(entry: number): void;
}

const Here = createContext<Book>({ it: null, open: () => undefined });

/** What can be put right in a batch, for all that is inside; `again` when something was. */
export function Correctable({ batch, again, children }: { batch: string; again(): void; children: ComponentChildren }) {
  const asked = useAsked<Written>(`api/batches/${encodeURIComponent(batch)}/corrections`);
  const [at, open] = useState<number | null>(null);
  const [said, say] = useState("");
  const { value: it } = useNewest(asked, batch);
  const entry = at === null ? null : entryOf(it, at);
  const done = (field: string) => {
    open(null);
    say(w.done(w.field(field)));
    asked.again();
    again();
  };
  return (
    <Here.Provider value={{ it, open: (n) => (say(""), open(n)) }}>
      {children}
      <p class="visually-hidden" role="status" data-testid="corrected-said">
        {said}
      </p>
      {entry !== null && (
        <CorrectDialog key={at} batch={batch} entry={entry} away={() => open(null)} done={done} again={asked.again} />
      )}
    </Here.Provider>
  );
}

/** The quiet button at what somebody wrote. */
export function Correct({ entry, what }: { entry: number; what: string }) {
  const here = useContext(Here);
  if (entryOf(here.it, entry) === null) return null;
  return (
    <button type="button" class="plain correct no-print" aria-label={w.openOf(what)} data-entry={entry} onClick={() => here.open(entry)}>
      {w.open}
    </button>
  );
}

/** The fields of an entry that hold a lot, in their order; none where the station did not say. */
export function useLots(entry: number): [string, string][] {
  const { it } = useContext(Here);
  const fields = entryOf(it, entry)?.fields ?? {};
  return Object.entries(fields).filter(([name]) => /^lot( \d+)?$/.test(name));
}

/** A field as it stands: what was recorded first is struck out, and all there was can be opened. */
export function Stands({ entry, field, first, none, brief }: { entry: number; field: string; first: string; none?: string; brief?: boolean }) {
  const { it } = useContext(Here);
  const made = madeOf(it, entry, field);
  if (made.length === 0) return <>{first || none}</>;
  const now = made[made.length - 1]!.new;
  if (brief)
    return (
      <>
        <s>{made[0]!.old || none || w.nothing}</s> {now || none || w.nothing}
      </>
    );
  return (
    <span class="stands">
      <s>{made[0]!.old || none || w.nothing}</s> <b>{now || none || w.nothing}</b>
      <details class="former">
        <summary>{w.times(made.length)}</summary>
        <ol>
          {made.map((one) => (
            <li key={one.n}>
              <Change it={one} />
            </li>
          ))}
        </ol>
      </details>
    </span>
  );
}

function Change({ it }: { it: Correction }) {
  return (
    <>
      <s>{it.old || w.nothing}</s> <b>{it.new || w.nothing}</b> <q>{it.reason}</q>{" "}
      <span class="soft">
        {[w.whenWho(it), w.although(it.although)].filter(Boolean).join(", ")}
      </span>
    </>
  );
}

/** All that was put right, and what else can be, which stands nowhere else with a button. */
export function Corrections({ shown }: { shown: ReadonlySet<number> }) {
  const { it } = useContext(Here);
  if (it === null) return null;
  const by = new Map(it.written.map((one) => [one.entry, one]));
  const rest = it.written.filter((one) => !shown.has(one.entry));
  return (
    <section class="corrections" data-testid="corrections">
      <h2>{w.section}</h2>
      {it.corrections.length === 0 && <p class="soft">{w.none}</p>}
      <ol class="corrections-made">
        {it.corrections.map((one) => (
          <li key={one.n}>
            <span class="soft">
              {w.of(w.about(by.get(one.entry) ?? one), w.field(one.field))}
            </span>
            <span>
              <Change it={one} />
            </span>
          </li>
        ))}
      </ol>
      {rest.length > 0 && (
        <details class="sources no-print">
          <summary>{w.more}</summary>
          <p class="soft">{w.moreHint}</p>
          <ul class="corrections-more">
            {rest.map((one) => (
              <li key={one.entry}>
                <span>
                  <b>{w.about(one)}</b> <span class="soft">{stamp(one.at)}</span>{" "}
                  {Object.entries(one.fields).map(([name, text]) => (
                    <span key={name} class="soft">
                      {w.field(name)}: {text || w.nothing}{" "}
                    </span>
                  ))}
                </span>
                <Correct entry={one.entry} what={w.about(one)} />
              </li>
            ))}
          </ul>
        </details>
      )}
    </section>
  );
}

interface DialogProps {
  batch: string;
  entry: WrittenEntry;
  away(): void;
  done(field: string): void;
  again(): void;
}

function CorrectDialog({ batch, entry, away, done, again }: DialogProps) {
  const names = Object.keys(entry.fields);
  const [form, keep] = useState<Form>({
    field: names.length === 1 ? names[0]! : "",
    new: names.length === 1 ? entry.fields[names[0]!]! : "",
    reason: "",
    by: operator.peek(),
  });
  const [problem, say] = useState<Problem | null>(null);
  const [trouble, tell] = useState("");
  const [sure, confirm] = useState(false);
  const [sending, mark] = useState(false);
  const here = useRef<HTMLFormElement>(null);
  const stands = entry.fields[form.field] ?? "";
  const set = (name: keyof Form) => (text: string) => keep((now) => ({ ...now, [name]: text }));
  const choose = (name: string) => {
    keep((now) => ({ ...now, field: name, new: entry.fields[name] ?? "" }));
    say(null);
    confirm(false);
  };
  const focusField = (name: string) => here.current?.querySelector<HTMLInputElement>(`[name="${name}"]`);
  useEffect(() => {
    if (form.field === "") here.current?.querySelector("input")?.focus();
    else {
      focusField("new")?.focus();
      focusField("new")?.select();
    }
  }, []);
  useEffect(() => {
    if (problem !== null) here.current?.querySelector<HTMLElement>('[aria-invalid="true"], [name="confirm"]')?.focus();
  }, [problem]);
  useScans((scan: Scan) => {
    if (form.field.startsWith("lot") && scan.is !== "misread") set("new")(scan.lot || scan.supplier_lot || scan.text);
  });
  const submit = async (event: Event) => {
    event.preventDefault();
    if (sending || !form.field) return;
    mark(true);
    const answer = await requests.send<{ entry: number }>(
      `api/batches/${encodeURIComponent(batch)}/commands`,
      toSend(entry.entry, stands, form, sure),
    );
    mark(false);
    if (answer.kind === "ok") return done(form.field);
    if (answer.kind === "unreachable") {
      say(null);
      return tell(words.unreachable);
    }
    tell("");
    say(answer.problem);
    if (answer.problem.code === "changed-meanwhile") again();
  };
  const where = problem === null ? "" : fieldOf(problem);
  const said = problem === null ? "" : refusedAs(problem);
  const fault = (name: keyof Form) => (where === name ? said : undefined);
  const what = w.about(entry);
  const long = form.field === "reason" || form.field === "note";
  return (
    <Sheet title={w.title(what)} away={away}>
      <form ref={here} onSubmit={submit} data-testid="correct-form">
        <p class="soft">{w.lead}</p>
        {names.length > 1 && (
          <fieldset>
            <legend>{w.which}</legend>
            <div class="quick">
              {names.map((name) => (
                <label class="choice" key={name}>
                  <input type="radio" name="field" checked={form.field === name} onChange={() => choose(name)} />
                  <span>
                    {w.field(name)} <small class="soft">{entry.fields[name] || w.nothing}</small>
                  </span>
                </label>
              ))}
            </div>
          </fieldset>
        )}
        {form.field !== "" && (
          <>
            <dl class="facts correct-old">
              <div>
                <dt>{w.stands}</dt>
                <dd data-testid="correct-old">{stands || w.nothing}</dd>
              </div>
            </dl>
            <Field label={w.new} hint={w.newHint(form.field)} name="new" value={form.new} type={set("new")} fault={fault("new")} long={long} />
            <div class="fields">
              <Field label={w.why} hint={w.whyHint} name="reason" value={form.reason} type={set("reason")} fault={fault("reason")} />
              <NameField label={w.by} value={form.by} type={set("by")}>
                <Field label={w.by} name="by" value={form.by} type={set("by")} fault={fault("by")} />
              </NameField>
            </div>
            {((problem !== null && wantsConfirming(problem.code)) || sure) && (
              <label class="choice">
                <input type="checkbox" name="confirm" checked={sure} onChange={(e) => confirm(e.currentTarget.checked)} />
                <span>
                  {w.confirm} <small class="soft">{w.confirmHint}</small>
                </span>
              </label>
            )}
          </>
        )}
        {(trouble || (problem !== null && where === "")) && (
          <p class="complaint" role="alert">
            <Said text={trouble || said} />
          </p>
        )}
        <div class="row">
          <button type="button" class="plain" onClick={away}>
            {words.cancel}
          </button>
          <button type="submit" class="solid" disabled={sending || form.field === ""}>
            {sending ? w.sending : w.send}
          </button>
        </div>
      </form>
    </Sheet>
  );
}
