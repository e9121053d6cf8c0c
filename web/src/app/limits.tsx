// The classes of product with every limit and its source, to be looked up and changed.

import type { ComponentChildren } from "preact";
import { useRef } from "preact/hooks";
import { type LimitDraft, type Limits, type ProductClass, slug, type Tagged } from "../core/drafts.ts";
import { to } from "../core/routes.ts";
import { words } from "../core/words.ts";
import { useAsked } from "./ask.ts";
import { Field, isKept, Pick, SaveBar, type Saving, sendsByKey, useKept, useLeaving, useSaving } from "./fields.tsx";
import { requests } from "./store.ts";
import { Unanswered } from "./trouble.tsx";

const w = words.pantry;
const l = w.limits;
/** Instead of a class's id in the address: one that is not there yet. */
const FRESH = "+";

interface Draft {
  tag: string;
  id: string;
  name: string;
  rows: (LimitDraft & { key: number })[];
}

let keys = 0;
const keyed = (it: LimitDraft) => ({ ...it, key: ++keys });

interface RowProps {
  n: number;
  row: LimitDraft;
  quantities: Record<string, string>;
  fault(field: string): string | undefined;
  change(more: Partial<LimitDraft>): void;
  drop(): void;
}

function Row({ n, row, quantities, fault, change, drop }: RowProps) {
  const options = Object.entries(quantities).map(([key, unit]): [string, string] => [key, `${w.call(key)}, ${unit}`]);
  // What has a unit of its own stands alone; shares of the mix can be added.
  const alone = row.of.length === 1 && quantities[row.of[0]!] !== "%";
  const plain = options.filter(([key]) => quantities[key] === "%");
  const of = (at: number, key: string) => change({ of: row.of.map((it, k) => (k === at ? key : it)).filter(Boolean) });
  return (
    <li class="limit-row">
      <div class="limit-of">
        {row.of.map((key, at) => (
          <Pick
            key={at}
            name={`of-${n}-${at + 1}`}
            label={at === 0 ? l.of : l.and}
            value={key}
            options={at === 0 ? options : [["", "\u2013"], ...plain]}
            pick={(it) => of(at, it)}
            fault={at === 0 ? fault("of") : undefined}
          />
        ))}
        {!alone && <Pick name={`plus-${n}`} label={l.plus} value="" options={[["", "\u2013"], ...plain]} pick={(it) => it && change({ of: [...row.of, it] })} />}
      </div>
      <Field number name={`min-${n}`} label={l.min} value={row.min} type={(min) => change({ min })} fault={fault("min") ?? fault("")} />
      <Field number name={`max-${n}`} label={l.max} value={row.max} type={(max) => change({ max })} fault={fault("max")} />
      <Field long name={`source-${n}`} label={l.source} hint={l.sourceHint} value={row.source} type={(source) => change({ source })} fault={fault("source")} />
      <button type="button" class="plain" aria-label={l.drop(n)} onClick={drop}>
        {w.remove}
      </button>
    </li>
  );
}

interface EditorProps {
  it: ProductClass | null;
  limits: Limits;
  /** Outlives this editor, which is made anew when the file was written. */
  saving: Saving;
  again(): void;
  /** What chooses another class. */
  choice: ComponentChildren;
}

function ClassEditor({ it, limits, saving, again, choice }: EditorProps) {
  const place = to.limits(it?.id ?? FRESH);
  const [draft, set, forget] = useKept<Draft>(place, () => ({ tag: limits.tag, id: "", name: it?.name ?? "", rows: (it?.limits ?? []).map(keyed) }));
  const form = useRef<HTMLFormElement>(null);
  const id = it?.id ?? (draft.id || slug(draft.name));
  const changed = isKept(place);
  useLeaving(changed);
  const change = (more: Partial<Draft>) => {
    if (saving.said || (saving.trouble && !saving.conflict)) saving.clear();
    set({ ...draft, ...more });
  };
  const fault = (n: number, field: string) => {
    const end = field ? `.limits[${n}].${field}` : `.limits[${n}]`;
    return saving.faults.find((one) => one.where.endsWith(end))?.message;
  };
  const save = async (event: Event) => {
    event.preventDefault();
    const body = { name: draft.name, limits: draft.rows.map(({ of, min, max, source }) => ({ of, min, max, source })) };
    const answer = await saving.send(() => requests.change<Tagged>("PUT", `api/limits/${encodeURIComponent(id || "-")}`, draft.tag, body));
    if (answer === null) return form.current?.querySelector<HTMLElement>('[aria-invalid="true"]')?.focus();
    const still = forget(draft);
    set((now) => ({ ...now, tag: answer.tag }));
    if (still) forget();
    again();
    if (it === null) location.hash = to.limits(id);
  };
  return (
    <form class="csv-form" ref={form} onSubmit={save} onKeyDown={sendsByKey} data-testid="limits-editor">
      <div class="fields">
        {choice}
        <Field name="class-name" label={l.name} value={draft.name} type={(name) => change({ name })} fault={saving.faults.find((one) => one.where.endsWith(".name"))?.message} />
        {it === null && <Field name="class-id" label={l.id} value={id} type={(text) => change({ id: text })} fault={saving.faults.find((one) => one.where === "id")?.message} />}
      </div>
      <ol class="limit-rows">
        {draft.rows.map((row, n) => (
          <Row
            key={row.key}
            n={n + 1}
            row={row}
            quantities={limits.quantities}
            fault={(field) => fault(n + 1, field)}
            change={(more) => change({ rows: draft.rows.map((one) => (one.key === row.key ? { ...one, ...more } : one)) })}
            drop={() => change({ rows: draft.rows.filter((one) => one.key !== row.key) })}
          />
        ))}
      </ol>
      <button type="button" class="plain" onClick={() => change({ rows: [...draft.rows, keyed({ of: ["fat"], min: "", max: "", source: "" })] })}>
        {l.add}
      </button>
      <SaveBar
        saving={saving}
        fixed={limits.fixed}
        changed={changed}
        again={() => {
          forget();
          again();
        }}
      />
    </form>
  );
}

export function LimitsScreen({ kind }: { kind: string | null }) {
  const asked = useAsked<Limits>("api/limits");
  const saving = useSaving();
  const limits = asked.value;
  if (limits === null) {
    return (
      <>
        <h1>{l.title}</h1>
        <Unanswered asked={asked} />
      </>
    );
  }
  const chosen = kind === FRESH ? null : (limits.classes.find((it) => it.id === kind) ?? limits.classes[0] ?? null);
  const options = [...limits.classes.map((it): [string, string] => [it.id, it.name]), [FRESH, l.create] as [string, string]];
  const choice = (
    <Pick
      name="class"
      label={l.class} value={chosen?.id ?? FRESH} options={options} pick={(id) => {
        saving.clear();
        location.hash = to.limits(id);
      }}
    />
  );
  return (
    <>
      <header class="pantry-head">
        <h1>{l.title}</h1>
      </header>
      <p class="soft">
        {l.about} {limits.own ? l.own : l.shipped}
      </p>
      <ClassEditor key={`${chosen?.id}/${limits.tag}`} it={chosen} limits={limits} saving={saving} again={asked.again} choice={choice} />
    </>
  );
}
