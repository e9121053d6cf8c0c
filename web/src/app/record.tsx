// The as-weighed record of one batch, on the screen and on paper.

import type { ComponentChildren } from "preact";
import { after } from "../core/after.ts";
import { most } from "../core/columns.ts";
import { corrections } from "../core/corrections.ts";
import { doubts } from "../core/doubts.ts";
import type { BatchRecord } from "../core/frames.ts";
import type { Flag } from "../core/checks.ts";
import { mass, massWithUnit, number, signedWithUnit, stamp, unsureWithUnit, when } from "../core/numbers.ts";
import { type Accepted, DOUBTFUL, summary, type Summary } from "../core/record.ts";
import { labels } from "../core/labels.ts";
import { to } from "../core/routes.ts";
import { words } from "../core/words.ts";
import { Aligned } from "./aligned.tsx";
import { AsWeighedOf } from "./as-weighed.tsx";
import { useAsked } from "./ask.ts";
import { Correct, Correctable, Corrections, Stands, useLots } from "./corrections.tsx";
import type { Step } from "../core/process.ts";
import { Countersigning } from "./countersign.tsx";
import { StepRecords } from "./process-parts.tsx";
import { Said } from "./said.tsx";
import { SinceThen } from "./since.tsx";
import { Shape, verdictShape, verdictTone } from "./shapes.tsx";
import { Trouble } from "./trouble.tsx";
import { YieldOf } from "./yield.tsx";

const { facts, cols } = words.record;

function Facts({ pairs }: { pairs: [string, ComponentChildren][] }) {
  return (
    <dl class="facts">
      {pairs
        .filter(([, value]) => value)
        .map(([name, value]) => (
          <div key={name} class={typeof value === "string" && value.length > 30 ? "long" : undefined}>
            <dt>{name}</dt>
            <dd>{value}</dd>
          </div>
        ))}
    </dl>
  );
}

function Evidence({ it }: { it: Accepted }) {
  if (it.readings.length === 0) return null;
  const head = words.record.evidenceCols;
  return (
    <details class="evidence">
      <summary>{words.record.evidence(it.readings.length)}</summary>
      <div class="scroll">
        <table>
          <thead>
            <tr>
              <th scope="col">{head.used}</th>
              <th scope="col">{head.t}</th>
              <th scope="col">{head.grams}</th>
              <th scope="col">{head.raw}</th>
            </tr>
          </thead>
          <tbody>
            {it.readings.map((r, i) => (
              <tr key={i}>
                <td>{cols[r.used]}</td>
                <td>{r.t === null ? mass(null) : number(r.t.toFixed(3))}</td>
                <td>{mass(r.grams)}</td>
                <td class="raw">{r.raw}</td>
              </tr>
            ))}
          </tbody>
        </table>
      </div>
    </details>
  );
}

function AdditionRecord({ it }: { it: Accepted }) {
  const lots = useLots(it.entry);
  const noLot = words.record.noLot;
  const limits = it.low_g && it.high_g ? words.weigh.between(it.low_g, it.high_g, null) : null;
  const guarded = it.guard_g !== null && Number(it.guard_g) > 0;
  const accepts =
    guarded && it.accept_low_g && it.accept_high_g
      ? doubts.accepts(it.accept_low_g, it.accept_high_g, it.interval_g)
      : null;
  return (
    <li class="record-addition" data-tone={verdictTone(it.verdict)}>
      <header>
        <h3>
          {it.n}. {words.planned.titled(it)}
        </h3>
        <p class="verdict">
          <Shape name={verdictShape(it.verdict)} />
          {words.verdict(it.verdict)}
        </p>
      </header>
      <dl class="masses">
        <div>
          <dt>{cols.target}</dt>
          <dd>{massWithUnit(it.target_g)}</dd>
        </div>
        <div>
          <dt>{cols.net}</dt>
          <dd>{massWithUnit(it.net_g)}</dd>
        </div>
        <div>
          <dt>{cols.deviation}</dt>
          <dd>{signedWithUnit(it.deviation_g)}</dd>
        </div>
      </dl>
      <Facts
        pairs={[
          [cols.limits, limits],
          [cols.method, it.method],
          [cols.reason, it.reason && <Stands entry={it.entry} field="reason" first={it.reason} />],
          ...(lots.length > 0
            ? lots.map(([name, now]): [string, ComponentChildren] => [
                corrections.field(name),
                <Stands key={name} entry={it.entry} field={name} first={now} none={noLot} />,
              ])
            : [[cols.lot, it.lot || noLot] as [string, ComponentChildren]]),
          [cols.scale, it.scale + words.record.interval(it.interval_g)],
          [cols.operator, <Stands key="who" entry={it.entry} field="operator" first={it.operator} />],
          [cols.tare, it.tare_g && massWithUnit(it.tare_g)],
          [cols.gross, it.gross_g && massWithUnit(it.gross_g)],
          [cols.u, it.u_g && doubts.uncertainty(it.u_g, it.budget)],
          [cols.rule, doubts.guard(it.rule, guarded ? it.guard_g : null)],
          [cols.accepts, accepts],
          [cols.started, stamp(it.started)],
          [cols.accepted, stamp(it.accepted) + (it.doubtful ? DOUBTFUL : "")],
        ]}
      />
      <Evidence it={it} />
      <Correct entry={it.entry} what={`${it.n}. ${it.name}`} />
    </li>
  );
}

