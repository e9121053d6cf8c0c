// The parts of the board of a batch in process: beginning a step, measuring, what was measured, all steps.

import type { ComponentChildren } from "preact";
import { useRef, useState } from "preact/hooks";
import { type InProcess, process as w, type Run, type Step, stepLook, typed } from "../core/process.ts";
import type { Command } from "../core/commands.ts";
import { dryIce } from "../core/dry-ice.ts";
import { stamp } from "../core/numbers.ts";
import { to } from "../core/routes.ts";
import { DryIceBefore, DryIceKept } from "./dry-ice-step.tsx";
import type { Deeds } from "./process.tsx";
import { Shape } from "./shapes.tsx";
import { fresh, recall, remember } from "./store.ts";
import { Said } from "./said.tsx";

/** The published pairs of a heat treatment, and why: always with what decides. */
function Pairs({ step, chosen, choose }: { step: Step; chosen: string; choose(pair: string): void }) {
  const table = step.table;
  if (table === null) return null;
  return (
    <fieldset class="process-pairs">
      <legend>
        <b>{table.name}</b> {w.pairs}
      </legend>
      <div class="quick">
        {[null, ...table.pairs].map((it) => (
          <label class="choice" key={it?.pair ?? ""} title={it ? w.source(it) : undefined}>
            <input type="radio" name="pair" checked={chosen === (it?.pair ?? "")} onChange={() => choose(it?.pair ?? "")} />
            <span>
              {it ? w.pair(it) : w.whichever}
              {it && <small><Said text={w.source(it)} /></small>}
            </span>
          </label>
        ))}
      </div>
      {table.note && <p class="soft">{table.note}</p>}
      <p class="caution">{table.notice}</p>
    </fieldset>
  );
}

interface Beginning {
  batch: string;
  step: Step;
  deeds: Deeds;
  children: ComponentChildren;
}

/** What comes before a step: its cautions, each confirmed by its name, and the pair to follow. */
export function Begin({ batch, step, deeds, children }: Beginning) {
  const [named, name] = useState<readonly string[]>([]);
  const [pair, choose] = useState("");
  const cold = step.with === dryIce.means;
  const [given, give] = useState<Record<string, string> | null>(null);
  const left = step.cautions.length - named.length;
  const waits = left > 0 || (cold && given === null);
  const flip = (it: string) => name(named.includes(it) ? named.filter((one) => one !== it) : [...named, it]);
  const begin = () => {
    if (waits || deeds.busy) return;
    const more: Partial<Command> = { confirmed: [...named] };
    if (pair) more.pair = pair;
    if (cold && given) more.dry_ice = given;
    void deeds.send("begin step", more);
  };
  return (
    <>
      <Pairs step={step} chosen={pair} choose={choose} />
      {step.cautions.length > 0 && (
        <fieldset class="process-cautions">
          <legend>{w.cautions}</legend>
          {step.cautions.map((it) => (
            <label class="choice" key={it.name} data-testid={`caution-${it.name}`}>
              <input type="checkbox" checked={named.includes(it.name)} onChange={() => flip(it.name)} />
              <span>
                <b>{it.name}</b> {it.text}
              </span>
            </label>
          ))}
        </fieldset>
      )}
      {cold && <DryIceBefore batch={batch} limits={step.limits} give={give} />}
      {children}
      <button type="button" class="big" id="primary" data-testid="step-begin" aria-disabled={waits || deeds.busy || !fresh.value} onClick={begin}>
        <span>{left > 0 ? w.confirmFirst(left) : waits ? dryIce.roomFirst : w.begin}</span>
      </button>
    </>
  );
}

/** A field for a temperature, with Enter; what was typed stays until the station took it. */
export function Measure({ step, deeds }: { step: Step; deeds: Deeds }) {
  const [text, type] = useState("");
  const [ago, back] = useState("");
  const [held, keep] = useState("");
  const [unit, choose] = useState(recall("degrees") || "°C");
  const field = useRef<HTMLInputElement>(null);
  const sending = useRef(false);
  const enter = async (event: Event) => {
    event.preventDefault();
    if (sending.current) return;
    const temperature = typed(text, unit);
    if (!temperature) {
      deeds.say(w.wrong);
      field.current?.focus();
      return;
    }
    const more: Partial<Command> = { temperature };
    if (ago.trim()) more.ago = `${ago.trim()} min`;
    if (held.trim()) more.held = `${held.trim()} s`;
    sending.current = true;
    const taken = await deeds.send("enter temperature", more);
    sending.current = false;
    if (!taken) return;
    type("");
    back("");
    keep("");
    field.current?.focus();
  };
  return (
    <form class="measure" onSubmit={(e) => void enter(e)}>
      <label class="field">
        <span>{w.temperature}</span>
        <input
          id="temperature"
          ref={field}
          inputMode="decimal"
          maxLength={12}
          autocomplete="off"
          value={text}
          onInput={(e) => type(e.currentTarget.value)}
        />
      </label>
      <label class="field measure-unit">
        <span>{w.unit}</span>
        <select
          value={unit}
          onChange={(e) => {
            choose(e.currentTarget.value);
            remember("degrees", e.currentTarget.value);
          }}
        >
          <option>°C</option>
          <option>°F</option>
        </select>
      </label>
      <button type="submit" class="solid" disabled={!fresh.value}>
        {w.enter}
      </button>
      <details class="measure-more">
        <summary>{step.table ? w.moreHeat : w.more}</summary>
        <div class="fields">
          <label class="field">
            <span>
              {w.ago} <small>{w.agoMore}</small>
            </span>
            <input inputMode="decimal" maxLength={8} autocomplete="off" value={ago} onInput={(e) => back(e.currentTarget.value)} />
          </label>
          {step.table && (
            <label class="field">
              <span>
                {w.heldFor} <small>{w.heldMore}</small>
              </span>
              <input inputMode="decimal" maxLength={8} autocomplete="off" value={held} onInput={(e) => keep(e.currentTarget.value)} />
            </label>
          )}
        </div>
      </details>
      {step.table && <p class="soft">{w.measureAgain}</p>}
    </form>
  );
}

