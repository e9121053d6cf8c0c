// A formula, new or changed: what goes in, and beside it what the mix is while one types.

import { useRef } from "preact/hooks";
import {
  type AdditionDraft,
  amountMeant,
  amountShown,
  emptyAddition,
  faultsAt,
  type FormulaDraft,
  gramsOf,
  type Larder,
  type Limits,
  moved,
  shares,
  slug,
  type Source,
  type Tagged,
} from "../core/drafts.ts";
import { type Again, revisions } from "../core/revisions.ts";
import type { SolvedAddition } from "../core/solving.ts";
import { to } from "../core/routes.ts";
import { savedRows, sentSteps, type StepRow, stepRow } from "../core/steps.ts";
import { words } from "../core/words.ts";
import { useAsked } from "./ask.ts";
import { ComposedLine, ComposedPanel, useComposed } from "./composed.tsx";
import { Field, isKept, Pick, SaveBar, sendsByKey, Twice, useKept, useLeaving, useSaving } from "./fields.tsx";
import { Publish } from "./shared-formulas.tsx";
import { SolveTool, SwapTool } from "./formula-tools.tsx";
import { TakenUp } from "./taken-up.tsx";
import { PasteTool } from "./paste-tool.tsx";
import { Steps } from "./steps.tsx";
import { batch, requests } from "./store.ts";
import { Unanswered } from "./trouble.tsx";

const w = words.pantry;
const f = w.formula;

/** A row with a key that stays its own, its amount as it stands in the field, and as it was in the file. */
interface Row extends Omit<AdditionDraft, "target"> {
  key: number;
  amount: string;
  before: string;
}

interface Draft {
  tag: string | null;
  file: string;
  name: string;
  note: string;
  kind: string;
  cautions: string;
  rows: Row[];
  /** null where the file's steps cannot be shown. */
  steps: StepRow[] | null;
}

let keys = 0;
const rowOf = (it: AdditionDraft): Row => {
  const { target, ...rest } = it;
  return { ...rest, key: ++keys, amount: amountShown(target), before: target };
};

function draftFrom(source: Source | null, copy: boolean): Draft {
  if (source === null) return { tag: null, file: "", name: "", note: "", kind: "", cautions: "", rows: [rowOf(emptyAddition())], steps: [] };
  return {
    tag: copy ? null : source.tag,
    file: "",
    name: source.name,
    note: source.note,
    kind: source.kind,
    cautions: source.cautions.join("\n"),
    rows: source.additions.map(rowOf),
    steps: source.steps && source.steps.map(stepRow),
  };
}

function sent(it: Draft): FormulaDraft {
  return {
    name: it.name,
    note: it.note,
    kind: it.kind,
    cautions: it.cautions.split("\n").filter((line) => line.trim()),
    additions: it.rows.map(({ key: _, amount, before, ...row }) => ({ ...row, target: amountMeant(amount, before) })),
    steps: sentSteps(it.steps),
  };
}

interface RowProps {
  n: number;
  of: number;
  row: Row;
  share: number | null;
  names: [string, string][];
  carriers: [string, string][];
  faults: Record<string, string>;
  change(more: Partial<Row>): void;
  move(by: number): void;
  drop(): void;
}

