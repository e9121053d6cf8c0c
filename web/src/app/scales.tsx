// Every scale that is set up, as it is now.

import { undone } from "../core/answers.ts";
import type { Scale } from "../core/frames.ts";
import { useSignal } from "@preact/signals";
import { mass, massWithUnit, number, when } from "../core/numbers.ts";
import type { Check } from "../core/checks.ts";
import { to } from "../core/routes.ts";
import { words } from "../core/words.ts";
import { Stands } from "./check.tsx";
import { Said } from "./said.tsx";
import { Shape } from "./shapes.tsx";
import { fresh, requests, scales } from "./store.ts";
import { Vessels } from "./vessels.tsx";
import { WhatItSends } from "./wire.tsx";

const w = words.scales;

function reading(it: Scale): string {
  const r = it.reading;
  if (!fresh.value || it.link !== "live" || r === null) return mass(null);
  if (r.over) return w.over;
  if (r.fault) return w.fault(r.fault);
  return r.shown !== null && r.unit ? `${number(r.shown)}\u00a0${r.unit}` : mass(r.grams);
}

function flag(it: Scale): string {
  const stable = fresh.value && it.link === "live" ? (it.reading?.stable ?? null) : null;
  return stable === null ? w.noFlag : stable ? w.steady : w.moving;
}

/** With more scales than this a card shows what is needed at a glance, and the rest when asked. */
const FEW = 6;

function Card({ it, brief }: { it: Scale; brief: boolean }) {
  const state = fresh.value ? it.link : "lost";
  const pairs: [string, string][] = [
    [w.max, massWithUnit(it.max_g)],
    [w.interval, massWithUnit(it.interval_g)],
    [w.flag, flag(it)],
    [w.driver, it.driver],
    [w.answered, it.what],
    [w.received, String(it.readings)],
    [w.rejected, String(it.rejected)],
  ];
  if (it.last_rejected) pairs.push([w.last, it.last_rejected]);
  return (
    <li class="scale-card" data-link={state} data-testid={`scale-${it.name}`}>
      <header>
        <h2>{it.name}</h2>
        <p class="scale-link">
          <Shape name={state === "live" ? "good" : state === "waiting" ? "waiting" : state} />
          {fresh.value ? w.link(it) : words.link.lost}
        </p>
      </header>
      <p class="scale-reading">{reading(it)}</p>
      {fresh.value && w.more(it) && <p class="hint">{it.why || w.more(it)}</p>}
      {it.check && <Checked it={it} check={it.check} />}
      {brief ? (
        <details class="scale-rest">
          <summary>{w.rest}</summary>
          <Pairs pairs={pairs} />
          <Learned it={it} />
        </details>
      ) : (
        <>
          <Pairs pairs={pairs} />
          <Learned it={it} />
        </>
      )}
      <WhatItSends name={it.name} />
    </li>
  );
}

function Checked({ it, check }: { it: Scale; check: Check }) {
  return (
    <section class="check-summary" data-testid={`check-of-${it.name}`}>
      <h3>{words.checks.heading}</h3>
      <Stands check={check} />
      {check.running && <p>{words.checks.checking}</p>}
      <a class="solid" href={to.check(it.name)}>
        {check.running || check.standing === "good" ? words.checks.see : words.checks.open}
      </a>
    </section>
  );
}

function Pairs({ pairs }: { pairs: [string, string][] }) {
  return (
    <dl class="facts">
      {pairs.map(([name, value]) => (
        <div key={name}>
          <dt>{name}</dt>
          <dd>{value}</dd>
        </div>
      ))}
    </dl>
  );
}

function Learned({ it }: { it: Scale }) {
  const sure = useSignal(false);
  const trouble = useSignal("");
  const known = it.learned ?? null;
  const forget = async () => {
    if (!sure.value) {
      sure.value = true;
      return;
    }
    sure.value = false;
    const answer = await requests.send(`api/scales/${encodeURIComponent(it.name)}/forget`, {});
    trouble.value = undone(answer);
  };
  if (known === null) {
    return (
      <section class="learned">
        <h3>{w.learned}</h3>
        <p class="hint">{w.notLearned}</p>
      </section>
    );
  }
  const pairs: [string, string][] = [
    [w.since, known.since === null ? w.thisStart : when(known.since)],
    [w.noise, massWithUnit(known.noise_g)],
    [w.response, w.seconds(known.response_s)],
    [w.rate, number(known.readings_per_s)],
    [w.trust, known.flag_wrong === null ? w.noTrust : w.trusted(known.flag_wrong)],
  ];
  return (
    <section class="learned" data-testid={`learned-${it.name}`}>
      <h3>{w.learned}</h3>
      <Pairs pairs={pairs} />
      <button type="button" class="plain" disabled={!fresh.value} onClick={() => void forget()} onBlur={() => (sure.value = false)}>
        {sure.value ? w.forgetSure : w.forget}
      </button>
      {trouble.value && (
        <p class="complaint" role="alert">
          <Said text={trouble.value} />
        </p>
      )}
    </section>
  );
}

export function Scales() {
  const all = Object.values(scales.value);
  const away = fresh.value ? all.filter((it) => it.link !== "live") : [];
  return (
    <main class="page scales">
      <h1>{w.title}</h1>
      {all.length === 0 && <p>{w.none}</p>}
      {all.length > FEW && away.length > 0 && (
        <p class="hint" data-testid="scales-away">
          {w.away(away.map((it) => it.name))}
        </p>
      )}
      <ul class="scale-cards">
        {all.map((it) => (
          <Card key={it.name} it={it} brief={all.length > FEW} />
        ))}
      </ul>
      <Vessels />
    </main>
  );
}
