// The fields of one step: what its kind takes and nothing else, with what the station says at each.

import { useId } from "preact/hooks";
import { dryIce } from "../core/dry-ice.ts";
import { type Choices, degrees, exactly, fieldsOf, mayBe, meansOf, type StepRow, steps as w, terms, type Treatment, withKind } from "../core/steps.ts";
import type { Caution } from "../core/process.ts";
import { words } from "../core/words.ts";
import { Field, Pick, Wrong } from "./fields.tsx";
import { Said } from "./said.tsx";
import { Shape } from "./shapes.tsx";

interface FieldsProps {
  n: number;
  row: StepRow;
  choices: Choices;
  unit: string;
  faults: Record<string, string>;
  change(more: Partial<StepRow>): void;
}

export function StepFields({ n, row, choices, unit, faults, change }: FieldsProps) {
  const kind = choices.kinds.find((it) => it.kind === row.kind);
  const shown = fieldsOf(row, kind);
  const field = (name: "name" | "how" | "with" | "temperature" | "time") => ({
    name: `step-${name}-${n}`,
    label: w[name],
    value: row[name],
    type: (text: string) => change({ [name]: text }),
    fault: faults[name],
  });
  const means = meansOf(row.with, choices.brings);
  const cold = means === dryIce.means;
  const aside = Object.values(row.aside).filter(Boolean);
  return (
    <>
      <div class="fields">
        <Pick
          name={`step-kind-${n}`}
          label={w.what}
          value={row.kind}
          options={[...(row.kind ? [] : [["", w.choose] as [string, string]]), ...choices.kinds.map((it): [string, string] => [it.kind, w.kind(it.kind)])]}
          pick={(it) => change(withKind(row, it, choices.kinds.find((one) => one.kind === it)?.takes ?? []))}
          fault={faults["kind"]}
        />
        <Field {...field("name")} hint={kind && w.nameHint(kind.name)} />
      </div>
      {(shown.includes("temperature") || shown.includes("time")) && (
        <div class="fields step-limits">
          {shown.includes("temperature") && <Field {...field("temperature")} hint={kind?.keeps ? w.temperatureKept : w.temperatureReached} />}
          {shown.includes("time") && <Field {...field("time")} hint={w.timeHint} />}
        </div>
      )}
      {shown.includes("table") && <Tables n={n} row={row} choices={choices} unit={unit} fault={faults["table"]} choose={(table) => change({ table })} />}
      {aside.length > 0 && <p class="soft">{w.aside(aside)}</p>}
      <div class="fields">
        <div class="step-with">
          <Field {...field("with")} hint={w.withHint} />
          <button type="button" class="plain" aria-pressed={cold} onClick={() => change({ with: cold ? "" : dryIce.means })}>
            {w.dryIce}
          </button>
        </div>
        <Field {...field("how")} long hint={w.howHint} />
      </div>
      {mayBe(row.with, dryIce.means, terms.lookalikes) && (
        <p class="warning" role="status">
          <Shape name="warn" />
          {w.lookalike}
        </p>
      )}
      <Cautions n={n} row={row} brought={choices.brings[means] ?? []} faults={faults} put={(cautions) => change({ cautions })} />
    </>
  );
}

// --- the published tables -------------------------------------------------------------------------

interface TablesProps {
  n: number;
  row: StepRow;
  choices: Choices;
  unit: string;
  fault: string | undefined;
  choose(table: string): void;
}

function Tables({ n, row, choices, unit, fault, choose }: TablesProps) {
  const id = useId();
  return (
    <div class="field step-tables" role="radiogroup" tabIndex={-1} aria-labelledby={id} aria-invalid={fault ? "true" : undefined} aria-describedby={fault ? `${id}-fault` : undefined}>
      <span id={id}>
        {w.table} <small>{w.tableHint}</small>
      </span>
      <div class="quick">
        {choices.tables.map((it) => (
          <label class="choice" key={it.id}>
            <input type="radio" name={`step-table-${n}`} value={it.id} checked={row.table === it.id} onChange={() => choose(it.id)} />
            <span>
              <b>
                <Said text={w.tableName(it)} />
              </b>
              <TablePairs it={it} unit={unit} whole={row.table === it.id} />
            </span>
          </label>
        ))}
      </div>
      <Wrong id={id} text={fault} />
      <p class="caution">
        <Said text={w.said(choices.notice)} />
      </p>
    </div>
  );
}

