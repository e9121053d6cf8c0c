// One step in the list: read back as a sentence, moved by large buttons and by keys, opened to be changed.

import { type Choices, fieldsOf, meansOf, type StepRead, type StepRow, steps as w, toConfirm, type Treatment } from "../core/steps.ts";
import { words } from "../core/words.ts";
import { Said } from "./said.tsx";
import { Shape } from "./shapes.tsx";
import { coolingOf, StepFields } from "./step-fields.tsx";

interface StepProps {
  n: number;
  of: number;
  row: StepRow;
  name: string;
  read: StepRead | null;
  present: boolean;
  unit: string;
  choices: Choices;
  warm: boolean;
  faults: Record<string, string>;
  open: boolean;
  flip(): void;
  change(more: Partial<StepRow>): void;
  move(by: number): void;
  drop(): void;
}

export function Step({ n, of, row, name, read, present, unit, choices, warm, faults, open, flip, change, move, drop }: StepProps) {
  const kind = choices.kinds.find((it) => it.kind === row.kind);
  const at = new Set<string>(["kind", "name", "how", "with", "cautions", ...fieldsOf(row, kind), ...row.cautions.flatMap((_, c) => ["", ".name", ".text"].map((end) => `cautions[${c + 1}]${end}`))]);
  // What is wrong at no field that is in sight is told at the step.
  const rest = Object.entries(faults).filter(([field]) => !open || !at.has(field));
  const byKey = (event: KeyboardEvent) => {
    const by = event.altKey && !event.ctrlKey && !event.metaKey ? { ArrowUp: -1, ArrowDown: 1 }[event.key] : undefined;
    // There, the same keys open the list and move by paragraphs.
    if (by === undefined || (event.target as HTMLElement).matches("select, textarea")) return;
    event.preventDefault();
    move(by);
  };
  const id = `step-fields-${row.key}`;
  return (
    <li class="step-row" data-key={row.key} data-testid={`step-${n}`} data-open={open} data-bad={Object.keys(faults).length > 0} onKeyDown={byKey}>
      <div class="step-head">
        <span class="nth" aria-hidden="true">
          {n}
        </span>
        <div class="step-said" data-present={present && read !== null} data-testid={`step-said-${n}`}>
          <Sentence row={row} name={name} read={read} present={present} bad={Object.keys(faults).length > 0} table={choices.tables.find((it) => it.id === read?.table) ?? null} brings={choices.brings} unit={unit} />
          {warm && <Cooling table={choices.tables.find((it) => it.id === read?.table)} unit={unit} />}
          {rest.map(([field, text]) => (
            <p class="fault" key={field}>
              <Shape name="warn" />
              <Said text={words.pantry.fault(text)} />
            </p>
          ))}
        </div>
        <span class="row-acts">
          <button type="button" class="plain step-open" aria-expanded={open} aria-controls={open ? id : undefined} aria-label={open ? w.shut(n) : w.change(n)} onClick={flip}>
            {open ? w.shutShort : w.changeShort}
          </button>
          <button type="button" class="plain" title={w.byKeys} aria-label={w.up(n)} aria-disabled={n === 1} onClick={() => move(-1)}>
            {"\u2191"}
          </button>
          <button type="button" class="plain" title={w.byKeys} aria-label={w.down(n)} aria-disabled={n === of} onClick={() => move(1)}>
            {"\u2193"}
          </button>
          <button type="button" class="plain" aria-label={w.drop(n)} onClick={drop}>
            {"\u00d7"}
          </button>
        </span>
      </div>
      {open && (
        <div class="step-fields" id={id}>
          <StepFields n={n} row={row} choices={choices} unit={unit} faults={faults} change={change} />
        </div>
      )}
    </li>
  );
}

interface SentenceProps {
  row: StepRow;
  name: string;
  read: StepRead | null;
  present: boolean;
  bad: boolean;
  table: Treatment | null;
  brings: Choices["brings"];
  unit: string;
}

/** A step as whoever does it will read it. */
function Sentence({ row, name, read, present, bad, table, brings, unit }: SentenceProps) {
  const head = w.head(name, meansOf(row.with, brings));
  const names = toConfirm(row, brings);
  const confirm = names.length > 0 && (
    <p class="step-confirm">
      <Shape name="warn" />
      <span>{w.confirm(names)}</span>
    </p>
  );
  if (read === null) {
    const typed = [row.temperature, row.time].map((it) => it.trim()).filter(Boolean).join(", ");
    const why = !present ? w.working : row.kind === "heat-treat" && !row.table ? w.noTable : bad ? w.wrong : w.incomplete;
    return (
      <>
        <p>
          <b>{head}</b>
          {typed && `: ${typed}`} <span class="soft">{`(${why})`}</span>
        </p>
        {confirm}
      </>
    );
  }
  const asks = w.asks(read, table, unit);
  return (
    <>
      <p>
        <b>{head}</b>
        {asks ? `: ${asks}.` : "."}
      </p>
      {row.how.trim() && <p class="step-how">{row.how.trim()}</p>}
      {confirm}
    </>
  );
}

function Cooling({ table, unit }: { table: Treatment | undefined; unit: string }) {
  const limit = table ? coolingOf(table, unit) : "";
  if (!limit) return null;
  return (
    <p class="step-confirm">
      <Shape name="note" />
      <span>{w.cooling(limit)}</span>
    </p>
  );
}
