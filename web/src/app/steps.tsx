// The steps of a formula: the list as a cook goes through it, each read back as a sentence while it is
// written, and opened to be changed.

import { useEffect, useRef, useState } from "preact/hooks";
import { unanswered } from "../core/answers.ts";
import { type Fault, faultsAt, moved } from "../core/drafts.ts";
import {
  type Choices,
  emptyStep,
  inAll,
  isOfEmpty,
  leastTime,
  type Read,
  saying,
  sentSteps,
  type StepRead,
  type StepRow,
  steps as w,
  toConfirm,
  uncooled,
  usualRows,
} from "../core/steps.ts";
import { words } from "../core/words.ts";
import { useAsked, useSaidOf } from "./ask.ts";
import { Said } from "./said.tsx";
import { Shape } from "./shapes.tsx";
import { Step } from "./step-row.tsx";
import { recall } from "./store.ts";

/** What the station read of each row, by the row's key, and of which text. */
interface Seen {
  asked: string;
  by: ReadonlyMap<number, { of: string; read: StepRead | null }>;
  keys: number[];
  read: (StepRead | null)[];
  faults: Fault[];
  trouble: string;
}
const NOTHING: Seen = { asked: "", by: new Map(), keys: [], read: [], faults: [], trouble: "" };

function useRead(rows: StepRow[]): Seen & { present: boolean } {
  const text = JSON.stringify({ steps: sentSteps(rows)!.map((it) => ({ ...it, was: null })) });
  const [got, keep] = useState<Seen>(NOTHING);
  useSaidOf<Read>("api/steps", text, rows.length > 0, (answer, asked) => {
    if (answer.kind !== "ok") return keep((it) => ({ ...it, trouble: unanswered(answer) }));
    const { steps, faults } = answer.value;
    const by = new Map(rows.map((row, n) => [row.key, { of: saying(row), read: steps[n] ?? null }]));
    keep({ asked, by, keys: rows.map((row) => row.key), read: steps, faults, trouble: "" });
  });
  return { ...got, present: got.asked === text };
}

interface StepsProps {
  rows: StepRow[] | null;
  put(rows: StepRow[]): void;
  /** What was wrong when it was to be saved. */
  saving: Fault[];
  /** Whether somebody wanted to save: what is empty is told from then on. */
  tried: boolean;
  /** Whether milk or eggs go in. */
  raw: boolean;
}

export function Steps({ rows, ...more }: StepsProps) {
  const choices = useAsked<Choices>("api/steps");
  return (
    <section class="steps" aria-labelledby="steps-title" data-testid="steps">
      <h2 id="steps-title">
        {w.title} <small>{w.titleHint}</small>
      </h2>
      {rows === null ? (
        <p class="warning">
          <Shape name="warn" />
          {w.cannot}
        </p>
      ) : choices.value === null ? (
        choices.trouble ? (
          <>
            <p class="complaint" role="alert">
              <Said text={choices.trouble} />
            </p>
            <button type="button" class="plain" onClick={choices.again}>
              {words.again}
            </button>
          </>
        ) : (
          <p class="soft">{words.loading}</p>
        )
      ) : (
        <Editor rows={rows} choices={choices.value} {...more} />
      )}
    </section>
  );
}