/** The pairs of a table; with their sources for the one that is chosen. */
function TablePairs({ it, unit, whole }: { it: Treatment; unit: string; whole: boolean }) {
  return (
    <ul class="step-pairs">
      {it.pairs.map((pair) => (
        <li key={pair.pair}>
          {w.pairOf(pair, unit)}
          {whole && (
            <small>
              <Said text={w.source(pair)} />
            </small>
          )}
        </li>
      ))}
      {whole && it.cooling && (
        <li>
          {w.then(coolingOf(it, unit))}
          <small>
            <Said text={w.source(it.cooling)} />
          </small>
        </li>
      )}
      {whole && it.note && (
        <li class="soft">
          <Said text={w.tableNote(it)} />
        </li>
      )}
    </ul>
  );
}

/** What a table asks for after the treatment, in words. */
export const coolingOf = (it: Treatment, unit: string): string =>
  it.cooling ? w.coolingTo(degrees(it.cooling.at_most, unit), it.cooling.within_s === null ? "" : exactly(it.cooling.within_s)) : "";

// --- cautions -------------------------------------------------------------------------------------

interface CautionsProps {
  n: number;
  row: StepRow;
  brought: Caution[];
  faults: Record<string, string>;
  put(cautions: Caution[]): void;
}

function Cautions({ n, row, brought, faults, put }: CautionsProps) {
  const own = row.cautions;
  const set = (at: number, more: Partial<Caution>) => put(own.map((it, index) => (index === at ? { ...it, ...more } : it)));
  const add = (event: Event) => {
    const within = (event.currentTarget as HTMLElement).closest(".step-cautions");
    put([...own, { name: "", text: "" }]);
    setTimeout(() => within?.querySelector<HTMLElement>(`[name="caution-name-${n}-${own.length + 1}"]`)?.focus());
  };
  return (
    <fieldset class="step-cautions">
      <legend>
        {w.cautions} <small>{w.cautionsHint}</small>
      </legend>
      {brought.length > 0 && (
        <div class="step-brought" data-testid={`brought-${n}`}>
          <p>{w.byItself}</p>
          <ul>
            {brought.map((it) => (
              <li key={it.name} lang="en">
                <b>{it.name}</b> {it.text}
              </li>
            ))}
          </ul>
        </div>
      )}
      {own.length > 0 && (
        <ol class="caution-rows">
          {own.map((it, at) => (
            <li key={at}>
              <Field name={`caution-name-${n}-${at + 1}`} label={w.cautionName} value={it.name} type={(name) => set(at, { name })} fault={faults[`cautions[${at + 1}].name`] ?? faults[`cautions[${at + 1}]`]} />
              <Field name={`caution-text-${n}-${at + 1}`} label={w.cautionText} value={it.text} type={(text) => set(at, { text })} fault={faults[`cautions[${at + 1}].text`]} />
              <button type="button" class="plain" aria-label={w.dropCaution(at + 1)} onClick={() => put(own.filter((_, index) => index !== at))}>
                {"\u00d7"}
              </button>
              {brought.some((one) => one.name === it.name) && <p class="warning">{w.twice}</p>}
            </li>
          ))}
        </ol>
      )}
      {faults["cautions"] && (
        <p class="fault">
          <Said text={words.pantry.fault(faults["cautions"])} />
        </p>
      )}
      <button type="button" class="plain" onClick={add}>
        {w.addCaution}
      </button>
    </fieldset>
  );
}
