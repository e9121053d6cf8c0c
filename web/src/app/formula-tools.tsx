// Tools of the formula's desk: solve for targets, swap an ingredient. Both show before and after, and
// change the draft only when somebody takes what they found.

import { useState } from "preact/hooks";
import { unanswered } from "../core/answers.ts";
import type { Answer } from "../core/commands.ts";
import type { FormulaDraft, Limits } from "../core/drafts.ts";
import type { Mix } from "../core/mix.ts";
import { amounts, type Change, changes, type SolvedAddition, type Solved, solving, type Swapped } from "../core/solving.ts";
import { words } from "../core/words.ts";
import { Field, Pick } from "./fields.tsx";
import { Said } from "./said.tsx";
import { Shape } from "./shapes.tsx";
import { requests } from "./store.ts";

const s = solving;
const call = words.pantry.call;
/** Sums that are no target of a cook, and those that need an overrun. */
const NO_TARGETS = ["sucrose_equivalent", "density", "solids_per_litre"];

interface ToolProps {
  draft: FormulaDraft;
  of: string | null;
  before: Mix | null;
  /** Every ingredient that is known, by id and name. */
  names: [string, string][];
  limits: Limits | null;
  take(rows: SolvedAddition[]): void;
}

interface Working<T> {
  busy: boolean;
  value: T | null;
  trouble: string;
  /** The draft that the answer is of. */
  text: string;
}

function useWorked<T>(): [Working<T>, (draft: FormulaDraft, ask: () => Promise<Answer<T>>) => void] {
  const [state, set] = useState<Working<T>>({ busy: false, value: null, trouble: "", text: "" });
  const run = (draft: FormulaDraft, ask: () => Promise<Answer<T>>) => {
    const text = JSON.stringify(draft);
    set({ busy: true, value: null, trouble: "", text });
    void ask().then((answer) => {
      const first = answer.kind === "refused" && answer.problem.where.startsWith("additions[");
      set({ busy: false, value: answer.kind === "ok" ? answer.value : null, trouble: first ? s.first : unanswered(answer), text });
    });
  };
  return [state, run];
}

function Beside({ title, rows }: { title: string; rows: Change[] }) {
  return (
    <table class="beside">
      <thead>
        <tr>
          <th scope="col">{title}</th>
          <th scope="col" class="mass">
            {s.before}
          </th>
          <th scope="col" class="mass">
            {s.after}
          </th>
        </tr>
      </thead>
      <tbody>
        {rows.map((it) => (
          <tr key={it.name} data-changed={it.before !== it.after}>
            <th scope="row">{it.name}</th>
            <td class="mass">{it.before}</td>
            <td class="mass">{it.after}</td>
          </tr>
        ))}
      </tbody>
    </table>
  );
}

interface FoundProps {
  before: Mix | null;
  after: Mix;
  additions: SolvedAddition[];
  names: [string, string][];
  take(): void;
}

function Found({ before, after, additions, names, take }: FoundProps) {
  const [taken, mark] = useState(false);
  const name = (id: string) => names.find(([one]) => one === id)?.[1] ?? id;
  return (
    <>
      <Beside title={s.amounts} rows={amounts(before?.additions ?? [], additions, name)} />
      <Beside title={s.figures} rows={changes(before, after)} />
      <button
        type="button"
        class="solid"
        aria-disabled={taken}
        onClick={() => {
          if (taken) return; // it stays, so that the focus does
          mark(true);
          take();
        }}
      >
        {s.take}
      </button>
      <p class="hint" role="status">
        {taken ? s.taken : ""}
      </p>
    </>
  );
}

function Trouble({ it }: { it: Working<unknown> }) {
  if (it.busy) return <p class="soft">{s.working}</p>;
  return it.trouble ? (
    <p class="complaint" role="alert">
      <Said text={it.trouble} />
    </p>
  ) : null;
}

interface TargetRow {
  key: number;
  of: string;
  text: string;
}

let keys = 0;
const freshTarget = (of: string): TargetRow => ({ key: ++keys, of, text: "" });

