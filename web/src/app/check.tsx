// A scale being checked with weights: one instruction at a time, large; before and after it, how the
// scale stands and the checks that were made.

import { useSignal } from "@preact/signals";
import { useEffect, useRef, useState } from "preact/hooks";
import { undone } from "../core/answers.ts";
import { checks as w, type Check, type Made, type Running } from "../core/checks.ts";
import type { Scale } from "../core/frames.ts";
import { mass, signedWithUnit, unitFor, when } from "../core/numbers.ts";
import { to } from "../core/routes.ts";
import { words } from "../core/words.ts";
import { useAsked } from "./ask.ts";
import { Beside, History, Steps } from "./check-history.tsx";
import { Said } from "./said.tsx";
import { outcomeShape, outcomeTone, Shape, type ShapeName, type Tone } from "./shapes.tsx";
import { NameField } from "./person.tsx";
import { fresh, operator, remember, requests, scales } from "./store.ts";
import { Failed } from "./trouble.tsx";

const AT_ONCE = 30;
/** The newest steps that the board shows; all of them stand in the result. */
const SHOWN = 4;

function useDeeds(scale: string) {
  const trouble = useSignal("");
  const busy = useSignal(false);
  const send = async (body: object): Promise<boolean> => {
    if (busy.peek()) return false;
    busy.value = true;
    trouble.value = "";
    const answer = await requests.send(`api/scales/${encodeURIComponent(scale)}/check`, body);
    busy.value = false;
    trouble.value = undone(answer);
    return answer.kind === "ok";
  };
  return { trouble, busy, send };
}

// --- while it goes on -----------------------------------------------------------------------------

function look(run: Running): { shape: ShapeName; tone: Tone } {
  if (run.odd_g !== null) return { shape: "warn", tone: "stop" };
  if (run.wanted === "remove" && run.found) {
    return { shape: outcomeShape(run.found.outcome), tone: outcomeTone(run.found.outcome) };
  }
  if (run.wanted === "put") return { shape: "place", tone: "flow" };
  return run.wanted === "empty" ? { shape: "take", tone: "quiet" } : { shape: "waiting", tone: "quiet" };
}

const SPOTS: Record<string, [number, number]> = {
  centre: [60, 44],
  "front left": [33, 63],
  "back left": [33, 25],
  "back right": [87, 25],
  "front right": [87, 63],
};

/** The pan from above, and where on it the weight goes; the front is where one stands. */
function Pan({ place }: { place: string }) {
  const spot = SPOTS[place] ?? SPOTS["centre"]!;
  return (
    <svg class="pan" viewBox="0 0 120 100" aria-hidden="true" data-testid="pan" data-place={place}>
      <rect x="6" y="4" width="108" height="80" rx="12" class="pan-plate" />
      <path d="M60 4v80M6 44h108" class="pan-lines" />
      <circle cx={spot[0]} cy={spot[1]} r="15" class="pan-weight" />
      <path d="M48 89h24l-12 10z" class="pan-front" />
    </svg>
  );
}

function display(it: Scale): string {
  const r = it.reading;
  if (!fresh.value || it.link !== "live" || r === null) return mass(null);
  return r.over ? words.scales.over : mass(r.grams, unitFor("0"));
}

function Board({ it, run, deeds }: { it: Scale; run: Running; deeds: ReturnType<typeof useDeeds> }) {
  const { shape, tone } = fresh.value ? look(run) : ({ shape: "lost", tone: "stop" } as const);
  const shown = display(it);
  const odd = run.odd_g !== null && fresh.value;
  const board = useRef<HTMLElement>(null);
  useEffect(() => board.current?.scrollIntoView({ block: "start" }), [run.current?.n]);
  const corner = run.current?.part === "corner" && run.wanted !== "empty";
  return (
    <section ref={board} class="stage check-stage" data-tone={tone} data-wanted={run.wanted} aria-label={w.title(it.name)}>
      <div class="plate">
        <Shape name={shape} />
        <strong data-testid="check-plate">{fresh.value ? w.plate(run) : words.link.plate}</strong>
        <span class="plate-nth">{w.nth(run)}</span>
      </div>
      <div class="stage-body">
        <header class="check-head">
          <div>
            <h1 data-testid="instruction">{w.instruction(run)}</h1>
            <p class="check-more" data-testid="check-more">
              {w.more(run)}
            </p>
          </div>
          {corner && <Pan place={run.current!.place} />}
        </header>
        <div class={`number digits-${Math.min(10, Math.max(4, shown.length))}`}>
          <div class="number-line">
            <span class="number-main" data-testid="check-number">
              {shown}
            </span>
            <span class="number-side">
              <span class="number-unit">{unitFor("0")}</span>
              <span class="number-caption">{w.onScale}</span>
            </span>
          </div>
        </div>
        <ol class="check-done" aria-label={w.history}>
          {run.steps.slice(-SHOWN).map((step) => (
            <li key={step.n} data-tone={outcomeTone(step.outcome)}>
              <Shape name={outcomeShape(step.outcome)} />
              <span>{w.step(step)}</span>
              <b>{signedWithUnit(step.error_g)}</b>
            </li>
          ))}
        </ol>
        {deeds.trouble.value && (
          <p class="complaint" role="alert">
            <Said text={deeds.trouble.value} />
          </p>
        )}
        <div class="row">
          <button type="button" class="plain" disabled={!fresh.value} onClick={() => void deeds.send({ do: "stop" })}>
            {w.stop}
          </button>
        </div>
        <button
          type="button"
          class="big"
          id="primary"
          data-testid="check-right"
          aria-disabled={!odd || deeds.busy.value}
          onClick={() => odd && void deeds.send({ do: "it is right" })}
        >
          <span>{odd ? w.right(run) : fresh.value ? w.wait(run) : words.link.plate}</span>
        </button>
      </div>
    </section>
  );
}

