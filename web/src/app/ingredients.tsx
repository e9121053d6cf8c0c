// Every ingredient of the kitchen: searched by typing, with what is not known of it.

import { useMemo, useState } from "preact/hooks";
import { found, type Larder } from "../core/drafts.ts";
import { to } from "../core/routes.ts";
import { words } from "../core/words.ts";
import { states } from "../core/states.ts";
import { ON_RETURN, useAsked } from "./ask.ts";
import { Field } from "./fields.tsx";
import { Shape } from "./shapes.tsx";
import { Nothing, Unanswered } from "./trouble.tsx";

const w = words.pantry.ingredients;

export function Ingredients() {
  const asked = useAsked<Larder>("api/ingredients", ON_RETURN);
  const [typed, type] = useState("");
  const all = asked.value?.ingredients ?? [];
  const shown = useMemo(() => found(all, typed), [all, typed]);
  return (
    <>
      <header class="pantry-head">
        <h1>{w.title}</h1>
        <a class="solid" href={to.newIngredient()}>
          {w.create}
        </a>
        <a class="plain" href={to.ingredientTable()}>
          {w.fromTable}
        </a>
        <a class="plain" href={to.ingredientFile()}>
          {w.fromFile}
        </a>
      </header>
      {asked.value === null && <Unanswered asked={asked} />}
      {asked.value && (
        <>
          {all.length === 0 && <Nothing text={w.none} more={states.ingredients} />}
          {all.length > 0 && <Field name="search" label={w.search} hint={w.searchHint} value={typed} type={type} />}
          <p class="soft" role="status">
            {all.length === 0 ? "" : shown.length === 0 ? w.notFound(typed) : w.count(shown.length, all.length)}
          </p>
          <ul class="pantry-list" data-testid="ingredients">
            {shown.map((it) => (
              <li key={it.id}>
                <a class="formula-choice" href={to.ingredient(it.id)}>
                  <b>{it.name}</b>
                  <span>
                    {w.price(it.cost_per_kg)}, {w.used(it.formulas.length)}
                  </span>
                  {it.allergens.length > 0 && (
                    <span class="allergens">
                      <Shape name="warn" />
                      {it.allergens.join(", ")}
                    </span>
                  )}
                  <span class="soft">{it.missing.length > 0 ? w.missing(it.missing) : w.known}</span>
                  {it.source && <small class="soft">{it.source}</small>}
                </a>
              </li>
            ))}
          </ul>
        </>
      )}
    </>
  );
}
