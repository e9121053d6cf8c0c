// One formula, scaled to the batch size typed in, and the way to start it.

import { useEffect, useState } from "preact/hooks";
import { doubts } from "../core/doubts.ts";
import type { Formula, FormulaAddition } from "../core/frames.ts";
import { massWithUnit, typedMass } from "../core/numbers.ts";
import { to } from "../core/routes.ts";
import { words } from "../core/words.ts";
import { useAsked } from "./ask.ts";
import { Shape } from "./shapes.tsx";
import { busy, fresh, operator, remember, requests, scales, usualScale } from "./store.ts";

/** What was typed, once typing has paused: each key press is not a request. */
function useSettled(text: string): string {
  const [settled, settle] = useState(text);
  useEffect(() => {
    const soon = setTimeout(() => settle(text), 250);
    return () => clearTimeout(soon);
  }, [text]);
  return settled;
}

function warned(formula: Formula, it: FormulaAddition): string[] {
  const said = (formula.warnings ?? []).filter((w) => w.addition === it.n).map(doubts.warning);
  return it.judgeable === false && said.length === 0 ? [words.start.unjudgeable] : said;
}

function Addition({ it, said, interval }: { it: FormulaAddition; said: string[]; interval: string | null }) {
  return (
    <>
      <tr class={said.length > 0 ? "has-more" : undefined}>
        <td>{it.n}</td>
        <th scope="row">
          {it.name}
          {it.caution && <small>{it.caution}</small>}
          {it.allergens.length > 0 && <small>{words.weigh.allergens(it.allergens.join(", "))}</small>}
        </th>
        <td class="mass">{massWithUnit(it.target_g)}</td>
        <td class="mass wide-only">{words.weigh.between(it.low_g, it.high_g, interval)}</td>
      </tr>
      {said.length > 0 && (
        <tr>
          <td />
          <td colSpan={3}>
            {said.map((text) => (
              <small class="warning" key={text}>
                <Shape name="warn" />
                {text}
              </small>
            ))}
          </td>
        </tr>
      )}
    </>
  );
}

function Plan({ formula, interval }: { formula: Formula; interval: string | null }) {
  return (
    <table class="plan">
      <caption>{words.start.plan}</caption>
      <thead>
        <tr>
          <th scope="col" colSpan={2}>
            {words.weigh.additions}
          </th>
          <th scope="col" class="mass">
            {words.start.target}
          </th>
          <th scope="col" class="mass wide-only">
            {words.start.limits}
          </th>
        </tr>
      </thead>
      <tbody>
        {formula.additions.map((it) => (
          <Addition key={it.n} it={it} said={warned(formula, it)} interval={interval} />
        ))}
      </tbody>
    </table>
  );
}

/** The formula with what the list said of it, until the answer for this size is there. */
function atItsOwnSize(formula: Formula, size: string | null, scale: string | null): Formula {
  const told = size === formula.batch_g ? formula.scales?.find((it) => it.scale === scale) : undefined;
  return told ? { ...formula, warnings: told.warnings } : formula;
}

interface Props {
  formula: Formula;
  typed: string;
  type(text: string): void;
}

export function FormulaSheet({ formula, typed, type }: Props) {
  const names = Object.keys(scales.value);
  const [said, say] = useState("");
  const offered = useAsked<{ operators: string[] }>("api/operators").value?.operators ?? [];
  const usual = names.includes(usualScale.value) ? usualScale.value : (names[0] ?? null);
  const size = typedMass(useSettled(typed));
  const query = new URLSearchParams();
  if (size) query.set("batch_g", size);
  if (usual) query.set("scale", usual);
  const asked = useAsked<Formula>(size ? `api/formulas/${encodeURIComponent(formula.id)}?${query}` : null);
  const scaled = asked.value ?? atItsOwnSize(formula, size, usual);

  const told = scaled.warnings ?? [];
  const whole = told.filter((it) => it.addition === null).map(doubts.warning);
  const ahead = [doubts.tooFine(told), ...whole].filter(Boolean);

  const start = async (event: Event) => {
    event.preventDefault();
    const batch_g = typedMass(typed);
    const who = operator.peek().trim();
    if (batch_g === null) return say(words.start.batchWrong);
    if (!who) return say(words.start.operatorWrong);
    if (busy.peek() !== null) return;
    say("");
    remember("operator", who);
    if (usual) remember("scale", usual);
    busy.value = "start";
    const answer = await requests.open({ formula: formula.id, batch_g, operator: who, scale: usual });
    busy.value = null;
    if (answer.kind === "ok") location.hash = to.bench();
    else if (answer.kind === "unreachable") say(words.unreachable);
    else say(words.refusal(answer.problem.code, answer.problem.detail, answer.problem.remedy));
  };

  return (
    <form class="formula-sheet" onSubmit={start} data-testid="formula">
      <a class="plain back" href={to.start()}>
        {words.start.back}
      </a>
      <h2>{formula.name}</h2>
      {formula.note && <p class="note">{formula.note}</p>}
      <p class={formula.allergens.length > 0 ? "allergens" : "soft"}>
        {formula.allergens.length > 0 ? (
          <>
            <Shape name="warn" />
            {words.weigh.allergens(formula.allergens.join(", "))}
          </>
        ) : (
          words.start.noAllergens
        )}
      </p>
      {(formula.cautions ?? []).map((text) => (
        <p class="caution" key={text}>
          {text}
        </p>
      ))}
      <div class="fields">
        <label class="field">
          <span>
            {words.start.batch} <small>{words.start.batchHint}</small>
          </span>
          <input
            type="text"
            inputMode="decimal"
            autocomplete="off"
            name="batch_g"
            value={typed}
            onInput={(e) => type(e.currentTarget.value)}
          />
        </label>
        <div class="field">
          <label for="operator">{words.start.operator}</label>
          <input
            type="text"
            name="operator"
            id="operator"
            maxLength={60}
            autocomplete="off"
            value={operator.value}
            onInput={(e) => (operator.value = e.currentTarget.value)}
          />
          {offered.length > 0 && (
            <div class="row">
              {offered.map((name) => (
                <button
                  type="button"
                  class="plain"
                  key={name}
                  aria-pressed={operator.value === name}
                  onClick={() => (operator.value = name)}
                >
                  {name}
                </button>
              ))}
            </div>
          )}
        </div>
        {names.length > 1 && (
          <label class="field">
            <span>{words.start.scale}</span>
            <select name="scale" value={usual ?? ""} onChange={(e) => (usualScale.value = e.currentTarget.value)}>
              {names.map((name) => (
                <option key={name} value={name}>
                  {name}
                </option>
              ))}
            </select>
          </label>
        )}
      </div>
      {ahead.map((text) => (
        <p class="warning" key={text}>
          <Shape name="warn" />
          {text}
        </p>
      ))}
      <Plan formula={scaled} interval={(usual && scales.value[usual]?.interval_g) || null} />
      {formula.scenario && <p class="soft">{formula.scenario}</p>}
      {(said || asked.problem) && (
        <p class="complaint" role="alert">
          {said || asked.trouble}
        </p>
      )}
      <button type="submit" class="big" disabled={busy.value !== null || !fresh.value}>
        {busy.value === "start" ? words.weigh.sending : words.start.start}
      </button>
    </form>
  );
}
