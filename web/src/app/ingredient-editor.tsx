// An ingredient, new or changed: all that can be said of it, judged by the station while one types.

import { useEffect, useRef, useState } from "preact/hooks";
import { draftOf, emptyIngredient, fieldOf, type Gaps, type Ingredient, type IngredientDraft, type Larder, type RuleDraft, slug, type Tagged } from "../core/drafts.ts";
import { to } from "../core/routes.ts";
import { words } from "../core/words.ts";
import { states } from "../core/states.ts";
import { useAsked, useSettled } from "./ask.ts";
import { Field, isKept, Pick, SaveBar, sendsByKey, Twice, useKept, useLeaving, useSaving } from "./fields.tsx";
import { Shape } from "./shapes.tsx";
import { requests } from "./store.ts";
import { Nothing, Unanswered } from "./trouble.tsx";

const w = words.pantry;
const i = w.ingredient;
const SUGARS = "sugars";

interface Draft {
  tag: string;
  id: string;
  allergens: string;
  it: IngredientDraft;
}

interface Judged {
  text: string;
  gaps: Gaps | null;
  field: string | null;
  message: string;
}

/** What the station says of a draft; the newest answer wins. */
function useJudged(id: string, draft: IngredientDraft): Judged & { present: boolean } {
  const text = JSON.stringify(draft);
  const settled = useSettled(text);
  const [got, keep] = useState<Judged>({ text: "", gaps: null, field: null, message: "" });
  useEffect(() => {
    let mine = true;
    const body = JSON.parse(settled) as IngredientDraft;
    // Without a name it is not yet an ingredient; the rest can be judged all the same.
    const asked = { ...body, name: body.name.trim() || "?" };
    void requests.ask<Gaps>(`api/ingredients/${encodeURIComponent(id)}/check`, asked).then((answer) => {
      if (!mine) return;
      if (answer.kind === "ok") keep({ text: settled, gaps: answer.value, field: null, message: "" });
      else if (answer.kind === "refused") {
        const { where, detail } = answer.problem;
        keep((it) => ({ text: settled, gaps: it.gaps, field: fieldOf(where, id), message: detail }));
      }
    });
    return () => {
      mine = false;
    };
  }, [settled, id]);
  return { ...got, present: got.text === text };
}

interface PartsProps {
  draft: IngredientDraft;
  larder: Larder;
  fault(field: string): string | undefined;
  change(composition: IngredientDraft["composition"]): void;
}

function Parts({ draft, larder, fault, change }: PartsProps) {
  const value = (key: string) => (typeof draft.composition[key] === "string" ? (draft.composition[key] as string) : "");
  const sugars = typeof draft.composition[SUGARS] === "object" ? (draft.composition[SUGARS] as Record<string, string>) : null;
  const put = (key: string, text: string) => {
    const { [key]: _, ...rest } = draft.composition;
    change(text === "" ? rest : { ...rest, [key]: text });
  };
  const kinds = (next: Record<string, string> | null) => {
    const { [SUGARS]: _, ...rest } = draft.composition;
    change(next === null ? rest : { ...rest, [SUGARS]: next });
  };
  const named = sugars === null ? [] : Object.keys(sugars);
  const others = Object.entries(larder.sugars).filter(([kind]) => !named.includes(kind));
  const part = (key: string) => (
    <Field key={key} number unit="g" name={key} label={w.call(key)} hint={w.hint(key)} value={value(key)} type={(text) => put(key, text)} fault={fault(`composition.${key}`)} />
  );
  return (
    <>
      <div class="fields small-fields">{larder.parts.map(part)}</div>
      <h3>{i.sugars}</h3>
      <div class="fields small-fields">
        {named.map((kind) => (
          <div class="sugar" key={kind}>
            <Field number unit="g" name={`sugars.${kind}`} label={larder.sugars[kind] ?? kind} value={sugars![kind]!} type={(text) => kinds({ ...sugars, [kind]: text })} fault={fault(`composition.sugars.${kind}`)} />
            <button
              type="button"
              class="plain"
              aria-label={i.dropSugar(larder.sugars[kind] ?? kind)}
              onClick={() => {
                const { [kind]: _, ...rest } = sugars!;
                kinds(Object.keys(rest).length === 0 ? null : rest);
              }}
            >
              {"\u00d7"}
            </button>
          </div>
        ))}
        <Pick name="add-sugar" label={i.addSugar} value="" options={[["", "\u2013"], ...others]} pick={(kind) => kind && kinds({ ...sugars, [kind]: "" })} />
        {named.length === 0 && (
          <label class="choice aside">
            <input type="checkbox" name="no-sugars" checked={sugars !== null} onChange={(e) => kinds(e.currentTarget.checked ? {} : null)} />
            <span>{i.noSugars}</span>
          </label>
        )}
      </div>
      <h3>{i.inside}</h3>
      <div class="fields small-fields">{larder.of_which.map(part)}</div>
    </>
  );
}

