// The kitchen's files: formulas, ingredients, limits. Which screen, and the tabs above it.

import type { Route } from "../core/routes.ts";
import { to } from "../core/routes.ts";
import { words } from "../core/words.ts";
import { FormulaEditor } from "./formula-editor.tsx";
import { Formulas } from "./formulas.tsx";
import { IngredientEditor } from "./ingredient-editor.tsx";
import { IngredientFile, IngredientTable } from "./ingredient-sources.tsx";
import { Ingredients } from "./ingredients.tsx";
import { later } from "./later.tsx";
import { LimitsScreen } from "./limits.tsx";

const w = words.pantry;
const FORMULAS = ["formulas", "formula", "new-formula", "revisions", "both"];
const Revisions = later(() => import("./revisions.tsx"));
const Both = later(() => import("./revisions-both.tsx"));
const INGREDIENTS = ["ingredients", "ingredient", "new-ingredient", "ingredient-table", "ingredient-file"];
/** Every screen of the kitchen's files. */
export const PANTRY = [...FORMULAS, ...INGREDIENTS, "limits"];

function Tabs({ screen }: { screen: string }) {
  const mark = (screens: string[]) => (screens.includes(screen) ? ("page" as const) : undefined);
  return (
    <nav class="tabs" aria-label={w.tabs.label}>
      <a class="plain" href={to.formulas()} aria-current={mark(FORMULAS)}>
        {w.tabs.formulas}
      </a>
      <a class="plain" href={to.ingredients()} aria-current={mark(INGREDIENTS)}>
        {w.tabs.ingredients}
      </a>
      <a class="plain" href={to.limits()} aria-current={mark(["limits"])}>
        {w.tabs.limits}
      </a>
    </nav>
  );
}

function Inner({ it }: { it: Route }) {
  switch (it.screen) {
    case "formula":
      return <FormulaEditor key={`${it.formula}/${it.up}`} id={it.formula} like={null} up={it.up} />;
    case "revisions":
      return <Revisions key={it.formula} formula={it.formula} />;
    case "both":
      return <Both key={it.formula} formula={it.formula} then={it.then} now={it.now} />;
    case "new-formula":
      return <FormulaEditor key={`new/${it.like}`} id={null} like={it.like} />;
    case "ingredients":
      return <Ingredients />;
    case "ingredient":
      return <IngredientEditor key={it.ingredient} id={it.ingredient} like={null} />;
    case "new-ingredient":
      return <IngredientEditor key={`new/${it.like}`} id={null} like={it.like} />;
    case "ingredient-table":
      return <IngredientTable />;
    case "ingredient-file":
      return <IngredientFile />;
    case "limits":
      return <LimitsScreen kind={it.kind} />;
    default:
      return <Formulas />;
  }
}

export function PantryScreen({ it }: { it: Route }) {
  return (
    <main class="page pantry">
      <Tabs screen={it.screen} />
      <Inner it={it} />
    </main>
  );
}