/** What was measured in a step: the newest first where one can be struck out, else as it came. */
export function Values({ run, can = false, strike }: { run: Run; can?: boolean; strike?(n: number): void }) {
  if (run.values.length === 0) return null;
  const rows = strike ? [...run.values].reverse() : run.values;
  return (
    <ol class="values" aria-label={w.values} data-testid="values">
      {rows.map((it) => (
        <li key={it.n} data-struck={it.struck !== ""}>
          <b>{it.temperature}</b>
          <span>
            {stamp(it.at)}, {it.by}
            {it.entered && ` (${w.said})`}
            {Number(it.held_s) > 0 && `, ${w.heldUp(it.held_s)}`}
            {it.struck && <q>{w.struck(it.struck)}</q>}
          </span>
          {can && !it.struck && (
            <button type="button" class="plain" onClick={() => strike?.(it.n)}>
              {w.strike}
            </button>
          )}
        </li>
      ))}
    </ol>
  );
}

/** Every step of the batch and how it stands. */
export function StepList({ it }: { it: InProcess }) {
  return (
    <aside class="additions process-steps">
      <h2>{w.step}</h2>
      <ol>
        {it.steps.map((step) => {
          const [shape, tone] = stepLook(step.status);
          return (
            <li key={step.n} data-tone={tone} aria-current={step.n === it.step ? "step" : undefined}>
              <Shape name={shape} />
              <span class="addition-name">
                {step.n}. {step.name}
                <small>
                  {w.status(step.status)}
                  {step.table === null && step.limits ? `: ${step.limits}` : ""}
                </small>
              </span>
            </li>
          );
        })}
      </ol>
      <a class="plain" href={to.process()}>
        {w.back}
      </a>
    </aside>
  );
}

/** The steps of a batch in its record: every doing of each, with times, values and persons. */
export function StepRecords({ steps }: { steps: Step[] }) {
  return (
    <section class="record-steps" data-testid="record-steps">
      <h2>{w.record.title}</h2>
      <ol class="record-additions">
        {steps.map((step) => (
          <li class="record-addition" key={step.n} data-tone={stepLook(step.status)[1]}>
            <header>
              <h3>
                {step.n}. {step.name}
              </h3>
              <p class="verdict">
                <Shape name={stepLook(step.status)[0]} />
                {w.status(step.status)}
              </p>
            </header>
            {step.limits && <p>{step.limits}</p>}
            {step.table && <p class="soft">{`${step.table.name}. ${step.table.notice}`}</p>}
            {step.runs.length === 0 && <p class="soft">{w.record.notDone}</p>}
            {step.runs.map((run) => (
              <RunRecord key={run.begun} run={run} />
            ))}
          </li>
        ))}
      </ol>
    </section>
  );
}

function RunRecord({ run }: { run: Run }) {
  const said = (entered: boolean) => (entered ? ` (${w.said})` : "");
  return (
    <div class="run">
      <p>
        {w.record.begun(stamp(run.begun) + said(run.begun_entered), run.by)}
        {run.confirmed.length > 0 && `. ${w.record.confirmed(run.confirmed)}`}
      </p>
      {run.dry_ice && <DryIceKept figures={run.dry_ice} />}
      <Values run={run} />
      {run.notes.map((note) => (
        <p key={note.at}>
          <q>{note.text}</q> <span class="soft">{`${stamp(note.at)}, ${note.by}`}</span>
        </p>
      ))}
      {run.ended && (
        <p>
          {w.record.ended(stamp(run.ended) + said(run.ended_entered), run.ended_by)}
          {run.faults.length > 0 && <b>{`. ${w.faults(run.faults)}`}</b>}
          {run.told && <Said text={`. ${w.told(run.told)}`} />}
          {run.failed && <q>{run.failed}</q>}
        </p>
      )}
      {run.decision && (
        <p>
          <b>{w.record.decided(run.decision)}</b>: <q>{run.reason}</q>{" "}
          <span class="soft">{`${run.decided ? stamp(run.decided) : ""}, ${run.decided_by}`}</span>
        </p>
      )}
    </div>
  );
}