/** What a screen reader hears: each instruction once. */
function Instructed({ run }: { run: Running }) {
  return (
    <p class="visually-hidden" aria-live="polite">
      {w.instruction(run)}. {w.more(run)}
    </p>
  );
}

// --- before and after -----------------------------------------------------------------------------

/** How a scale stands by its newest check, in a shape and words. */
export function Stands({ check }: { check: Check }) {
  const tone: Tone = check.standing === "good" ? "good" : check.standing === "failed" ? "over" : "close";
  const shape: ShapeName = check.standing === "good" ? "good" : check.standing === "failed" ? "fail" : "warn";
  return (
    <p class="check-stands" data-tone={tone} data-testid="standing">
      <Shape name={shape} />
      <b>{w.standing(check.standing)}</b>
      {check.last && <span>{`${w.last}: ${when(check.last.at)}`}</span>}
      <span>{`${w.due}: ${check.due ? when(check.due) : w.now}`}</span>
    </p>
  );
}

function Begin({ check, deeds }: { check: Check; deeds: ReturnType<typeof useDeeds> }) {
  const [by, type] = useState(operator.value);
  const [complaint, complain] = useState("");
  const start = async (event: Event) => {
    event.preventDefault();
    const who = by.trim();
    if (!who) {
      complain(w.byWrong);
      return;
    }
    complain("");
    operator.value = who;
    remember("operator", who);
    await deeds.send({ do: "start", by: who });
  };
  return (
    <form class="formula-sheet" onSubmit={(e) => void start(e)}>
      <p>{w.takes(check.placements, check.weights)}</p>
      <p class="soft">{w.wet}</p>
      {check.doubts.map((text) => (
        <p class="warning" key={text}>
          <Shape name="warn" />
          {text}
        </p>
      ))}
      <NameField label={w.by} value={by} type={type}>
        <label class="field">
          <span>{w.by}</span>
          <input value={by} maxLength={80} autocomplete="off" onInput={(e) => type(e.currentTarget.value)} />
        </label>
      </NameField>
      {(complaint || deeds.trouble.value) && (
        <p class="complaint" role="alert">
          <Said text={complaint || deeds.trouble.value} />
        </p>
      )}
      <button type="submit" class="big" disabled={!fresh.value}>
        {w.start}
      </button>
    </form>
  );
}

function Newest({ made }: { made: Made }) {
  return (
    <section class="check-result" data-tone={outcomeTone(made.outcome)} data-testid="result">
      <h2>
        <Shape name={outcomeShape(made.outcome)} />
        {w.outcome(made.outcome)}
        <small>{`${when(made.at)}, ${made.by}`}</small>
      </h2>
      <Steps made={made} />
      <Beside made={made} />
    </section>
  );
}

function Overview({ it, check, deeds }: { it: Scale; check: Check; deeds: ReturnType<typeof useDeeds> }) {
  const round = check.last?.seq ?? 0;
  const asked = useAsked<{ checks: Made[] }>(`api/scales/${encodeURIComponent(it.name)}/checks?limit=${AT_ONCE}&before=${round + 1}`);
  const made = asked.value?.checks ?? [];
  return (
    <main class="page check">
      <header>
        <a href={to.scales()}>{w.back}</a>
        <h1>{w.title(it.name)}</h1>
        <Stands check={check} />
        <p class="soft">{w.then(check)}</p>
      </header>
      <div class="check-columns">
        <div class="check-now">
          {made[0] && <Newest made={made[0]} />}
          <Begin check={check} deeds={deeds} />
        </div>
        {asked.trouble ? <Failed asked={asked} /> : <History made={made} />}
      </div>
    </main>
  );
}

export function CheckScreen({ scale }: { scale: string }) {
  const deeds = useDeeds(scale);
  const it = scales.value[scale];
  const check = it?.check ?? null;
  if (it === undefined || check === null) {
    return (
      <main class="page narrow">
        <h1>{w.title(scale)}</h1>
        <p>{it === undefined && Object.keys(scales.value).length === 0 ? words.loading : w.none}</p>
        <a class="plain" href={to.scales()}>
          {w.back}
        </a>
      </main>
    );
  }
  if (check.running === null) return <Overview it={it} check={check} deeds={deeds} />;
  return (
    <main class="weigh check-weigh">
      <Board it={it} run={check.running} deeds={deeds} />
      <Instructed run={check.running} />
    </main>
  );
}
