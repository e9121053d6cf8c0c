// The batches in process: which there are, and for one of them what to do now, large; how long it has;
// what was measured. The station judges; the page counts on between two of its pictures.

import type { ComponentChildren } from "preact";
import { useEffect, useRef, useState } from "preact/hooks";
import { undone } from "../core/answers.ts";
import { clock, type InProcess, newest, present, process as w, stepLook, timer } from "../core/process.ts";
import type { Command } from "../core/commands.ts";
import { to } from "../core/routes.ts";
import { words } from "../core/words.ts";
import { massWithUnit } from "../core/numbers.ts";
import { states } from "../core/states.ts";
import { Ask } from "./dialogs.tsx";
import { DryIceNow } from "./dry-ice-step.tsx";
import { Over } from "./process-over.tsx";
import { Begin, Measure, StepList, Values } from "./process-parts.tsx";
import { Said } from "./said.tsx";
import { Shape } from "./shapes.tsx";
import { NameField } from "./person.tsx";
import { fresh, inProcess, operator, people, processCame, remember, requests } from "./store.ts";
import { YieldOf } from "./yield.tsx";
import { Nothing } from "./trouble.tsx";

/** Seconds since the newest picture, drawn anew four times a second. */
function useSince(): number {
  const [, next] = useState(0);
  useEffect(() => {
    const beat = setInterval(() => next((n) => n + 1), 250);
    return () => clearInterval(beat);
  }, []);
  void inProcess.value;
  return (performance.now() - processCame) / 1000;
}

export interface Deeds {
  busy: boolean;
  trouble: string;
  send(what: string, more?: Partial<Command>): Promise<boolean>;
  say(text: string): void;
}

/** Commands for one batch; what was refused is told beside it. */
function useDeeds(it: InProcess): Deeds {
  const [busy, mark] = useState(false);
  const [trouble, say] = useState("");
  const line = useRef<Promise<unknown>>(Promise.resolve());
  const now = async (what: string, step: number | null, more: Partial<Command>): Promise<boolean> => {
    if (!fresh.peek()) {
      say(words.unreachable);
      return false;
    }
    const by = operator.peek().trim();
    if (!by) {
      say(w.whoWrong);
      document.getElementById("who")?.focus();
      return false;
    }
    mark(true);
    say("");
    const answer = await requests.command(it.id, { do: what, by, ...(step === null ? {} : { step }), ...more });
    mark(false);
    say(answer.kind === "refused" && answer.problem.code === "not-now" ? answer.problem.detail : undone(answer));
    return answer.kind === "ok";
  };
  // One after the other, each for the step that was on the board when it was pressed.
  const send = (what: string, more: Partial<Command> = {}): Promise<boolean> => {
    const mine = line.current.then(() => now(what, it.step, more));
    line.current = mine;
    return mine;
  };
  return { busy, trouble, send, say };
}

// --- all of them ----------------------------------------------------------------------------------

function Row({ it, since }: { it: InProcess; since: number }) {
  const step = present(it);
  const [shape, tone] = stepLook(step?.status ?? "done");
  const counts = it.now ? timer(it.now, since) : null;
  return (
    <li data-tone={it.now?.out.length ? "over" : tone}>
      <a class="process-row" href={to.process(it.id)} data-testid={`process-${it.id}`}>
        <Shape name={it.now?.out.length ? "warn" : shape} />
        <span>
          <b>{it.name}</b>
          <small>
            {it.id}, {massWithUnit(it.batch_g)}, {it.operator}
          </small>
        </span>
        <span class="process-what">
          <b>{w.plate(it)}</b>
          <small>{step ? `${step.name}: ${w.nth(step.n, it.steps.length)}` : ""}</small>
        </span>
        <span class="process-time">{counts?.seconds != null && fresh.value ? clock(counts.seconds) : ""}</span>
      </a>
    </li>
  );
}

function All({ them }: { them: InProcess[] }) {
  const since = useSince();
  return (
    <main class="page">
      <h1>{w.title}</h1>
      {!fresh.value && <p class="hint">{states.lastHeard}</p>}
      {them.length === 0 && (
        <Nothing text={w.none}>
          <a class="solid" href={to.start()}>
            {states.weigh}
          </a>
        </Nothing>
      )}
      <ul class="process-list">
        {them.map((it) => (
          <Row key={it.id} it={it} since={since} />
        ))}
      </ul>
    </main>
  );
}

// --- one ------------------------------------------------------------------------------------------

