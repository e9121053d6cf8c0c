// Before a batch: choose a formula, say how much and who, and start.

import { useState } from "preact/hooks";
import { doubts } from "../core/doubts.ts";
import type { Formula, FormulaProblem } from "../core/frames.ts";
import { massWithUnit } from "../core/numbers.ts";
import { to } from "../core/routes.ts";
import { cameDown, shared } from "../core/shared.ts";
import { words } from "../core/words.ts";
import { useAsked } from "./ask.ts";
import { FormulaSheet } from "./formula.tsx";
import { Said } from "./said.tsx";
import { Shape } from "./shapes.tsx";
import { batch, usualScale } from "./store.ts";
import { Trouble } from "./trouble.tsx";

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

function Choice({ it, chosen }: { it: Formula; chosen: boolean }) {
  const warning = tooFine(it);
  const allergens = it.allergens.length > 0 ? it.allergens.join(", ") : words.start.noAllergens;
  return (
    <li>
      <a class="formula-choice" href={to.start(it.id)} aria-current={chosen ? "true" : undefined}>
        <b>{it.name}</b>
        <span>
          {massWithUnit(it.batch_g)}, {words.start.additions(it.additions.length)}
          {cameDown(it.id) && `, ${shared.down}`}
        </span>
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

export function Start({ formula }: { formula: string | null }) {
  const asked = useAsked<Formulas>("api/formulas");
  const [typed, keepTyped] = useState<Record<string, string>>({});
  const open = batch.value?.status === "open" ? batch.value : null;
  if (open) {
    return (
      <main class="page narrow">
        <h1>{words.start.open(open.formula.name)}</h1>
        <a class="solid" href={to.bench()}>
          {words.start.goOn}
        </a>
      </main>
    );
  }
  if (asked.value === null) return <Trouble title={words.start.title} asked={asked} />;
  const { formulas, problems } = asked.value;
  const chosen = formulas.find((it) => it.id === formula) ?? null;
  return (
    <main class={chosen ? "page start has-choice" : "page start"}>
      <header>
        <h1>{words.start.title}</h1>
        {!chosen && formulas.length > 0 && <p class="soft">{words.start.choose}</p>}
      </header>
      <section class="start-list">
        {formulas.length === 0 && <p>{words.start.none}</p>}
        <ul class="formulas">
          {formulas.map((it) => (
            <Choice key={it.id} it={it} chosen={it === chosen} />
          ))}
        </ul>
        <Problems problems={problems} />
      </section>
      {chosen && (
        <FormulaSheet
          key={chosen.id}
          formula={chosen}
          typed={typed[chosen.id] ?? chosen.batch_g}
          type={(text) => keepTyped({ ...typed, [chosen.id]: text })}
        />
      )}
    </main>
  );
}
