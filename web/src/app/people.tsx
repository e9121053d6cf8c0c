// The list of people: who works here, what each may do, adding, changing, retiring.

import { useSignal } from "@preact/signals";
import { useEffect, useState } from "preact/hooks";
import { undone } from "../core/answers.ts";
import { LOOKS_AFTER, may, people as w, type People, type Person } from "../core/people.ts";
import { words } from "../core/words.ts";
import { useAsked } from "./ask.ts";
import { Complaint } from "./dialogs.tsx";
import { Field } from "./fields.tsx";
import { people, askPeople, requests } from "./store.ts";
import { Trouble } from "./trouble.tsx";

const path = (name: string, what: string) => `api/people/${encodeURIComponent(name)}/${what}`;

function Rights({ has, give, fixed }: { has: ReadonlySet<string>; give(has: ReadonlySet<string>): void; fixed?: boolean }) {
  const toggle = (right: string) => give(new Set(has.has(right) ? [...has].filter((one) => one !== right) : [...has, right]));
  return (
    <fieldset class="rights">
      <legend>{w.rights}</legend>
      {people.value.rights.map((it) => (
        <label class="choice" key={it.right}>
          <input type="checkbox" name={it.right} checked={has.has(it.right)} disabled={fixed} onChange={() => toggle(it.right)} />
          <span>
            {w.right(it.right)}
            <small>{w.about(it.right, it.about)}</small>
          </span>
        </label>
      ))}
    </fieldset>
  );
}

/** Send a change of the list; whether it was taken, and what was said where it was not. */
function useSent(done: () => void) {
  const said = useSignal("");
  const sending = useSignal(false);
  const send = async (to: string, body: object): Promise<boolean> => {
    if (sending.value) return false;
    sending.value = true;
    said.value = "";
    const answer = await requests.send<People>(to, body);
    sending.value = false;
    if (answer.kind === "ok") {
      await askPeople();
      done();
      return true;
    }
    said.value = undone(answer);
    return false;
  };
  return { said, sending, send };
}

function PinField({ value, type }: { value: string; type(pin: string): void }) {
  return (
    <label class="field">
      <span>
        {w.pin} <small>{w.pinHint}</small>
      </span>
      <input
        type="password"
        name="new-pin"
        inputMode="numeric"
        autocomplete="new-password"
        maxLength={12}
        value={value}
        onInput={(e) => type(e.currentTarget.value)}
      />
    </label>
  );
}

function Add({ first, done }: { first: boolean; done(): void }) {
  const [name, call] = useState("");
  const [pin, type] = useState("");
  const [has, give] = useState<ReadonlySet<string>>(new Set());
  const it = useSent(done);
  const all = new Set(people.value.rights.map((one) => one.right));
  const send = async (event: Event) => {
    event.preventDefault();
    await it.send("api/people", { name: name.trim(), pin: pin.trim(), rights: first ? ["all"] : [...has] });
  };
  return (
    <form class="lot-do person-form" onSubmit={send} data-testid="add-person">
      <h2>{first ? w.addFirst : w.add}</h2>
      <div class="person-fields">
        <Field label={w.name} hint={w.nameHint} name="name" value={name} type={call} />
        <PinField value={pin} type={type} />
      </div>
      <Rights has={first ? all : has} give={give} fixed={first} />
      <Complaint text={it.said.value} />
      <div class="row">
        {!first && (
          <button type="button" class="plain" onClick={done}>
            {words.cancel}
          </button>
        )}
        <button type="submit" class="solid" disabled={it.sending.value}>
          {w.save}
        </button>
      </div>
    </form>
  );
}

function Change({ of, done }: { of: Person; done(): void }) {
  const [has, give] = useState<ReadonlySet<string>>(new Set(of.rights));
  const [pin, type] = useState("");
  const [sure, ask] = useState(false);
  const it = useSent(done);
  const changed = has.size !== of.rights.length || of.rights.some((right) => !has.has(right));
  const save = async (event: Event) => {
    event.preventDefault();
    if (pin.trim() && !(await it.send(path(of.name, "pin"), { pin: pin.trim() }))) return;
    if (changed) await it.send(path(of.name, "rights"), { rights: [...has] });
    else if (!pin.trim()) done();
  };
  return (
    <form class="person-form" onSubmit={save}>
      <Rights has={has} give={give} />
      <PinField value={pin} type={type} />
      <Complaint text={it.said.value} />
      <div class="row">
        <button type="button" class="plain" onClick={done}>
          {words.cancel}
        </button>
        <button
          type="button"
          class="plain danger-text"
          onClick={() => (sure ? void it.send(path(of.name, "retire"), {}) : ask(true))}
          onBlur={() => ask(false)}
        >
          {sure ? w.retireSure : w.retire}
        </button>
        <button type="submit" class="solid" disabled={it.sending.value || (!changed && !pin.trim())}>
          {w.save}
        </button>
      </div>
      <p class="soft">{w.retireMore}</p>
    </form>
  );
}

function One({ it, change }: { it: Person; change: boolean }) {
  const [open, show] = useState(false);
  const every = it.rights.length === people.value.rights.length;
  const told = it.retired ? w.gone(it.retired) : it.rights.length === 0 ? w.noRights : every ? w.all : it.rights.map(w.right).join(", ");
  return (
    <li class="person" data-person={it.name}>
      <div class="person-head">
        <span>
          <b>{it.name}</b>
          {it.name === people.value.me?.name && <span class="soft"> ({w.you})</span>}
          <small>
            {told}
            {!it.retired && <span class="soft">, {w.since(it.since)}</span>}
          </small>
        </span>
        {change && !it.retired && (
          <button type="button" class="plain" aria-expanded={open} onClick={() => show(!open)}>
            {w.change}
          </button>
        )}
      </div>
      {open && <Change of={it} done={() => show(false)} />}
    </li>
  );
}

export function PeopleScreen() {
  const [gone, also] = useState(false);
  const [adding, add] = useState(false);
  const asked = useAsked<People>(`api/people?retired=${gone}`);
  const now = people.value;
  useEffect(() => asked.again(), [now]);
  if (asked.value === null && now.rights.length === 0) return <Trouble title={w.title} asked={asked} />;
  const change = may(now, LOOKS_AFTER);
  const shown = asked.value?.people ?? now.people;
  return (
    <main class="page people" data-testid="people">
      <h1>{w.title}</h1>
      <p class="note">{now.listed ? w.lead : `${w.none} ${w.noneMore}`}</p>
      {now.listed && (
        <ul class="person-list">
          {shown.map((it) => (
            <One key={it.name} it={it} change={change} />
          ))}
        </ul>
      )}
      {now.listed && !change && <p class="hint">{w.mayNot}</p>}
      {!now.listed || adding ? (
        <Add first={!now.listed} done={() => add(false)} />
      ) : (
        <div class="row person-more">
          {change && (
            <button type="button" class="solid" onClick={() => add(true)}>
              {w.add}
            </button>
          )}
          <label class="choice">
            <input type="checkbox" checked={gone} onChange={(e) => also(e.currentTarget.checked)} />
            {w.showGone}
          </label>
        </div>
      )}
    </main>
  );
}