function Figures({ it, since }: { it: InProcess; since: number }) {
  if (it.now === null) return null;
  const counts = timer(it.now, since);
  const shown = fresh.value && counts.seconds !== null ? clock(counts.seconds) : "\u2013:\u2013\u2013";
  return (
    <div class={`number digits-${Math.min(10, Math.max(4, shown.length))}`} data-over={counts.over}>
      <div class="number-line">
        <span class="number-main" data-testid="timer" role="timer">
          {shown}
        </span>
        <span class="number-side">
          <span class="number-caption" data-testid="timer-caption">
            {fresh.value ? counts.caption : words.link.plate}
          </span>
        </span>
      </div>
    </div>
  );
}

function Who() {
  if (people.value.listed) return <NameField label={w.who} value={operator.value} type={(name) => (operator.value = name)}>{null}</NameField>;
  return (
    <label class="field process-who">
      <span>{w.who}</span>
      <input
        id="who"
        value={operator.value}
        maxLength={80}
        autocomplete="off"
        onInput={(e) => {
          operator.value = e.currentTarget.value;
          remember("operator", e.currentTarget.value.trim());
        }}
      />
    </label>
  );
}

type Asked = { what: keyof typeof w.asks; do: string; danger?: boolean; value?: number };

/** Why a step is held, and what can be decided; told by shape and words, not by colour alone. */
function Held({ it, ask }: { it: InProcess; ask(asked: Asked): void }) {
  if (it.held === null) return null;
  return (
    <section class="held" data-testid="held">
      <p class="held-what">
        <Shape name="stop" /> <Said text={w.told(it.held.told) || w.faults(it.held.faults)} />
      </p>
      {it.held.reason && <p>{it.held.reason}</p>}
      {it.held.heat && <p>{w.noWaiver}</p>}
      <div class="row">
        <button type="button" class="solid" onClick={() => ask({ what: "repeat", do: "repeat step" })}>
          {w.repeat}
        </button>
        {it.can.includes("accept step") && (
          <button type="button" class="plain" onClick={() => ask({ what: "accept", do: "accept step" })}>
            {w.accept}
          </button>
        )}
        <button type="button" class="plain danger-text" onClick={() => ask({ what: "discard", do: "abandon", danger: true })}>
          {w.discard}
        </button>
      </div>
    </section>
  );
}

function Trouble({ text }: { text: string }) {
  return (
    <p class="complaint" role="alert">
      <Said text={text} />
    </p>
  );
}

function Others({ it, ask, children }: { it: InProcess; ask(asked: Asked): void; children?: ComponentChildren }) {
  const offers: [string, Asked, string][] = [
    ["fail step", { what: "fail", do: "fail step" }, w.fail],
    ["note step", { what: "note", do: "note step" }, w.note],
    ["close batch", { what: "close", do: "close batch", danger: true }, w.close],
  ];
  return (
    <div class="row process-others">
      {children}
      {offers
        .filter(([can]) => it.can.includes(can))
        .map(([can, asked, text]) => (
          <button type="button" class="plain" key={can} onClick={() => ask(asked)}>
            {text}
          </button>
        ))}
      {it.state !== "held" && it.can.includes("abandon") && (
        <button type="button" class="plain danger-text" onClick={() => ask({ what: "discard", do: "abandon", danger: true })}>
          {w.discard}
        </button>
      )}
    </div>
  );
}

function Asking({ it, asked, deeds, away }: { it: InProcess; asked: Asked; deeds: Deeds; away(): void }) {
  const [from, choose] = useState(it.step ?? 1);
  const said = w.asks[asked.what];
  const more: Partial<Command> = asked.value === undefined ? {} : { value: asked.value };
  if (asked.do === "repeat step") more.from_step = from;
  return (
    <Ask
      title={said.title}
      what={said.what}
      ask={asked.what === "note" ? w.text : w.ask}
      quick={said.quick}
      save={said.save}
      keep={w.keep}
      danger={asked.danger ?? false}
      away={away}
      trouble={deeds.trouble}
      send={(text) => deeds.send(asked.do, { ...more, ...(asked.what === "note" ? { note: text } : { reason: text }) })}
    >
      {asked.do === "repeat step" && (it.step ?? 1) > 1 && (
        <label class="field">
          <span>{w.fromStep}</span>
          <select value={String(from)} onChange={(e) => choose(Number(e.currentTarget.value))}>
            {it.steps
              .filter((one) => one.n <= (it.step ?? 1))
              .reverse()
              .map((one) => (
                <option key={one.n} value={String(one.n)}>
                  {one.n === it.step ? `${one.name} (${w.fromThis})` : `${one.n}. ${one.name}`}
                </option>
              ))}
          </select>
        </label>
      )}
    </Ask>
  );
}

