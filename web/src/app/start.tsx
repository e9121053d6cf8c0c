// Before a batch: choose a formula, say how much and who, and start.

import { useState } from "preact/hooks";
import { before as w, type Made } from "../core/before.ts";
import { doubts } from "../core/doubts.ts";
import type { Formula, FormulaProblem } from "../core/frames.ts";
import { hasWords } from "../core/folding.ts";
import { massWithUnit } from "../core/numbers.ts";
import { to } from "../core/routes.ts";
import { cameDown, shared } from "../core/shared.ts";
import { words } from "../core/words.ts";
import { ON_RETURN, useAsked } from "./ask.ts";
import { FormulaSheet } from "./formula.tsx";
import { Said } from "./said.tsx";
import { Shape } from "./shapes.tsx";
import { batch, usualScale } from "./store.ts";
import { Nothing, Trouble } from "./trouble.tsx";

interface Formulas {
  formulas: Formula[];
  problems: FormulaProblem[];
}

function Problems({ problems }: { problems: FormulaProblem[] }) {
  if (problems.length === 0) return null;
  return (
    <section class="problems" data-testid="problems">
      <h2>
        <Shape name="warn" />
        {words.start.problems}
      </h2>
      <ul>
        {problems.map((it) => (
          <li key={`${it.file}${it.line}${it.field}${it.message}`}>
            <b>{words.start.problem(it.file, it.line, it.field)}</b>
            <span>
              <Said text={words.pantry.fault(it.message)} />
            </span>
          </li>
        ))}
      </ul>
    </section>
  );
}

/** What the scale that will be used cannot judge of a formula, in a line. */
function tooFine(it: Formula): string {
  const known = (it.scales ?? []).filter((s) => s.interval_g !== null);
  if (known.length > 1 && !known.some((s) => s.scale === usualScale.value)) {
    return doubts.tooFineForAll(known.map((s) => s.warnings));
  }
  const told = it.scales?.find((s) => s.scale === usualScale.value) ?? it.scales?.[0];
  return doubts.tooFine(told?.warnings ?? []);
}

function Choice({ it, made }: { it: Formula; made: Made | null }) {
  const warning = tooFine(it);
  const allergens = it.allergens.length > 0 ? it.allergens.join(", ") : words.start.noAllergens;
  return (
    <li>
      <a class="formula-choice" href={to.start(it.id)}>
        <b>{it.name}</b>
        <span>
          {massWithUnit(it.batch_g)}, {words.start.additions(it.additions.length)}
          {cameDown(it.id) && `, ${shared.down}`}
        </span>
        {made && <span class="soft">{w.made(made)}</span>}
        <span class={it.allergens.length > 0 ? "allergens" : "soft"}>
          {it.allergens.length > 0 && <Shape name="warn" />}
          {allergens}
        </span>
        {warning && (
          <span class="warning">
            <Shape name="warn" />
            {warning}
          </span>
        )}
      </a>
    </li>
  );
}

/** From so many on, a formula is found by typing. */
const MANY = 7;

interface ListProps {
  formulas: Formula[];
  problems: FormulaProblem[];
  made: Record<string, Made>;
}

function List({ formulas, problems, made }: ListProps) {
  const [typed, type] = useState("");
  const shown = formulas.filter((it) => hasWords(`${it.name} ${it.id} ${it.allergens.join(" ")}`, typed));
  const first = (event: Event) => {
    event.preventDefault();
    if (shown[0]) location.hash = to.start(shown[0].id);
  };
  return (
    <main class="page start">
      <header>
        <h1>{words.start.title}</h1>
        {formulas.length > 0 && formulas.length < MANY && <p class="soft">{words.start.choose}</p>}
      </header>
      {formulas.length >= MANY && (
        <form role="search" onSubmit={first}>
          <label class="field">
            <span>{w.find}</span>
            <input type="text" inputMode="search" name="find-formula" autocomplete="off" maxLength={80} value={typed} onInput={(e) => type(e.currentTarget.value)} />
          </label>
        </form>
      )}
      {formulas.length === 0 && (
        <Nothing text={words.start.none}>
          <a class="solid" href={to.newFormula()}>
            {words.pantry.formulas.create}
          </a>
        </Nothing>
      )}
      {formulas.length > 0 && shown.length === 0 && (
        <Nothing text={w.noneSo(typed.trim())}>
          <button type="button" class="plain" onClick={() => type("")}>
            {w.all}
          </button>
        </Nothing>
      )}
      <ul class="formulas">
        {shown.map((it) => (
          <Choice key={it.id} it={it} made={made[it.id] ?? null} />
        ))}
      </ul>
      <Problems problems={problems} />
    </main>
  );
}

/** What was asked for is not there: by a bookmark, or to be made again. */
function Gone({ formula }: { formula: string }) {
  return (
    <main class="page narrow">
      <h1>{w.gone(formula)}</h1>
      <p>{w.goneMore}</p>
      <a class="solid" href={to.start()}>
        {words.start.back}
      </a>
    </main>
  );
}

/** `wanted`: which formula, and if it is said at which size. */
export function Start({ wanted }: { wanted: { formula: string | null; size: string; steps: boolean } | null }) {
  const asked = useAsked<Formulas>("api/formulas", ON_RETURN);
  const made = useAsked<{ made: Record<string, Made> }>("api/made", ON_RETURN).value?.made ?? {};
  const [typed, keepTyped] = useState<Record<string, string>>({});
  const open = batch.value?.status === "open" ? batch.value : null;
  if (open) {
    return (
      <main class="page narrow">
        <h1>{words.start.open(open.formula.name)}</h1>
        <p>{words.weigh.batch(open.batch_g, open.operator)}</p>
        <a class="solid" href={to.bench()}>
          {words.start.goOn}
        </a>
      </main>
    );
  }
  if (asked.value === null) return <Trouble title={words.start.title} asked={asked} />;
  const { formulas, problems } = asked.value;
  if (!wanted?.formula) return <List formulas={formulas} problems={problems} made={made} />;
  const chosen = formulas.find((it) => it.id === wanted.formula);
  if (!chosen) return <Gone formula={wanted.formula} />;
  const key = [chosen.id, wanted.size, wanted.steps].join("/");
  return (
    <main class="page start has-choice">
      <FormulaSheet
        key={key}
        formula={chosen}
        made={made[chosen.id] ?? null}
        typed={typed[key] ?? (wanted.size || chosen.batch_g)}
        type={(text) => keepTyped({ ...typed, [key]: text })}
        steps={wanted.steps}
      />
    </main>
  );
}
