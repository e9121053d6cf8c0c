// Where an ingredient may come from: the compositions that ship, or a supplier's table.

import { useState } from "preact/hooks";
import { found, type Ingredient, type Tagged } from "../core/drafts.ts";
import { to } from "../core/routes.ts";
import { words } from "../core/words.ts";
import { useAsked } from "./ask.ts";
import { Field, useSaving } from "./fields.tsx";
import { Said } from "./said.tsx";
import { Shape } from "./shapes.tsx";
import { requests } from "./store.ts";
import { Nothing, Unanswered } from "./trouble.tsx";

const w = words.pantry;
const t = w.table;
const c = w.file;
/** A table larger than this is none of ingredients; the station would not take it either. */
const LARGEST = 450_000;

export function IngredientTable() {
  const asked = useAsked<{ ingredients: Ingredient[] }>("api/ingredient-table");
  const [typed, type] = useState("");
  const shown = found(asked.value?.ingredients ?? [], typed);
  return (
    <>
      <header class="pantry-head">
        <h1>{t.title}</h1>
        <a class="plain" href={to.ingredients()}>
          {w.back}
        </a>
      </header>
      <p class="soft">{t.about}</p>
      {asked.value === null && <Unanswered asked={asked} />}
      {asked.value && <Field name="search" label={w.ingredients.search} hint={w.ingredients.searchHint} value={typed} type={type} />}
      {asked.value && shown.length === 0 && <Nothing text={w.ingredients.notFound(typed)} />}
      <ul class="pantry-list" data-testid="table">
        {shown.map((it) => (
          <li key={it.id}>
            <a class="formula-choice" href={to.newIngredient(it.id)} aria-label={t.take(it.name)}>
              <b>{it.name}</b>
              {it.allergens.length > 0 && (
                <span class="allergens">
                  <Shape name="warn" />
                  {it.allergens.join(", ")}
                </span>
              )}
              <span class="soft">{it.source}</span>
            </a>
          </li>
        ))}
      </ul>
    </>
  );
}

interface Look extends Tagged {
  columns: string[];
  strange: string[];
  rows: { line: number; cells: string[]; ingredient: Ingredient | null; there: boolean; error: { where: string; message: string } | null }[];
}

function Rows({ it }: { it: Look }) {
  const strange = new Set(it.strange);
  return (
    <div class="scroll">
      <table class="csv" data-testid="csv">
        <thead>
          <tr>
            <th scope="col">{c.line}</th>
            <th scope="col" />
            {it.columns.map((name, n) => (
              <th scope="col" key={n} data-strange={strange.has(name)}>
                {name}
              </th>
            ))}
          </tr>
        </thead>
        <tbody>
          {it.rows.map((row) => (
            <tr key={row.line} data-bad={row.error !== null}>
              <td>{row.line}</td>
              <td class="csv-said">
                {row.error ? (
                  <span class="warning">
                    <Shape name="warn" />
                    <Said text={words.pantry.fault(row.error.message)} />
                  </span>
                ) : row.there ? (
                  c.there
                ) : (
                  c.fresh
                )}
              </td>
              {it.columns.map((name, n) => (
                <td key={n} data-strange={strange.has(name)}>
                  {row.cells[n] ?? ""}
                </td>
              ))}
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}

export function IngredientFile() {
  const [csv, put] = useState("");
  const [seen, see] = useState<Look | null>(null);
  const [over, write] = useState(false);
  const [taken, tell] = useState<string>("");
  const [name, call] = useState("");
  const saving = useSaving();
  const look = async (file: File | undefined) => {
    if (!file) return;
    tell("");
    see(null);
    call(file.name);
    if (file.size > LARGEST) return tell(c.tooLarge);
    let text: string;
    try {
      text = new TextDecoder("utf-8", { fatal: true }).decode(await file.arrayBuffer());
    } catch {
      return tell(c.unreadable);
    }
    put(text);
    see(await saving.send(async () => requests.ask<Look>("api/ingredient-import/look", { csv: text })));
  };
  const take = async (event: Event) => {
    event.preventDefault();
    if (seen === null) return;
    const answer = await saving.send(() => requests.change<{ taken: string[] } & Tagged>("POST", "api/ingredient-import", seen.tag, { csv, replace: over }));
    if (answer === null) return;
    see(null);
    tell(c.taken(answer.taken.length));
  };
  const good = (seen?.rows ?? []).filter((row) => row.ingredient !== null && (over || !row.there)).length;
  const bad = (seen?.rows ?? []).filter((row) => row.error !== null).length;
  return (
    <form
      class="csv-form"
      onSubmit={take}
      onDragOver={(e) => e.preventDefault()}
      onDrop={(e) => {
        e.preventDefault();
        void look(e.dataTransfer?.files[0]);
      }}
    >
      <header class="pantry-head">
        <h1>{c.title}</h1>
        <a class="plain" href={to.ingredients()}>
          {w.back}
        </a>
      </header>
      <p class="soft">{c.about}</p>
      <label class="drop plain">
        <input
          type="file"
          name="csv"
          accept=".csv,.txt,.tsv,text/csv,text/plain"
          onChange={(e) => {
            void look(e.currentTarget.files?.[0]);
            e.currentTarget.value = ""; // the same file, mended, can be chosen again
          }}
        />
        <span>
          <b>{c.choose}</b> {c.drop}
        </span>
        {name && <span class="soft">{name}</span>}
      </label>
      {saving.busy && <p class="soft">{c.reading}</p>}
      {saving.trouble && (
        <p class="complaint" role="alert">
          <Said text={saving.trouble} />
        </p>
      )}
      {taken && (
        <p class="hint" role="status">
          {taken}
        </p>
      )}
      {seen && (
        <>
          {seen.strange.length > 0 && (
            <p class="warning">
              <Shape name="warn" />
              {c.strange(seen.strange)}
            </p>
          )}
          {bad > 0 && (
            <p class="warning">
              <Shape name="warn" />
              {c.left(bad)}
            </p>
          )}
          <Rows it={seen} />
          {seen.rows.some((row) => row.there) && (
            <label class="choice">
              <input type="checkbox" name="replace" checked={over} onChange={(e) => write(e.currentTarget.checked)} />
              <span>{c.replace}</span>
            </label>
          )}
          <button type="submit" class="big" disabled={good === 0 || saving.busy}>
            {good === 0 ? c.nothing : c.take(good)}
          </button>
        </>
      )}
    </form>
  );
}
