// Which scale: those that are plugged in, with what they say, or a simulated one.

import { useEffect, useRef, useState } from "preact/hooks";
import { refusedAs, undone } from "../core/answers.ts";
import type { Problem } from "../core/commands.ts";
import { first, type Looked, type Place, plateOf } from "../core/first.ts";
import { massWithUnit, number, typedMass } from "../core/numbers.ts";
import { to } from "../core/routes.ts";
import { Field } from "./fields.tsx";
import { Said } from "./said.tsx";
import { Shape, type ShapeName } from "./shapes.tsx";
import { link, people, requests, scales, station } from "./store.ts";
import { bridging, setWalk, simulated } from "./walk.ts";

const w = first.scale;
const LOOK_MS = 700;
const REFUSED_MS = 3000;
/** The station that begins anew is back by then, or something is wrong, in ms. */
const BACK_MS = 30_000;
const RULE = [
  "weighd scales --rule | sudo tee /etc/udev/rules.d/70-weighd.rules",
  "sudo udevadm control --reload && sudo udevadm trigger --subsystem-match=hidraw",
  'sudo adduser "$USER" dialout',
].join("\n");

/** What is plugged in, asked again and again while somebody looks. */
function useLooked(paused: boolean): { value: Looked | null; problem: Problem | null; again(): void; take(it: Looked): void } {
  const [value, keep] = useState<Looked | null>(null);
  const [problem, tell] = useState<Problem | null>(null);
  const anew = useRef(false);
  const live = link.value === "live";
  const who = people.value.me?.name;
  useEffect(() => {
    if (paused || !live) return;
    let mine = true;
    let soon: ReturnType<typeof setTimeout> | undefined;
    const ask = async () => {
      let wait = LOOK_MS;
      if (!document.hidden) {
        const again = anew.current;
        anew.current = false;
        const answer = await requests.ask<Looked>("api/first/look", { again });
        if (!mine) return;
        if (answer.kind === "ok") keep(answer.value);
        tell(answer.kind === "refused" ? answer.problem : null);
        if (answer.kind !== "ok") wait = REFUSED_MS;
      }
      soon = setTimeout(() => void ask(), wait);
    };
    void ask();
    return () => {
      mine = false;
      clearTimeout(soon);
    };
  }, [paused, live, who]);
  return { value, problem, again: () => (anew.current = true), take: keep };
}

function shapeOf(it: Place): ShapeName {
  if (it.state === "reading") return "good";
  if (it.state === "listening" || it.state === "trying") return "waiting";
  return it.state === "silent" ? "silent" : it.state === "used" ? "note" : "warn";
}

function shown(it: Place): string {
  const r = it.reading ?? null;
  if (r === null) return "";
  if (r.over) return w.over;
  if (r.shown === null) return w.noNumber;
  return `${number(r.shown)}\u00a0${r.unit ?? "g"}`;
}

interface PlaceProps {
  it: Place;
  chosen: boolean;
  more: boolean;
  busy: boolean;
  choose(id: string): void;
  learn(id: string): void;
  use(asked: object): void;
}

function PlaceCard({ it, chosen, more, busy, choose, learn, use }: PlaceProps) {
  const stable = it.reading?.stable ?? null;
  const tries = it.driver === "serial" && ["silent", "unreadable", "in vain"].includes(it.state);
  return (
    <li class="first-place" data-state={it.state} data-testid={`place-${it.where}`}>
      <header>
        <h2>{it.what || (it.driver === "usb" ? w.usb : w.serial)}</h2>
        <span class="soft">{it.where}</span>
      </header>
      <p class="first-state">
        <Shape name={shapeOf(it)} />
        {w.state[it.state]}
      </p>
      {it.state === "reading" && (
        <p class="first-reading" data-testid="first-reading">
          {shown(it)} {stable !== null && <small>{stable ? w.stable : w.moving}</small>}
        </p>
      )}
      {it.state === "reading" && !chosen && <p class="soft">{w.test}</p>}
      {it.why && it.state !== "reading" && (
        <p class={it.state === "trying" ? "soft" : "complaint"} lang="en">
          {it.why}
        </p>
      )}
      {it.rule && (
        <>
          <p>{w.rule}</p>
          <pre class="code-lines">{RULE}</pre>
        </>
      )}
      {it.state === "reading" && !chosen && (
        <button type="button" class="solid" onClick={() => choose(it.id)}>
          {w.use}
        </button>
      )}
      {tries && (
        <button type="button" class="plain" onClick={() => learn(it.id)}>
          {it.state === "in vain" ? w.tryAgain : w.tryIt}
        </button>
      )}
      {chosen && <Plate it={it} more={more} busy={busy} use={use} other={() => choose("")} />}
    </li>
  );
}