function Events({ it }: { it: Summary }) {
  return (
    <section class="events">
      <h2>{words.record.events}</h2>
      {it.events.length === 0 && it.clocks.length === 0 && <p>{words.record.noEvents}</p>}
      {it.clocks.length > 0 && <p data-testid="clocks">{words.record.clocks(it.clocks)}</p>}
      <ol>
        {it.events.map((event) => (
          <li key={event.seq}>
            <time dateTime={event.at}>{stamp(event.at) + (event.doubtful ? DOUBTFUL : "")}</time>
            <span>
              {words.record.event(event.kind, event.what, event.sum_g)}
              {event.kind === "tared" && words.vessels.odd(event.vessel, event.not_added_g)}
              {event.addition !== null && <> ({words.record.addition(event.addition)})</>}
              {event.reason && (
                <q>
                  <Stands entry={event.entry} field="reason" first={event.reason} brief />
                </q>
              )}
              {event.by && (
                <span class="soft">
                  {" "}
                  <Stands entry={event.entry} field="operator" first={event.by} brief />
                </span>
              )}
            </span>
          </li>
        ))}
      </ol>
    </section>
  );
}

/** What went in of each ingredient, where some took several weighings. */
function Sums({ it }: { it: Summary }) {
  if (it.sums.length === 0) return null;
  const targets = most(it.sums.map((one) => massWithUnit(one.target_g)));
  const nets = most(it.sums.map((one) => massWithUnit(one.net_g)));
  return (
    <section data-testid="sums">
      <h2>{words.planned.sums}</h2>
      <table class="plan">
        <thead>
          <tr>
            <th scope="col" colSpan={2}>
              {words.planned.ingredient}
            </th>
            <th scope="col" class="mass">
              {cols.target}
            </th>
            <th scope="col" class="mass">
              {cols.net}
            </th>
            <th scope="col" class="mass">
              {cols.u}
            </th>
          </tr>
        </thead>
        <tbody>
          {it.sums.map((one) => (
            <tr key={one.n}>
              <td>{one.n}</td>
              <th scope="row">{one.name}</th>
              <td class="mass">
                <Aligned text={massWithUnit(one.target_g)} most={targets} />
              </td>
              <td class="mass">
                <Aligned text={massWithUnit(one.net_g)} most={nets} />
              </td>
              <td class="mass">{one.u_g && unsureWithUnit(one.u_g)}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </section>
  );
}

/** Additions weighed on a scale that did not stand well by its check, or failed the next one. */
function Flags({ batch }: { batch: string }) {
  const asked = useAsked<{ flags: Flag[] }>(`api/batches/${encodeURIComponent(batch)}/checks`);
  const flags = asked.value?.flags ?? [];
  if (flags.length === 0 && !asked.trouble) return null;
  return (
    <section class="flagged" data-testid="flags">
      <h2>
        <Shape name="warn" /> {words.checks.flags}
      </h2>
      {asked.trouble && <p class="complaint"><Said text={asked.trouble} /></p>}
      <ul>
        {words.checks.said(flags, when).map((text) => (
          <li key={text}>{text}</li>
        ))}
      </ul>
    </section>
  );
}

/** The steps after weighing, as the station tells them from the same entries. */
function Steps({ batch }: { batch: string }) {
  const asked = useAsked<{ batch: { steps?: Step[] } }>(`api/batches/${encodeURIComponent(batch)}`);
  if (asked.trouble) return <p class="complaint"><Said text={asked.trouble} /></p>;
  return <StepRecords steps={asked.value?.batch.steps ?? []} />;
}

export function Record({ batch }: { batch: string }) {
  const files = `api/batches/${encodeURIComponent(batch)}`;
  const path = `${files}/record`;
  const asked = useAsked<BatchRecord>(path);
  if (asked.value === null) {
    const missing = asked.problem?.status === 404;
    return (
      <Trouble
        title={words.record.title}
        asked={missing ? { ...asked, trouble: words.record.missing } : asked}
        back={{ at: to.records(), name: words.record.back }}
      />
    );
  }
  const it = summary(asked.value);
  const left = it.planned.filter((p) => !it.accepted.some((a) => a.n === p.n));
  const shown = new Set([1, ...it.accepted.map((one) => one.entry)]);
  return (
    <Correctable batch={it.id} again={asked.again}>
      <main class="page record" data-testid="record">
        <header class="record-head">
          <h1>
            <small>{words.record.title}</small>
            {it.name || it.id}
          </h1>
          <div class="row no-print">
            <a class="plain" href={to.records()}>
              {words.record.back}
            </a>
            {it.again && (
              <a class="solid" href={to.start(it.again.formula, it.again.size, it.again.steps)}>
                {after.again}
              </a>
            )}
            {it.accepted.length > 0 && left.length === 0 && (
              <a class="plain" href={to.labels("batch", it.id)}>
                {labels.nav}
              </a>
            )}
            <a class="plain" href={`${files}/sheet.pdf?download=1`} download={`${it.id}.pdf`}>
              {words.record.sheet}
            </a>
          </div>
          <details class="fold no-print">
            <summary>{after.forms}</summary>
            <div class="row">
              <a class="plain" href={`${files}/weighings.csv`} download={`${it.id}.csv`}>
                {words.record.table}
              </a>
              <a class="plain" href={`${path}?download=1`} download={`${it.id}.json`}>
                {words.record.download}
              </a>
              <button type="button" class="plain" onClick={() => print()}>
                {words.record.print}
              </button>
            </div>
          </details>
        </header>
        <Facts
          pairs={[
            [facts.batch, `${it.id}, ${words.records.status(it.status)}`],
            [facts.size, it.batch_g && [massWithUnit(it.batch_g), it.sized].filter(Boolean).join(": ")],
            [facts.operator, it.operator && <Stands key="who" entry={1} field="operator" first={it.operator} />],
            [facts.opened, stamp(it.opened)],
            [it.status === "abandoned" ? facts.abandoned : facts.closed, it.closed && stamp(it.closed)],
            [facts.station, it.station],
            [facts.rule, it.rule],
            [facts.revision, it.revision],
            [facts.entries, String(it.entries)],
            [facts.hash, it.last_hash],
            [facts.signed, it.signed.join(", ")],
          ]}
        />
        <Correct entry={1} what={corrections.about({ kind: "batch opened" })} />
        <SinceThen formula={it.formula} revision={it.revision} />
        {asked.value.entries.some((one) => "check" in one.body) && <Flags batch={it.id} />}
        <Sums it={it} />
        {it.accepted.length > 0 && <AsWeighedOf batch={it.id} />}
        {(it.status === "closed" || it.status === "in process") && <YieldOf batch={it.id} by={it.operator} />}
        <ol class="record-additions">
          {it.accepted.map((a) => (
            <AdditionRecord key={a.n} it={a} />
          ))}
          {left.map((p) => (
            <li class="record-addition not-weighed" key={p.n}>
              <header>
                <h3>
                  {p.n}. {p.name}
                </h3>
                <p class="verdict">{words.record.waiting}</p>
              </header>
            </li>
          ))}
        </ol>
        {it.process && <Steps batch={it.id} />}
        <Events it={it} />
        <Countersigning batch={it.id} again={asked.again} />
        <Corrections shown={shown} />
        <p class="soft print-only">{words.legal}</p>
      </main>
    </Correctable>
  );
}