export function SolveTool({ draft, of, before, names, limits, take }: ToolProps) {
  const [rows, set] = useState<TargetRow[]>(() => [freshTarget("fat"), freshTarget("freezing_point")]);
  const [keep, hold] = useState(false);
  const [aim, wish] = useState("nearest");
  const [use, also] = useState<string[]>([]);
  const [found, run] = useWorked<Solved>();
  const kind = limits?.classes.find((it) => it.id === draft.kind);
  const quantities = Object.entries(limits?.quantities ?? {}).filter(([key]) => !NO_TARGETS.includes(key));
  const inside = [...new Set([...draft.additions.map((it) => it.ingredient).filter(Boolean), ...use])];
  const name = (id: string) => names.find(([one]) => one === id)?.[1] ?? id;
  const options: [string, string][] = [
    ["", s.solve.choose],
    ...quantities.map(([key, unit]): [string, string] => [key, `${call(key)}, ${unit}`]),
    ...inside.map((id): [string, string] => [`=${id}`, name(id)]),
  ];
  const go = () => {
    const targets = Object.fromEntries(rows.filter((it) => it.of && it.text.trim()).map((it) => [it.of.replace(/^=/, ""), it.text.trim()]));
    run(draft, () => requests.ask<Solved>("api/solve", { of: of ?? "", formula: draft, targets, use, aim, kind: keep ? draft.kind : "" }));
  };
  const it = found.value;
  const kept = (it?.amounts ?? []).filter((one) => one.kept).map((one) => one.name);
  return (
    <details class="tool" data-testid="solve">
      <summary>{s.solve.title}</summary>
      <div class="tool-body">
      <p class="soft">{s.solve.about}</p>
      <ol class="targets">
        {rows.map((row, n) => (
          <li key={row.key}>
            <Pick name={`target-${n + 1}`} label={s.solve.of} value={row.of} options={options} pick={(to) => set(rows.map((one) => (one.key === row.key ? { ...one, of: to } : one)))} />
            <Field name={`target-text-${n + 1}`} label={s.solve.text} hint={s.solve.textHint} value={row.text} type={(text) => set(rows.map((one) => (one.key === row.key ? { ...one, text } : one)))} />
            <button type="button" class="plain" aria-label={s.solve.drop(n + 1)} onClick={() => set(rows.filter((one) => one.key !== row.key))}>
              {"\u00d7"}
            </button>
          </li>
        ))}
      </ol>
      <button type="button" class="plain" onClick={() => set([...rows, freshTarget("")])}>
        {s.solve.add}
      </button>
      <div class="fields">
        <Pick name="aim" label={s.solve.aim} value={aim} options={Object.entries(s.solve.aims)} pick={wish} />
        <Pick name="use" label={s.solve.use} value="" options={[["", use.map(name).join(", ") || "\u2013"], ...names.filter(([id]) => !inside.includes(id))]} pick={(id) => id && also([...use, id])} />
        {kind && (
          <label class="choice">
            <input type="checkbox" name="keep-class" checked={keep} onChange={(e) => hold(e.currentTarget.checked)} />
            <span>{s.solve.kind(kind.name)}</span>
          </label>
        )}
      </div>
      <button type="button" class="plain" disabled={found.busy} onClick={go}>
        {s.solve.go}
      </button>
      <Trouble it={found} />
      {it && (
        <section class="found" data-testid="solved">
          <p class={it.met ? "hint" : "warning"} role="status">
            {!it.met && <Shape name="warn" />}
            {it.met ? s.solve.met : s.solve.unmet}
          </p>
          {it.conflict && <p>{it.conflict.words}</p>}
          {it.targets
            .filter((one) => !one.met && one.value !== null && one.off_by !== null)
            .map((one) => (
              <p key={one.of.join()}>{s.solve.off(one.of.map(call).join(" + "), one.value!, one.unit, one.off_by!)}</p>
            ))}
          {kept.length > 0 && <p class="soft">{s.solve.kept(kept)}</p>}
          <Found key={found.text} before={before} after={it.composition} additions={it.additions} names={names} take={() => take(it.additions)} />
        </section>
      )}
      </div>
    </details>
  );
}

export function SwapTool({ draft, of, before, names, take }: ToolProps) {
  const [old, drop] = useState("");
  const [fresh, bring] = useState("");
  const [ratio, say] = useState("");
  const [rest, balance] = useState(true);
  const [found, run] = useWorked<Swapped>();
  const inside = names.filter(([id]) => draft.additions.some((it) => it.ingredient === id));
  const go = () => run(draft, () => requests.ask<Swapped>("api/swap", { of: of ?? "", formula: draft, old, new: fresh, ratio, rebalance: rest }));
  const it = found.value;
  return (
    <details class="tool" data-testid="swap">
      <summary>{s.swap.title}</summary>
      <div class="tool-body">
      <p class="soft">{s.swap.about}</p>
      <div class="fields">
        <Pick name="swap-old" label={s.swap.old} value={old} options={[["", s.solve.choose], ...inside]} pick={drop} />
        <Pick name="swap-new" label={s.swap.fresh} value={fresh} options={[["", s.solve.choose], ...names.filter(([id]) => id !== old)]} pick={bring} />
        <Field number name="swap-ratio" label={s.swap.ratio} hint={s.swap.ratioHint} value={ratio} type={say} />
      </div>
      <label class="choice">
        <input type="checkbox" name="swap-rest" checked={rest} onChange={(e) => balance(e.currentTarget.checked)} />
        <span>{s.swap.rest}</span>
      </label>
      <button type="button" class="plain" disabled={found.busy || !old || !fresh} onClick={go}>
        {s.swap.go}
      </button>
      <Trouble it={found} />
      {it && (
        <section class="found" data-testid="swapped">
          {it.allergens.new.length > 0 && (
            <p class="complaint" role="alert">
              <Shape name="warn" /> {s.swap.allergen(it.allergens.new)}
            </p>
          )}
          {it.allergens.gone.length > 0 && <p class="soft">{s.swap.gone(it.allergens.gone)}</p>}
          <p>{s.swap.how(it)}</p>
          {s.swap.source(it) && <p class="soft">{s.swap.source(it)}</p>}
          {it.new.caution && <p class="caution">{it.new.caution}</p>}
          {it.new_missing.length > 0 && <p class="warning">{s.swap.missing(it.new.name, it.new_missing)}</p>}
          <p role="status">{it.same_words}</p>
          <Found key={found.text} before={before} after={it.composition} additions={it.additions} names={names} take={() => take(it.additions)} />
        </section>
      )}
      </div>
    </details>
  );
}