/** Capacity and interval, where the scale does not tell them itself. */
function Plate({ it, more, busy, use, other }: { it: Place; more: boolean; busy: boolean; use(asked: object): void; other(): void }) {
  const told = plateOf(it);
  const [max, typeMax] = useState(told.max);
  const [interval, typeInterval] = useState(told.interval);
  const [name, typeName] = useState("");
  const grams = (text: string) => (text.trim() === "" ? "" : typedMass(text));
  const wrong = (text: string) => (grams(text) === null ? w.badAmount : undefined);
  const go = (event: Event) => {
    event.preventDefault();
    const [max_g, interval_g] = [grams(max), grams(interval)];
    if (max_g === null || interval_g === null) return;
    use({ place: it.id, max_g: max_g || null, interval_g: interval_g || null, name: name.trim() });
  };
  return (
    <form class="first-plate" onSubmit={go}>
      <p>
        <b>{w.plate}</b> <small>{w.plateHint}</small>
      </p>
      <div class="fields">
        <Field number name="max" label={w.max} unit="g" value={max} type={typeMax} fault={wrong(max)} />
        <Field number name="interval" label={w.interval} unit="g" value={interval} type={typeInterval} fault={wrong(interval)} />
        {more && <Field name="name" label={w.name} hint={w.nameHint} value={name} type={typeName} />}
      </div>
      <div class="row">
        <button type="button" class="plain" onClick={other}>
          {w.other}
        </button>
        <button type="submit" class="solid" disabled={busy}>
          {w.use}
        </button>
      </div>
    </form>
  );
}

/** It is there: the station's own picture of it, and on. */
function Has({ name }: { name: string }) {
  const reading = scales.value[name]?.reading ?? null;
  return (
    <>
      <h1>{w.has(name)}</h1>
      {link.value === "live" && reading?.grams && <p class="first-reading">{massWithUnit(reading.grams)}</p>}
      <p class="soft">{w.test}</p>
      <div class="row">
        <a class="plain" href={to.first("add")}>
          {w.addTitle}
        </a>
        <a class="solid" href={to.first("you")} onClick={() => setWalk("on")}>
          {first.goOn}
        </a>
      </div>
    </>
  );
}

export function FirstScale({ more }: { more: boolean }) {
  const [chosen, choose] = useState("");
  const [trouble, tell] = useState("");
  // The scale that the station begins anew with, and the start that it was asked in.
  const [opening, open] = useState<{ scale: string; boot: string | null } | null>(null);
  const known = Object.keys(scales.value);
  const done = !more && opening === null && known.length > 0;
  const looked = useLooked(opening !== null || done);

  // Once the station has begun anew with the scale, the walk goes on by itself.
  const there = opening !== null && opening.scale in scales.value && link.value === "live" && station.value?.boot !== opening.boot;
  useEffect(() => {
    if (!there) return;
    bridging.value = false;
    location.hash = more ? to.scales() : to.first("you");
  }, [there]);
  useEffect(() => {
    if (opening === null) return;
    const late = setTimeout(() => {
      bridging.value = false;
      open(null);
      tell(w.notBack);
    }, BACK_MS);
    return () => clearTimeout(late);
  }, [opening]);

  const use = async (asked: object) => {
    tell("");
    bridging.value = true;
    const boot = station.peek()?.boot ?? null;
    const answer = await requests.send<{ scale: string; anew: boolean }>("api/first/scale", { more, ...asked });
    if (answer.kind !== "ok") {
      bridging.value = false;
      return tell(undone(answer));
    }
    if (!more) setWalk("on"); // before the scale is there: this screen has to last until then
    open({ scale: answer.value.scale, boot: answer.value.anew ? boot : null });
  };
  const learn = async (place: string) => {
    const answer = await requests.send<Looked>("api/first/learn", { place });
    if (answer.kind === "ok") looked.take(answer.value);
    else tell(undone(answer));
  };

  if (opening !== null) {
    return (
      <p class="finding" role="status" data-testid="first-opening">
        {w.opening}
      </p>
    );
  }
  if (done) return <Has name={known[0]!} />;
  const { value, problem } = looked;
  const places = value?.places ?? [];
  const lead = !more ? w.lead : simulated.value ? w.addInstead : w.addLead;
  return (
    <>
      <h1>{more ? w.addTitle : w.title}</h1>
      <p class="soft">{lead}</p>
      {link.value !== "live" && <p class="hint">{first.lost}</p>}
      {trouble && (
        <p class="complaint" role="alert">
          <Said text={trouble} />
        </p>
      )}
      {problem !== null && (
        <p class="complaint" role="alert">
          <Said text={refusedAs(problem)} />
        </p>
      )}
      {problem === null && value === null && <p class="hint" role="status"><Shape name="waiting" /> {w.looking}</p>}
      {problem === null && value !== null && (
        <>
          {places.length === 0 && (
            <section class="first-none" data-testid="first-none">
              <h2>{w.none}</h2>
              <ul>
                {w.checks.map((text) => (
                  <li key={text}>{text}</li>
                ))}
              </ul>
            </section>
          )}
          {value.faults.map((text) => (
            <p class="hint" lang="en" key={text}>
              {text}
            </p>
          ))}
          <ul class="first-places">
            {places.map((it) => (
              <PlaceCard key={it.id} it={it} chosen={chosen === it.id} more={more} busy={bridging.value} choose={choose} learn={(id) => void learn(id)} use={(asked) => void use(asked)} />
            ))}
          </ul>
          <button type="button" class="plain" onClick={looked.again}>
            {w.again}
          </button>
          {!more && (
            <section class="first-pretend">
              <h2>{w.none_at_hand}</h2>
              <p>{w.simulatedMore}</p>
              <button type="button" class={places.some((it) => it.state === "reading") ? "plain" : "solid"} disabled={bridging.value} onClick={() => void use({ place: "simulated" })}>
                {w.simulated}
              </button>
            </section>
          )}
          <p class="soft">{w.kept(`${value.folder}/${value.file}`)}</p>
        </>
      )}
      {more && (
        <p>
          <a class="plain" href={to.settings()}>
            {first.back}
          </a>
        </p>
      )}
    </>
  );
}
