// Who is at the page: the name in the bar, signing in on large keys, and a PIN for one act.

import type { ComponentChildren } from "preact";
import { useEffect, useState } from "preact/hooks";
import { undone } from "../core/answers.ts";
import type { Answer, Problem } from "../core/commands.ts";
import { helpers, people as w, pressed, FEWEST_DIGITS, type Person } from "../core/people.ts";
import { to } from "../core/routes.ts";
import { Sheet } from "./dialogs.tsx";
import { Keypad, type Refused } from "./keypad.tsx";
import { asking, askPeople, operator, people, requests, signing, signOut, settlePerson } from "./store.ts";

/** Nothing where the PIN was taken. */
function refused(answer: Answer<unknown>): Refused | null {
  if (answer.kind === "ok") return null;
  const { code = "", detail = "", wait_s = 0 } = answer.kind === "refused" ? answer.problem : {};
  return { text: wait_s ? "" : code === "wrong-pin" ? detail : undone(answer), wait_s };
}

const FIELD = { secret: true, name: "pin", autocomplete: "off" };

/** The PIN of somebody; `send` is given it and says what was wrong with it. */
function Pin({ name, send }: { name: string; send(pin: string): Promise<Refused | null> }) {
  return <Keypad label={w.pinOf(name)} of={name} words={w} field={FIELD} take={pressed} whole={(pin) => pin.length >= FEWEST_DIGITS} send={send} />;
}

/** Names to choose from, large enough for gloves. */
function Names({ names, choose }: { names: string[]; choose(name: string): void }) {
  return (
    <div class="quick person-names">
      {names.map((name, n) => (
        <button type="button" class="plain choice" key={name} data-person={name} autoFocus={n === 0} onClick={() => choose(name)}>
          <b>{name}</b>
        </button>
      ))}
    </div>
  );
}

/** Sign in by PIN; what was wrong where it was refused. */
async function signIn(name: string, pin: string): Promise<Refused | null> {
  const answer = await requests.ask<{ me: Person }>("api/sign-in", { name, pin });
  if (answer.kind !== "ok") return refused(answer);
  operator.value = answer.value.me.name;
  await askPeople();
  return null;
}

function SignInSheet() {
  const [name, choose] = useState("");
  const me = people.value.me;
  const away = () => (signing.value = false);
  const others = people.value.people.map((it) => it.name).filter((it) => it !== me?.name);
  return (
    <Sheet title={name ? w.signIn : w.who} away={away}>
      {name === "" && (
        <>
          {me && <p>{w.signedIn(me.name)}</p>}
          <Names names={others} choose={choose} />
          <p class="soft">{w.stays(people.value.stay_s)}</p>
          <div class="row">
            <a class="plain" href={to.people()} onClick={away}>
              {w.title}
            </a>
            {me && (
              <button
                type="button"
                class="plain"
                data-testid="sign-out"
                onClick={() => {
                  away();
                  void signOut();
                }}
              >
                {w.signOut}
              </button>
            )}
          </div>
        </>
      )}
      {name !== "" && (
        <>
          <Pin
            name={name}
            send={async (pin) => {
              const refused = await signIn(name, pin);
              if (refused === null) away();
              return refused;
            }}
          />
          <button type="button" class="plain" onClick={() => choose("")}>
            {w.another}
          </button>
        </>
      )}
    </Sheet>
  );
}

/** Somebody who may types a PIN, for the act that was refused. */
function AllowSheet({ problem }: { problem: Problem }) {
  const me = people.value.me?.name ?? "";
  const names = helpers(problem.who_may ?? [], me);
  const [name, choose] = useState(names.length === 1 ? names[0]! : "");
  const right = problem.right ?? "";
  const lend = async (pin: string): Promise<Refused | null> => {
    // Whoever does it, and is not signed in yet, signs in by it.
    if (me === "" && name === operator.peek()) {
      const refused = await signIn(name, pin);
      if (refused === null) settlePerson("");
      return refused;
    }
    const answer = await requests.ask<{ token: string }>("api/allow", { name, pin, right });
    if (answer.kind !== "ok") return refused(answer);
    settlePerson(answer.value.token);
    return null;
  };
  return (
    <Sheet title={w.allow.title} away={() => settlePerson(null)}>
      <p>
        <strong>{w.allow.body(right)}</strong> {names.length === 0 ? w.allow.nobody : me ? w.allow.how : w.allow.sign}
      </p>
      {name === "" && names.length > 0 && <Names names={names} choose={choose} />}
      {name !== "" && <Pin name={name} send={lend} />}
      {name !== "" && names.length > 1 && (
        <button type="button" class="plain" onClick={() => choose("")}>
          {w.another}
        </button>
      )}
    </Sheet>
  );
}

/** The name at the top; pressed, somebody signs in, out, or another one in. */
export function PersonButton() {
  const it = people.value;
  if (!it.listed) return null;
  return (
    <button type="button" class="plain bar-person" data-testid="person" onClick={() => (signing.value = true)}>
      <span class="visually-hidden">{it.me ? w.signedIn("") : ""}</span>
      <span class="bar-person-name">{it.me?.name ?? w.signIn}</span>
    </button>
  );
}

/** What opens over everything else where it matters who is there. */
export function PersonSheets() {
  if (asking.value !== null) return <AllowSheet key="allow" problem={asking.value.problem} />;
  return signing.value ? <SignInSheet key="sign-in" /> : null;
}

/** A name for a form: chosen of the list where there is one, and fixed where somebody is signed in;
 *  else whatever `children` ask for. */
export function NameField({ label, value, type, children }: { label: string; value: string; type(name: string): void; children: ComponentChildren }) {
  const it = people.value;
  const me = it.me?.name;
  useEffect(() => {
    if (me && value !== me) type(me);
  }, [me]);
  if (!it.listed) return <>{children}</>;
  return (
    <label class="field">
      <span>{label}</span>
      <select name="by" value={me ?? value} disabled={me !== undefined} onChange={(e) => type(e.currentTarget.value)}>
        <option value=""></option>
        {it.people.map((one) => (
          <option key={one.name} value={one.name}>
            {one.name}
          </option>
        ))}
      </select>
    </label>
  );
}