function Board({ it }: { it: InProcess }) {
  const since = useSince();
  const deeds = useDeeds(it);
  const [asked, ask] = useState<Asked | null>(null);
  const step = present(it);
  const run = newest(step);
  const open = (what: Asked) => {
    deeds.say("");
    ask(what);
  };
  useEffect(() => ask(null), [it.step, it.state]);
  if (step === null) return null;
  const out = it.now?.out ?? [];
  const enough = it.now?.hold?.satisfied ?? null;
  const [shape, tone] = out.length ? (["warn", "over"] as const) : enough ? (["good", "good"] as const) : stepLook(step.status);
  const running = it.state === "running";
  const ends = it.can.includes("end step");
  // Only what would come out well is the big button's: a press too early would have it held.
  const well = ends && out.length === 0 && (it.now?.awaited.includes("done") ?? false);
  return (
    <main class="weigh process">
      <section class="stage" data-tone={fresh.value ? tone : "stop"} data-state={it.state} aria-label={it.name}>
        <div class="plate">
          <Shape name={fresh.value ? shape : "lost"} />
          <strong data-testid="process-plate">{fresh.value ? w.plate(it) : words.link.plate}</strong>
          <span class="plate-nth">{w.nth(step.n, it.steps.length)}</span>
        </div>
        <div class="stage-body">
          <header class="check-head">
            <div>
              <p class="soft">
                {it.name}, {it.id}
              </p>
              <h1 data-testid="step-name">{step.name}</h1>
              {step.table === null && step.limits && <p class="process-limits">{step.limits}</p>}
              {step.with && <p>{w.with(step.with)}</p>}
              {step.how && <p>{step.how}</p>}
            </div>
            <Who />
          </header>
          {it.cooling && (
            <p class="warning" data-testid="cooling">
              <Shape name="note" />
              <Said text={w.cooling(it.cooling.limits)} />
              {it.cooling.left_s !== null && fresh.value && `: ${w.coolingLeft(Number(it.cooling.left_s) - since)}`}
              {` (${it.cooling.source}). ${w.local}`}
            </p>
          )}
          <Held it={it} ask={open} />
          {running && <Figures it={it} since={since} />}
          {running && out.length > 0 && (
            <p class="warning" role="status">
              <Shape name="warn" /> {w.outOf(out)}
            </p>
          )}
          {running && enough && <p class="done-said">{w.enough(enough)}</p>}
          {it.state === "waiting" && (
            <Begin key={`${it.id}/${step.n}/${step.runs.length}`} batch={it.id} step={step} deeds={deeds}>
              {deeds.trouble && asked === null && <Trouble text={deeds.trouble} />}
              <Others it={it} ask={open} />
            </Begin>
          )}
          {running && run?.dry_ice && it.now && fresh.value && <DryIceNow figures={run.dry_ice} elapsed={Number(it.now.elapsed_s) + since} />}
          {running && step.needs_temperature && <Measure key={step.n} step={step} deeds={deeds} />}
          {run && running && <Values run={run} can={it.can.includes("strike temperature")} strike={(n) => open({ what: "strike", do: "strike temperature", value: n })} />}
          {deeds.trouble && asked === null && it.state !== "waiting" && <Trouble text={deeds.trouble} />}
          {it.state !== "waiting" && <Others it={it} ask={open}>
            {ends && !well && (
              <button type="button" class="plain" data-testid="step-end-anyway" onClick={() => void deeds.send("end step")}>
                {w.endAnyway}
              </button>
            )}
          </Others>}
          {running && (
            <button
              type="button"
              class="big"
              id="primary"
              data-testid="step-end"
              aria-disabled={!well || deeds.busy || !fresh.value}
              onClick={() => well && void deeds.send("end step")}
            >
              <span>{fresh.value ? (well ? w.end : w.awaits(it)) : words.link.plate}</span>
            </button>
          )}
        </div>
      </section>
      <StepList it={it} />
      <YieldOf batch={it.id} by={it.operator} />
      {asked && <Asking key={asked.what} it={it} asked={asked} deeds={deeds} away={() => ask(null)} />}
      <p class="visually-hidden" aria-live="polite">
        {w.plate(it)}. {step.name}. {step.limits}
      </p>
    </main>
  );
}

export function ProcessScreen({ batch }: { batch: string | null }) {
  const them = inProcess.value.batches;
  if (batch === null) return <All them={them} />;
  const it = them.find((one) => one.id === batch);
  if (it) return <Board key={it.id} it={it} />;
  return <Over key={batch} batch={batch} />;
}
