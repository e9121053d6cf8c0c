// Who countersigned a batch, what came later, and signing it.

import { useSignal } from "@preact/signals";
import { useState } from "preact/hooks";
import { undone } from "../core/answers.ts";
import { may, people as words_ } from "../core/people.ts";
import { words } from "../core/words.ts";
import { useAsked } from "./ask.ts";
import { Complaint } from "./dialogs.tsx";
import { Field } from "./fields.tsx";
import { NameField } from "./person.tsx";
import { Said } from "./said.tsx";
import { operator, people, requests, signing } from "./store.ts";

const w = words_.countersign;

interface Signed {
  by: string;
  at: string;
  upto: number;
  note: string;
  later: number;
}

interface Told {
  over: boolean;
  entries: number;
  countersigned: Signed[];
}

function Sign({ batch, entries, done }: { batch: string; entries: number; done(signed: boolean): void }) {
  const [by, name] = useState(operator.peek());
  const [note, write] = useState("");
  const said = useSignal("");
  const sending = useSignal(false);
  const allowed = may(people.value, "countersign");
  const send = async (event: Event) => {
    event.preventDefault();
    if (sending.value) return;
    if (!allowed) {
      signing.value = true; // nobody else's hand helps here: who looked is who signs
      return;
    }
    sending.value = true;
    const answer = await requests.command(batch, { do: "countersign", entry: entries, by: by.trim(), note: note.trim() });
    sending.value = false;
    if (answer.kind === "ok") done(true);
    else said.value = undone(answer);
  };
  return (
    <form class="lot-do" onSubmit={send}>
      <p>{w.covers(entries)}</p>
      <NameField label={w.name} value={by} type={name}>
        <Field label={w.name} name="by" value={by} type={name} />
      </NameField>
      <Field label={w.note} hint={w.noteHint} name="note" value={note} type={write} />
      {!allowed && <p class="hint">{w.first}</p>}
      <Complaint text={said.value} />
      <div class="row">
        <button type="button" class="plain" onClick={() => done(false)}>
          {words.cancel}
        </button>
        <button type="submit" class="solid" disabled={sending.value}>
          {allowed ? w.sign : words_.signIn}
        </button>
      </div>
    </form>
  );
}

/** The section of a record; nothing for a batch that is not over. */
export function Countersigning({ batch, again }: { batch: string; again(): void }) {
  const asked = useAsked<Told>(`api/batches/${encodeURIComponent(batch)}/countersigned`);
  const [open, show] = useState(false);
  const it = asked.value;
  if (it === null) return asked.trouble ? <p class="complaint"><Said text={asked.trouble} /></p> : null;
  if (!it.over) return null;
  return (
    <section class="countersigned" data-testid="countersigned">
      <h2>{w.title}</h2>
      {it.countersigned.length === 0 && <p>{w.none}</p>}
      <ul>
        {it.countersigned.map((one) => (
          <li key={one.upto + one.by}>
            {w.said(one.by, one.at, one.upto)} {one.note && <q>{one.note}</q>}{" "}
            {one.later > 0 && <strong>{w.later(one.later)}</strong>}
          </li>
        ))}
      </ul>
      {open ? (
        <Sign
          batch={batch}
          entries={it.entries}
          done={(signed) => {
            show(false);
            if (signed) {
              asked.again();
              again();
            }
          }}
        />
      ) : (
        <div class="no-print">
          <p class="soft">{w.how}</p>
          <button type="button" class="plain" onClick={() => show(true)}>
            {w.open}
          </button>
        </div>
      )}
    </section>
  );
}
