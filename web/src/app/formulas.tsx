// Every formula of the kitchen, to be changed; and the files that are none.

import type { Formula, FormulaProblem } from "../core/frames.ts";
import { massWithUnit } from "../core/numbers.ts";
import { to } from "../core/routes.ts";
import { cameDown, shared } from "../core/shared.ts";
import { words } from "../core/words.ts";
import { states } from "../core/states.ts";
import { ON_RETURN, useAsked } from "./ask.ts";
import { Said } from "./said.tsx";
import { FromOthers } from "./shared-formulas.tsx";
import { Shape } from "./shapes.tsx";
import { Nothing, Unanswered } from "./trouble.tsx";

const w = words.pantry.formulas;
const FORMULA = /^([a-z0-9]+(?:-[a-z0-9]+)*)\.toml$/;
/** Files beside the formulas that are none. */
const OTHERS = ["ingredients", "limits"];

export function Formulas() {
  const asked = useAsked<{ formulas: Formula[]; problems: FormulaProblem[] }>("api/formulas", ON_RETURN);
  if (asked.value === null) {
    return (
      <>
        <h1>{w.title}</h1>
        <Unanswered asked={asked} />
      </>
    );
  }
  const { formulas, problems } = asked.value;
  return (
    <>
      <header class="pantry-head">
        <h1>{w.title}</h1>
        <a class="solid" href={to.newFormula()}>
          {w.create}
        </a>
      </header>
      {formulas.length === 0 && <Nothing text={w.none} more={states.formulas} />}
      <ul class="pantry-list" data-testid="formula-list">
        {formulas.map((it) => (
          <li key={it.id}>
            <a class="formula-choice" href={cameDown(it.id) ? to.start(it.id) : to.formula(it.id)}>
              <b>{it.name}</b>
              <span>
                {massWithUnit(it.batch_g)}, {words.start.additions(it.additions.length)}
                {cameDown(it.id) && `, ${shared.down}`}
              </span>
            </a>
          </li>
        ))}
        {problems.map((it) => {
          const id = FORMULA.exec(it.file)?.[1];
          const known = id !== undefined && !OTHERS.includes(id);
          return (
            <li key={`${it.file}${it.line}`}>
              <a class="formula-choice" href={known ? to.formula(id) : id === "ingredients" ? to.ingredients() : to.limits()}>
                <b>{words.start.problem(it.file, it.line, it.field)}</b>
                <span class="warning">
                  <Shape name="warn" />
                  {w.broken}
                </span>
                <span>
                  <Said text={words.pantry.fault(it.message)} />
                </span>
              </a>
            </li>
          );
        })}
      </ul>
      <FromOthers changed={asked.again} />
    </>
  );
}