interface RulesProps {
  rules: RuleDraft[];
  names: [string, string][];
  fault(field: string): string | undefined;
  change(rules: RuleDraft[]): void;
}

function Rules({ rules, names, fault, change }: RulesProps) {
  const put = (at: number, more: Partial<RuleDraft>) => change(rules.map((it, n) => (n === at ? { ...it, ...more } : it)));
  return (
    <section>
      <h2>{i.instead}</h2>
      <p class="soft">{rules.length === 0 ? i.noRules : i.insteadHint}</p>
      <ul class="rules">
        {rules.map((rule, n) => (
          <li key={n}>
            <Pick name={`rule-${n + 1}`} label={i.other} value={rule.ingredient} options={[["", w.formula.choose], ...names]} pick={(ingredient) => put(n, { ingredient })} fault={fault(`instead[${n + 1}].ingredient`)} />
            <Field number unit="g" name={`ratio-${n + 1}`} label={i.ratio} value={rule.ratio} type={(ratio) => put(n, { ratio })} fault={fault(`instead[${n + 1}].ratio`)} />
            <Field name={`rule-note-${n + 1}`} label={i.ruleNote} value={rule.note} type={(note) => put(n, { note })} fault={fault(`instead[${n + 1}].note`)} />
            <Field name={`rule-source-${n + 1}`} label={i.ruleSource} hint={i.ruleSourceHint} value={rule.source} type={(source) => put(n, { source })} fault={fault(`instead[${n + 1}].source`)} />
            <button type="button" class="plain" aria-label={i.dropRule(n + 1)} onClick={() => change(rules.filter((_, at) => at !== n))}>
              {w.remove}
            </button>
          </li>
        ))}
      </ul>
      <button type="button" class="plain" onClick={() => change([...rules, { ingredient: "", ratio: "", note: "", source: "" }])}>
        {i.addRule}
      </button>
    </section>
  );
}

interface EditorProps {
  one: Ingredient | null;
  like: Ingredient | null;
  place: string;
  larder: Larder;
  again(): void;
}