function Addition({ n, of, row, share, names, carriers, faults, change, move, drop }: RowProps) {
  return (
    <li class="addition-row" data-testid={`row-${n}`}>
      <span class="nth" aria-hidden="true">
        {n}
      </span>
      <Pick bare name={`ingredient-${n}`} label={f.ingredient} value={row.ingredient} options={[["", f.choose], ...names]} pick={(ingredient) => change({ ingredient })} fault={faults["ingredient"]} />
      <Field bare number name={`amount-${n}`} label={f.amount} value={row.amount} type={(amount) => change({ amount })} fault={faults["target"]} unit={/[a-z]/i.test(row.amount) ? undefined : "g"} />
      <output class="share" aria-label={f.share}>
        <small aria-hidden="true">{f.share}</small>
        {f.percent(share)}
      </output>
      <Field bare name={`tolerance-${n}`} label={f.tolerance} value={row.tolerance} type={(tolerance) => change({ tolerance })} fault={faults["tolerance"]} />
      <span class="row-acts">
        <button type="button" class="plain" aria-label={f.up(n)} aria-disabled={n === 1} onClick={() => move(-1)}>
          {"\u2191"}
        </button>
        <button type="button" class="plain" aria-label={f.down(n)} aria-disabled={n === of} onClick={() => move(1)}>
          {"\u2193"}
        </button>
        <button type="button" class="plain" aria-label={f.drop(n)} onClick={drop}>
          {"\u00d7"}
        </button>
      </span>
      <details class="row-more" open={row.method !== "" || row.carrier !== "" || Boolean(faults["method"] ?? faults["carrier"])}>
        <summary>{f.more}</summary>
        <div class="row-more-body">
        <label class="choice">
          <input type="checkbox" name={`method-${n}`} checked={row.method !== ""} onChange={(e) => change({ method: e.currentTarget.checked ? "by difference" : "" })} />
          <span>{f.out}</span>
        </label>
        <Pick name={`carrier-${n}`} label={f.carrier} hint={f.carrierHint} value={row.carrier} options={[["", f.noCarrier], ...carriers]} pick={(carrier) => change({ carrier })} fault={faults["carrier"]} />
        </div>
      </details>
      {faults[""] && <p class="fault">{faults[""]}</p>}
    </li>
  );
}

interface EditorProps {
  id: string | null;
  like: string | null;
  /** An earlier revision that is taken up again. */
  up: Again | null;
  source: Source | null;
  larder: Larder;
  limits: Limits | null;
  again(): void;
}

