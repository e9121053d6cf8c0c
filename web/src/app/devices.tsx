// Other devices: the list, letting one in with a code, and forgetting one.

import { useSignal } from "@preact/signals";
import { useEffect, useState } from "preact/hooks";
import { undone } from "../core/answers.ts";
import { type Device, type Devices, devices as w, grouped, left, LINES, type May, MAYS, type Offer } from "../core/devices.ts";
import { words } from "../core/words.ts";
import { useAsked } from "./ask.ts";
import { Complaint } from "./dialogs.tsx";
import { Field } from "./fields.tsx";
import { Shape } from "./shapes.tsx";
import { people, requests } from "./store.ts";
import { Nothing, Trouble } from "./trouble.tsx";

/** While a code is shown it is looked so often whether the device is in, in ms. */
const LOOK_MS = 2000;

function One({ it, change, done }: { it: Device; change: boolean; done(told: Devices): void }) {
  const [sure, ask] = useState(false);
  const said = useSignal("");
  const forget = async () => {
    if (!sure) return ask(true);
    const answer = await requests.send<Devices>(`api/devices/${encodeURIComponent(it.id)}/forget`, {});
    if (answer.kind === "ok") return done(answer.value);
    said.value = undone(answer);
    ask(false);
  };
  return (
    <li class="person" data-device={it.name}>
      <div class="person-head">
        <span>
          <b>{it.name}</b>
          {it.this && <span class="soft"> ({w.thisOne})</span>}
          <small>
            {w.may(it.may)}
            <span class="soft">
              , {w.since(it.since)}, {w.seen(it.seen)}
            </span>
          </small>
        </span>
        {change && (
          <button type="button" class="plain danger-text" onClick={() => void forget()} onBlur={() => ask(false)}>
            {sure ? w.forgetSure : w.forget}
          </button>
        )}
      </div>
      <Complaint text={said.value} />
    </li>
  );
}

/** The code, as large as it is read across a room, and where to type it. */
function Shown({ of, isIn, away }: { of: Offer; isIn: boolean; away(): void }) {
  const [good, count] = useState(of.good_s);
  useEffect(() => {
    const soon = setTimeout(() => count((it) => Math.max(0, it - 1)), 1000);
    return () => clearTimeout(soon);
  }, [good]);
  return (
    <section class="lot-do code-shown" data-testid="code" aria-live="polite">
      <h2>{of.name}</h2>
      {isIn && (
        <p class="code-in">
          <Shape name="good" /> {w.isIn(of.name)}
        </p>
      )}
      {!isIn && good > 0 && (
        <>
          <p>{w.type}</p>
          <ul class="code-at">
            {of.at.map((address) => (
              <li key={address} translate={false}>
                {address}
              </li>
            ))}
          </ul>
          <p class="code-digits" translate={false} aria-label={`${w.code} ${grouped(of.code)}`}>
            {grouped(of.code)}
          </p>
          <p class="soft" role="timer">
            {w.good(left(good))}
          </p>
        </>
      )}
      {!isIn && good === 0 && <p>{w.over}</p>}
      <div class="row">
        <button type="button" class="plain" onClick={away}>
          {isIn || good === 0 ? words.close : w.withdraw}
        </button>
      </div>
    </section>
  );
}

function Add({ done, away }: { done(offer: Offer): void; away(): void }) {
  const [name, call] = useState("");
  const [may, let_] = useState<May>("work");
  const said = useSignal("");
  const send = async (event: Event) => {
    event.preventDefault();
    said.value = "";
    const answer = await requests.send<Offer>("api/devices", { name: name.trim(), may });
    if (answer.kind === "ok") done(answer.value);
    else said.value = undone(answer);
  };
  return (
    <form class="lot-do person-form" onSubmit={(event) => void send(event)} data-testid="add-device">
      <h2>{w.add}</h2>
      <div class="person-fields">
        <Field label={w.name} hint={w.nameHint} name="name" value={name} type={call} />
      </div>
      <fieldset class="rights">
        <legend>{w.what}</legend>
        {MAYS.map((it) => (
          <label class="choice" key={it}>
            <input type="radio" name="may" value={it} checked={may === it} onChange={() => let_(it)} />
            <span>
              {w.may(it)}
              <small>{w.about(it)}</small>
            </span>
          </label>
        ))}
      </fieldset>
      <Complaint text={said.value} />
      <div class="row">
        <button type="button" class="plain" onClick={away}>
          {words.cancel}
        </button>
        <button type="submit" class="solid">
          {w.show}
        </button>
      </div>
    </form>
  );
}

/** There is no door for other devices: what has to be written down so that there is one. */
function Shut() {
  return (
    <Nothing text={w.shut} more={w.shutMore}>
      <pre class="code-lines" translate={false}>{LINES}</pre>
      <p class="soft">{w.shutDocs}</p>
    </Nothing>
  );
}

export function DevicesScreen() {
  const asked = useAsked<Devices>("api/devices");
  const [told, tell] = useState<Devices | null>(null);
  const [adding, add] = useState(false);
  const [offer, show] = useState<Offer | null>(null);
  const [isIn, be] = useState(false);
  useEffect(() => {
    if (asked.value !== null) tell(asked.value);
  }, [asked.value]);
  useEffect(() => {
    if (offer === null || isIn) return;
    const looking = setInterval(async () => {
      const answer = await requests.get<Devices>("api/devices");
      if (answer.kind !== "ok") return;
      tell(answer.value);
      const known = answer.value.devices.some((it) => it.name === offer.name);
      if (answer.value.waiting === null && known) be(true);
    }, LOOK_MS);
    return () => clearInterval(looking);
  }, [offer, isIn]);
  if (told === null) return <Trouble title={w.title} asked={asked} />;
  const open = told.at.length > 0;
  const change = told.here || people.value.listed;
  const withdraw = () => {
    if (!isIn) void requests.send("api/devices/withdraw", {});
    show(null);
    be(false);
  };
  return (
    <main class="page people devices" data-testid="devices">
      <h1>{w.title}</h1>
      <p class="note">{w.lead}</p>
      {open && told.plain && (
        <p class="warning">
          <Shape name="warn" /> {w.plain}
        </p>
      )}
      {told.devices.length > 0 && (
        <ul class="person-list" aria-label={w.open}>
          {told.devices.map((it) => (
            <One key={it.id} it={it} change={change} done={tell} />
          ))}
        </ul>
      )}
      {!open && <Shut />}
      {open && told.devices.length === 0 && offer === null && !adding && <Nothing text={w.none} more={w.noneMore} />}
      {open && !change && <p class="hint">{w.atStation}</p>}
      {offer !== null && <Shown key={offer.code} of={offer} isIn={isIn} away={withdraw} />}
      {adding && (
        <Add
          away={() => add(false)}
          done={(it) => {
            add(false);
            be(false);
            show(it);
          }}
        />
      )}
      {open && change && !adding && offer === null && (
        <div class="row person-more">
          <button type="button" class="solid" onClick={() => add(true)}>
            {w.add}
          </button>
        </div>
      )}
    </main>
  );
}