function Editor({ one, like, place, larder, again }: EditorProps) {
  const start = (): Draft => {
    const it = one ?? like;
    return { tag: larder.tag, id: "", allergens: (it?.allergens ?? []).join(", "), it: it ? draftOf(it) : emptyIngredient() };
  };
  const [draft, set, forget] = useKept<Draft>(place, start);
  const saving = useSaving();
  const tried = useRef(false);
  const form = useRef<HTMLFormElement>(null);
  const id = one?.id ?? (draft.id || slug(draft.it.name));
  const asked: IngredientDraft = { ...draft.it, allergens: draft.allergens.split(",").map((text) => text.trim()).filter(Boolean) };
  const judged = useJudged(id || "new", asked);
  const changed = isKept(place);
  useLeaving(changed);

  const change = (more: Partial<IngredientDraft>, rest: Partial<Draft> = {}) => {
    if (saving.trouble && !saving.conflict) saving.clear();
    set({ ...draft, ...rest, it: { ...draft.it, ...more } });
  };
  const empty = (field: string) => field.startsWith("instead") && !tried.current;
  const fault = (field: string): string | undefined => {
    const live = judged.field === field && !empty(field) ? judged.message : undefined;
    return live ?? saving.faults.find((it) => it.where === field || fieldOf(it.where, id) === field)?.message;
  };
  const text = (key: "name" | "caution" | "density_g_ml" | "cost_per_kg" | "supplier_code" | "shelf_life_days" | "shelf_life_opened_days" | "source") => ({
    name: key,
    value: draft.it[key],
    type: (value: string) => change({ [key]: value }),
    fault: fault(key),
  });

  const save = async (event: Event) => {
    event.preventDefault();
    tried.current = true;
    const path = `api/ingredients/${encodeURIComponent(id || "-")}`;
    const answer = await saving.send(() => requests.change<Tagged>("PUT", path, draft.tag, asked));
    if (answer === null) return form.current?.querySelector<HTMLElement>('[aria-invalid="true"]')?.focus();
    const still = forget(draft);
    set((now) => ({ ...now, tag: answer.tag }));
    if (still) forget();
    tried.current = false;
    if (one === null) location.hash = to.ingredient(id);
  };
  const remove = async () => {
    const gone = await saving.send(() => requests.change("DELETE", `api/ingredients/${encodeURIComponent(id)}`, draft.tag));
    if (gone === null) return;
    forget();
    location.hash = to.ingredients();
  };
  const whole = fault("composition");
  const names = larder.ingredients.filter((it) => it.id !== id).map((it): [string, string] => [it.id, it.name]);

  return (
    <form class="editor" ref={form} onSubmit={save} onKeyDown={sendsByKey} data-testid="ingredient-editor">
      <div class="editor-main">
        <header class="pantry-head">
          <h1>{one === null ? i.fresh : one.name}</h1>
          <a class="plain" href={to.ingredients()}>
            {w.back}
          </a>
        </header>
        <div class="fields">
          <Field label={i.name} {...text("name")} />
          {one === null && <Field name="id" label={i.id} hint={i.idHint} value={id} type={(typed) => change({}, { id: typed })} fault={fault("id")} />}
          <Field name="allergens" label={i.allergens} hint={i.allergensHint} value={draft.allergens} type={(allergens) => change({}, { allergens })} fault={fault("allergens")} />
          <Field label={i.caution} hint={i.cautionHint} {...text("caution")} />
        </div>
        <h2>{i.composition}</h2>
        <p class="soft">{i.compositionHint}</p>
        <Parts draft={draft.it} larder={larder} fault={fault} change={(composition) => change({ composition })} />
        <Field label={i.source} hint={i.sourceHint} {...text("source")} />
        <h2>{i.goods}</h2>
        <div class="fields small-fields">
          <Field number label={i.cost} hint={i.costHint} {...text("cost_per_kg")} />
          <Field number label={i.density} hint={i.densityHint} {...text("density_g_ml")} />
          <Field label={i.code} {...text("supplier_code")} />
          <Field number unit={i.days} label={i.life} {...text("shelf_life_days")} />
          <Field number unit={i.days} label={i.opened} {...text("shelf_life_opened_days")} />
        </div>
        <Rules rules={draft.it.instead} names={names} fault={fault} change={(instead) => change({ instead })} />
        {one !== null && (
          <section>
            <h2>{i.used}</h2>
            {one.formulas.length === 0 ? (
              <p class="soft">{i.unused}</p>
            ) : (
              <div class="row start">
                {one.formulas.map((it) => (
                  <a class="plain" key={it} href={to.formula(it)}>
                    {it}
                  </a>
                ))}
              </div>
            )}
            <Twice text={i.remove} press={() => void remove()} disabled={Boolean(larder.fixed)} />
          </section>
        )}
        <SaveBar
          saving={saving}
          fixed={larder.fixed}
          changed={changed}
          again={() => {
            forget();
            again();
          }}
        />
      </div>
      <section class="composed" aria-label={i.composition} data-present={judged.present && judged.field === null} data-testid="gaps">
        <h2>{i.composition}</h2>
        {whole && (
          <p class="complaint" role="alert">
            <Shape name="warn" /> {whole}
          </p>
        )}
        {judged.field !== null && <p class="warning">{i.stale}</p>}
        {judged.gaps && <p role="status">{i.stated(judged.gaps.stated_g, judged.gaps.left_g)}</p>}
        {judged.gaps && judged.gaps.missing.length > 0 && (
          <>
            <h3>{i.missing}</h3>
            <ul class="missing">
              {judged.gaps.missing.map((key) => (
                <li key={key}>{w.fact(key)}</li>
              ))}
            </ul>
          </>
        )}
      </section>
    </form>
  );
}

export function IngredientEditor({ id, like }: { id: string | null; like: string | null }) {
  const larder = useAsked<Larder>("api/ingredients");
  const table = useAsked<{ ingredients: Ingredient[] }>(like === null ? null : "api/ingredient-table");
  const back = { at: to.ingredients(), name: states.allIngredients };
  const open = larder.value === null ? larder : like !== null && table.value === null ? table : null;
  if (larder.value === null || open !== null) {
    return (
      <>
        <h1>{id ?? w.ingredients.create}</h1>
        <Unanswered asked={open ?? larder} back={back} />
      </>
    );
  }
  const one = larder.value.ingredients.find((it) => it.id === id) ?? null;
  if (id !== null && one === null) {
    return (
      <>
        <h1>{id}</h1>
        <Nothing text={w.ingredients.notFound(id)}>
          <a class="solid" href={back.at}>
            {back.name}
          </a>
        </Nothing>
      </>
    );
  }
  const row = table.value?.ingredients.find((it) => it.id === like) ?? null;
  const place = id === null ? to.newIngredient(like ?? undefined) : to.ingredient(id);
  return <Editor key={`${place}/${larder.value.tag}`} place={place} one={one} like={row} larder={larder.value} again={larder.again} />;
}