function Editor({ id, like, up, source, larder, limits, again }: EditorProps) {
  const place = up ? to.takeUp(up.id, up.revision) : id === null ? to.newFormula(like ?? undefined) : to.formula(id);
  const [draft, set, forget] = useKept<Draft>(place, () => ({ ...draftFrom(source, id === null), file: id === null ? (up?.id ?? "") : "" }));
  const saving = useSaving();
  const tried = useRef(false);
  const form = useRef<HTMLFormElement>(null);
  const asked = sent(draft);
  const order = draft.rows.map((row) => row.key);
  // What a mix is no step changes: a fault in one keeps nobody from the figures.
  const mixed = { ...asked, steps: [] };
  const composed = useComposed(mixed, id ?? like, order);
  const changed = isKept(place) || up !== null;
  useLeaving(isKept(place));

  const change = (more: Partial<Draft>) => {
    if (saving.trouble && !saving.conflict) saving.clear();
    set({ ...draft, ...more });
  };
  const own = (source?.own_ingredients ?? []).map((it): [string, string] => [it.id, it.name]);
  const names = [...own, ...larder.ingredients.map((it): [string, string] => [it.id, it.name])].sort((a, b) => a[1].localeCompare(b[1]));
  const reckoned = composed.present ? (composed.mix?.additions ?? []).map((it) => Number(it.grams)) : [];
  const { total, percent } = shares(asked.additions.map((it) => it.target), reckoned);
  // A fault is told at what somebody typed; that an empty field is empty, only once they want to save.
  const faults = (row: Row) => {
    const live = faultsAt(composed.faults, "additions", composed.keys.indexOf(row.key) + 1);
    const all = { ...live, ...faultsAt(saving.faults, "additions", order.indexOf(row.key) + 1) };
    const typed: Record<string, string> = { ingredient: row.ingredient, target: row.amount, tolerance: row.tolerance };
    return Object.fromEntries(Object.entries(all).filter(([field]) => tried.current || typed[field] !== ""));
  };
  const faultOf = (field: string) => saving.faults.find((it) => it.where.split(", ").at(-1) === field)?.message;
  const file = id ?? (draft.file || slug(draft.name));

  const save = async (event: Event) => {
    event.preventDefault();
    tried.current = true;
    const body = id === null && like !== null ? { ...asked, like } : asked;
    const answer = await saving.send(() => requests.change<Tagged>("PUT", `api/formulas/${encodeURIComponent(file || "-")}`, draft.tag, body));
    if (answer === null) return form.current?.querySelector<HTMLElement>('[aria-invalid="true"]')?.focus();
    tried.current = false;
    // As it stands in the file now: where each row is, and under which tag.
    const still = forget(draft);
    const at = (row: Row) => order.indexOf(row.key);
    const rows = (now: Row[]) => now.map((row) => (at(row) < 0 ? row : { ...row, was: at(row), before: asked.additions[at(row)]!.target }));
    set((now) => ({ ...now, tag: answer.tag, rows: rows(now.rows), steps: savedRows(now.steps, draft.steps) }));
    if (still) forget();
    if (id === null || up) location.hash = to.formula(file);
  };
  const remove = async () => {
    const gone = await saving.send(() => requests.change("DELETE", `api/formulas/${encodeURIComponent(id!)}`, draft.tag));
    if (gone === null) return;
    forget();
    location.hash = to.formulas();
  };
  const add = () => {
    const row = rowOf(emptyAddition());
    change({ rows: [...draft.rows, row] });
    setTimeout(() => form.current?.querySelector<HTMLElement>(`[name="ingredient-${draft.rows.length + 1}"]`)?.focus());
  };
  /** Amounts that a tool found: into the rows of their ingredients, in order, and new rows behind them. */
  const take = (found: SolvedAddition[]) => {
    const free = [...draft.rows];
    const rows = found.map((it) => {
      const at = free.findIndex((row) => row.ingredient === it.ingredient);
      const row = at < 0 ? rowOf(emptyAddition()) : free.splice(at, 1)[0]!;
      const same = gramsOf(row.amount) === Number(it.target_g);
      return { ...row, ingredient: it.ingredient, amount: same ? row.amount : String(Number(it.target_g)), tolerance: it.tolerance };
    });
    change({ rows });
  };
  /** Rows of a pasted list behind those that say something. */
  const put = (found: AdditionDraft[]) => change({ rows: [...draft.rows.filter((row) => row.ingredient || row.amount), ...found.map(rowOf)] });
  const tools = { draft: mixed, of: id ?? like, before: composed.present ? composed.mix : null, names, limits, take };
  const raw = larder.ingredients.some((it) => it.allergens.some((one) => /milk|egg/i.test(one)) && draft.rows.some((row) => row.ingredient === it.id));
  const weighing = id !== null && batch.value?.status === "open" && batch.value.formula.id === id;
  const kept = (source?.kept ?? []).filter((key) => id !== null && key !== "scenario");

  return (
    <form class="editor" ref={form} onSubmit={save} onKeyDown={sendsByKey} data-testid="formula-editor">
      <div class="editor-main">
        <header class="pantry-head">
          <h1>{id === null ? f.fresh : source!.name || id}</h1>
          <a class="plain" href={to.formulas()}>
            {w.back}
          </a>
        </header>
        {up && <TakenUp it={up} />}
        {weighing && <p class="hint">{f.weighing}</p>}
        <div class="fields">
          <Field name="name" label={f.name} value={draft.name} type={(name) => change({ name })} fault={faultOf("name")} />
          {id === null && <Field name="file" label={f.file} hint={f.fileHint} value={file} type={(text) => change({ file: text })} fault={faultOf("id")} />}
          <Pick
            name="kind"
            label={f.kind}
            hint={f.kindHint}
            value={draft.kind}
            options={[["", f.noKind], ...(limits?.classes ?? []).filter((it) => it.id !== limits!.every).map((it): [string, string] => [it.id, it.name])]}
            pick={(kind) => change({ kind })}
          />
          {draft.kind && (
            <a class="plain aside" href={to.limits(draft.kind)}>
              {f.limits}
            </a>
          )}
        </div>
        <h2>
          {f.additions} <small>{f.additionsHint}</small>
        </h2>
        <div class="addition-heads" aria-hidden="true">
          <span />
          <span>{f.ingredient}</span>
          <span>
            {f.amount} <small>{f.amountHint}</small>
          </span>
          <span>{f.share}</span>
          <span>
            {f.tolerance} <small>{f.toleranceHint}</small>
          </span>
        </div>
        <ol class="addition-rows">
          {draft.rows.map((row, index) => (
            <Addition
              key={row.key}
              n={index + 1}
              of={draft.rows.length}
              row={row}
              share={percent[index] ?? null}
              names={names}
              carriers={names.filter(([one]) => one !== row.ingredient && draft.rows.some((it) => it.ingredient === one))}
              faults={faults(row)}
              change={(more) => change({ rows: draft.rows.map((it) => (it.key === row.key ? { ...it, ...more } : it)) })}
              move={(by) => change({ rows: moved(draft.rows, index, by) })}
              drop={() => change({ rows: draft.rows.filter((it) => it.key !== row.key) })}
            />
          ))}
        </ol>
        <p class="total" data-testid="total">
          {f.total(total)}
        </p>
        <button type="button" class="plain" onClick={add}>
          {f.add}
        </button>
        <PasteTool of={id ?? like} names={names} put={put} />
        <SolveTool {...tools} />
        <SwapTool {...tools} />
        <Steps rows={draft.steps} put={(steps) => change({ steps })} saving={saving.faults} tried={tried.current} raw={raw} />
        <div class="fields">
          <Field long name="note" label={f.note} value={draft.note} type={(note) => change({ note })} fault={faultOf("note")} />
          <Field long name="cautions" label={f.cautions} hint={f.cautionsHint} value={draft.cautions} type={(cautions) => change({ cautions })} fault={faultOf("cautions")} />
        </div>
        {kept.length > 0 && <p class="soft">{f.kept(kept)}</p>}
        {id !== null && (
          <div class="row">
            <a class="plain" href={to.start(id)}>
              {f.weigh}
            </a>
            <a class="plain" href={to.newFormula(id)}>
              {f.copy}
            </a>
            <a class="plain" href={to.revisions(id)}>
              {revisions.title}
            </a>
            <Publish id={id} changed={changed} />
            <Twice text={f.putAway} hint={f.putAwayHint} press={() => void remove()} disabled={Boolean(larder.fixed)} />
          </div>
        )}
        <SaveBar
          saving={saving}
          fixed={larder.fixed}
          changed={changed}
          again={() => {
            forget();
            again();
          }}
        >
          <ComposedLine it={composed} />
        </SaveBar>
      </div>
      <ComposedPanel it={composed} empty={draft.rows.length === 0} />
    </form>
  );
}

export function FormulaEditor({ id: asked, like, up }: { id: string | null; like: string | null; up?: string | undefined }) {
  const from = asked ?? like;
  const file = from === null ? null : `api/formulas/${encodeURIComponent(from)}`;
  const source = useAsked<Source | Again>(file && (up ? `${file}/revisions/${encodeURIComponent(up)}/source` : `${file}/source`));
  const taken = source.value && "revision" in source.value ? source.value : null;
  // Of a formula whose file is gone an earlier revision begins a new one.
  const id = taken && !taken.there ? null : asked;
  const larder = useAsked<Larder>("api/ingredients");
  const limits = useAsked<Limits>("api/limits");
  const open = from !== null && source.value === null ? source : larder;
  if (larder.value === null || open === source) {
    return (
      <>
        <h1>{from ?? words.pantry.formulas.create}</h1>
        <Unanswered asked={open} back={{ at: to.formulas(), name: w.back }} />
      </>
    );
  }
  const tag = source.value?.tag ?? "new";
  // Read again after a conflict: another tag, another editor. Saved here, the editor goes on.
  return <Editor key={`${from}/${tag}`} id={id} like={like} up={taken} source={source.value} larder={larder.value} limits={limits.value} again={source.again} />;
}