function Editor({ rows, put, choices, saving, tried, raw }: StepsProps & { rows: StepRow[]; choices: Choices }) {
  const seen = useRead(rows);
  const [open, show] = useState<readonly number[]>([]);
  const [told, tell] = useState("");
  const [gone, lay] = useState<{ row: StepRow; at: number } | null>(null);
  const list = useRef<HTMLOListElement>(null);
  const unit = recall("degrees") || "\u00b0C";
  const name = (row: StepRow) => row.name.trim() || (row.kind ? w.kind(row.kind) : w.choose);
  const refused = rows.filter((_, index) => Object.keys(faultsAt(saving, "steps", index + 1)).length > 0).map((row) => row.key);
  // What was refused is opened, and stays open while it is mended.
  useEffect(() => {
    if (refused.length) show((now) => [...new Set([...now, ...refused])]);
  }, [saving]);

  const faultsOf = (row: StepRow, index: number): Record<string, string> => {
    const live = faultsAt(seen.faults, "steps", seen.keys.indexOf(row.key) + 1);
    const all = { ...live, ...faultsAt(saving, "steps", index + 1) };
    return Object.fromEntries(Object.entries(all).filter(([field]) => tried || !isOfEmpty(row, field)));
  };
  const whole = [...saving, ...seen.faults].find((it) => it.where === "steps")?.message;
  const say = (text: string, taken: { row: StepRow; at: number } | null = null) => {
    tell(text);
    lay(taken);
  };
  const change = (row: StepRow, more: Partial<StepRow>) => put(rows.map((it) => (it.key === row.key ? { ...it, ...more } : it)));
  const focus = (key: number, what: string) => setTimeout(() => list.current?.querySelector<HTMLElement>(`[data-key="${key}"] ${what}`)?.focus());
  const move = (row: StepRow, index: number, by: number) => {
    const next = moved(rows, index, by);
    if (next === rows) return;
    const had = document.activeElement;
    put(next);
    say(w.moved(name(row), index + 1 + by));
    // Moved in the page, it may have lost the focus.
    setTimeout(() => had instanceof HTMLElement && had.isConnected && document.activeElement !== had && had.focus());
  };
  const drop = (row: StepRow, index: number) => {
    put(rows.filter((it) => it.key !== row.key));
    say(w.gone(name(row)), { row, at: index });
    const next = rows[index + 1] ?? rows[index - 1];
    if (next) focus(next.key, ".row-acts button");
    else setTimeout(() => document.querySelector<HTMLElement>(".step-usual button")?.focus());
  };
  const back = () => {
    if (!gone) return;
    put([...rows.slice(0, gone.at), gone.row, ...rows.slice(gone.at)]);
    focus(gone.row.key, ".row-acts button");
    say("");
  };
  const add = (kind: string) => {
    const row = emptyStep(kind);
    put([...rows, row]);
    say("");
    show([...open, row.key]);
    focus(row.key, ".step-fields :is(.step-limits input, .step-tables input, select)");
  };
  const flip = (key: number) => {
    show(open.includes(key) ? open.filter((it) => it !== key) : [...open, key]);
    if (!open.includes(key)) focus(key, ".step-fields :is(select, input)");
  };
  const inOrder = rows.map((row) => seen.by.get(row.key)?.read ?? null);
  const warm = uncooled(rows);
  const cautions = rows.reduce((sum, row) => sum + toConfirm(row, choices.brings).length, 0);
  const least = leastTime(inOrder, choices.tables);

  return (
    <>
      {rows.length === 0 && <Usual choices={choices} begin={(them) => (put(them), say(""))} />}
      <ol class="step-rows" ref={list}>
        {rows.map((row, index) => {
          const it = seen.by.get(row.key);
          return (
            <Step
              key={row.key}
              n={index + 1}
              of={rows.length}
              row={row}
              name={name(row)}
              read={it?.read ?? null}
              present={it?.of === saying(row)}
              unit={unit}
              choices={choices}
              warm={warm === index}
              faults={faultsOf(row, index)}
              open={open.includes(row.key) || refused.includes(row.key)}
              flip={() => flip(row.key)}
              change={(more) => change(row, more)}
              move={(by) => move(row, index, by)}
              drop={() => drop(row, index)}
            />
          );
        })}
      </ol>
      {rows.length > 0 && (
        <p class="step-sum" data-testid="steps-sum" data-present={seen.present}>
          {w.sum(rows.length, least ? inAll(least) : "", cautions)}
        </p>
      )}
      {raw && rows.length > 0 && !rows.some((row) => row.kind === "heat-treat") && (
        <p class="caution">
          {w.noHeat} <Said text={w.said(choices.notice)} />
        </p>
      )}
      <div class="step-told">
        <p class="soft" role="status">
          {told}
        </p>
        {gone && (
          <button type="button" class="plain" onClick={back}>
            {w.back}
          </button>
        )}
      </div>
      {whole && (
        <p class="fault">
          <Said text={words.pantry.fault(whole)} />
        </p>
      )}
      {seen.trouble && (
        <p class="complaint" role="alert">
          <Said text={seen.trouble} /> {w.late}
        </p>
      )}
      <fieldset class="step-add">
        <legend>{w.add}</legend>
        <div>
          {choices.kinds.map((it) => (
            <button type="button" class="plain" key={it.kind} data-kind={it.kind} onClick={() => add(it.kind)}>
              {w.kind(it.kind)}
            </button>
          ))}
        </div>
      </fieldset>
    </>
  );
}

/** Where there are no steps yet: some to begin with. */
function Usual({ choices, begin }: { choices: Choices; begin(rows: StepRow[]): void }) {
  return (
    <div class="step-usual" data-testid="usual-steps">
      <p>{w.none}</p>
      <h3>{w.usual}</h3>
      <p class="soft">{w.usualHint}</p>
      <div class="row start">
        {choices.usual.map((it) => (
          <button type="button" class="plain" key={it.id} data-usual={it.id} onClick={() => begin(usualRows(it.steps))}>
            <span>
              {w.set(it.id)} <small>{w.count(it.steps.length)}</small>
            </span>
          </button>
        ))}
      </div>
    </div>
  );
}
