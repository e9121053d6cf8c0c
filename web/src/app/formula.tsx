// One formula, scaled to the batch size typed in, and the way to start it.

import { useState } from "preact/hooks";
import { undone } from "../core/answers.ts";
import { doubts } from "../core/doubts.ts";
import type { Formula, FormulaAddition, Plan } from "../core/frames.ts";
import { inOrder } from "../core/plan.ts";
import { massWithUnit, typedMass } from "../core/numbers.ts";
import { asSize, type Sized } from "../core/sizes.ts";
import { to } from "../core/routes.ts";
import { cameDown } from "../core/shared.ts";
import { words } from "../core/words.ts";
import { useAsked, useSettled } from "./ask.ts";
import { BatchSize, ToSteps } from "./batch-size.tsx";
import { DryIcePanel } from "./dry-ice.tsx";
import { MixOf } from "./mix.tsx";
import { Said } from "./said.tsx";
import { Shape } from "./shapes.tsx";
import { CheckHints } from "./check-hint.tsx";
import { NameField } from "./person.tsx";
import { busy, fresh, operator, recall, remember, requests, scales, station, usualScale } from "./store.ts";
import { VesselChoice } from "./vessels.tsx";

function warned(formula: Formula, it: FormulaAddition): string[] {
  const said = (formula.warnings ?? [])
    .filter((w) => w.addition === it.n && w.code !== "vessel-overflows")
    .map(doubts.warning);
  return it.judgeable === false && said.length === 0 ? [words.start.unjudgeable] : said;
}

function Addition({ it, said, interval }: { it: FormulaAddition; said: string[]; interval: string | null }) {
  return (
    <>
      <tr class={said.length > 0 ? "has-more" : undefined}>
        <td>{it.n}</td>
        <th scope="row">
          {it.name}
          {it.method && <small>{words.vessels.marked}</small>}
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

function Goes({ formula, interval }: { formula: Formula; interval: string | null }) {
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

/** The plan as a list of things to do, and what there is to know of it. */
function Planned({ plan, formula }: { plan: Plan; formula: Formula }) {
  const name = (n: number) => formula.additions.find((it) => it.n === n)?.name ?? "";
  return (
    <section class="planned" data-testid="planned">
      <h3>{words.planned.title}</h3>
      <p class="soft">{words.planned.moves(plan.moves, plan.weighings.length)}</p>
      <ol>
        {inOrder(plan).map((it) => (
          <li key={it.n} class={it.weighing ? "pours" : "moves"} data-fit={it.weighing?.fit ?? true}>
            <span>
              {it.weighing && !it.weighing.fit && <Shape name="warn" />}
              {it.text}
            </span>
            {it.weighing && (
              <small class="wide-only">
                {words.weigh.between(it.weighing.low_g, it.weighing.high_g, scales.value[it.weighing.scale]?.interval_g ?? null)}
              </small>
            )}
          </li>
        ))}
      </ol>
      {(plan.left_out ?? []).length > 0 && (
        <p class="warning">
          <Shape name="lost" />
          {words.planned.leftOut(plan.left_out!)}
        </p>
      )}
      {plan.premixes.map((it) => (
        <p class="note" key={it.premix}>
          {words.planned.premix(it, name)}
        </p>
      ))}
      {plan.shortfalls.map((it) => (
        <p class="warning" key={it.addition}>
          <Shape name="warn" />
          <Said text={words.planned.short(it)} />
        </p>
      ))}
    </section>
  );
}

/** A vessel's mass, if it is known: remembered on this device. */
function VesselField({ name, label, value, type }: { name: string; label: string; value: string; type(text: string): void }) {
  const known = station.value?.vessels ?? [];
  return (
    <div class="field">
      <label for={name}>
        {label} <small>{words.planned.vesselHint}</small>
      </label>
      <input
        type="text"
        inputMode="decimal"
        autocomplete="off"
        name={name}
        id={name}
        value={value}
        onInput={(e) => type(e.currentTarget.value)}
      />
      {known.length > 0 && (
        <div class="row">
          {known.map((it) => (
            <button type="button" class="plain" key={it.name} aria-pressed={value === it.mass_g} onClick={() => type(it.mass_g)}>
              {it.name}
            </button>
          ))}
        </div>
      )}
    </div>
  );
}

/** The formula with what the list said of it, until the answer for this size is there. */
function atItsOwnSize(formula: Formula, size: string | null, scale: string | null): Formula {
  const told = size === formula.batch_g ? formula.scales?.find((it) => it.scale === scale) : undefined;
  return told ? { ...formula, warnings: told.warnings } : formula;
}

/** Instead of the name of a scale: what the plan says. */
const AS_PLANNED = ":plan";

/** A vessel's mass as typed: empty where it is left out, null where it is none. */
function vesselMass(text: string): string | null {
  return text.trim() === "" ? "" : typedMass(text);
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
  const asPlanned = usualScale.value === AS_PLANNED || (names.length > 1 && !names.includes(usualScale.value));
  const usual = names.includes(usualScale.value) ? usualScale.value : (names[0] ?? null);
  const [bowl, weighBowl] = useState(recall("bowl"));
  const [dish, weighDish] = useState(recall("dish"));
  const [wished, wishFor] = useState(recall("vessel"));
  const [out, pourOut] = useState(false);
  const vessel = !out && (station.value?.vessels ?? []).some((it) => it.name === wished) ? wished : "";
  const [rounded, round] = useState(false);
  const settled = useSettled(typed);
  const size = asSize(settled);
  const how = { ...size, ...(rounded ? { rounded: "true" } : {}) };
  const query = new URLSearchParams(how);
  if (usual) query.set("scale", usual);
  if (out) query.set("method", "by difference");
  if (vessel) query.set("vessel", vessel);
  const vessels = new URLSearchParams(how);
  const [bowl_g, dish_g] = [vesselMass(useSettled(bowl)), vesselMass(useSettled(dish))];
  if (bowl_g) vessels.set("bowl_g", bowl_g);
  if (dish_g) vessels.set("dish_g", dish_g);
  const plans = useAsked<Plan>(
    asPlanned && size && bowl_g !== null && dish_g !== null ? `api/formulas/${encodeURIComponent(formula.id)}/plan?${vessels}` : null,
  );
  const asked = useAsked<Formula>(size ? `api/formulas/${encodeURIComponent(formula.id)}?${query}` : null);
  const scaled = asked.value ?? atItsOwnSize(formula, typedMass(settled), usual);
  const where = new URLSearchParams(asPlanned || !usual ? how : { ...how, scale: usual });
  const inWords = size !== null && ("size" in size || rounded);
  const sized = useAsked<Sized>(inWords ? `api/formulas/${encodeURIComponent(formula.id)}/size?${where}` : null);

  const told = scaled.warnings ?? [];
  const whole = told.filter((it) => it.addition === null || it.code === "vessel-overflows").map(doubts.warning);
  const ahead = [doubts.tooFine(told), ...whole].filter(Boolean);

  const start = async (event: Event) => {
    event.preventDefault();
    const wanted = asSize(typed);
    const who = operator.peek().trim();
    if (wanted === null) return say(words.start.batchWrong);
    if (!who) return say(words.start.operatorWrong);
    if (asPlanned && (vesselMass(bowl) === null || vesselMass(dish) === null)) return say(words.planned.vesselWrong);
    if (busy.peek() !== null) return;
    say("");
    remember("bowl", bowl.trim());
    remember("dish", dish.trim());
    remember("vessel", wished);
    remember("operator", who);
    if (asPlanned) remember("scale", AS_PLANNED);
    else if (usual) remember("scale", usual);
    busy.value = "start";
    const order = { formula: formula.id, ...wanted, ...(rounded ? { rounded } : {}), operator: who };
    const on = asPlanned
      ? { scale: null, plan: true, bowl_g: vesselMass(bowl) || null, dish_g: vesselMass(dish) || null }
      : { scale: usual, ...(out ? { method: "by difference" } : {}), ...(vessel ? { vessel } : {}) };
    const answer = await requests.open({ ...order, ...on });
    busy.value = null;
    if (answer.kind === "ok") location.hash = to.bench();
    else say(undone(answer));
  };

  return (
    <form class="formula-sheet" onSubmit={start} data-testid="formula">
      <div class="row">
        <a class="plain back" href={to.start()}>
          {words.start.back}
        </a>
        {!cameDown(formula.id) && (
          <a class="plain" href={to.formula(formula.id)}>
            {words.pantry.formulas.edit}
          </a>
        )}
      </div>
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
      {formula.steps && (
        <details class="evidence" data-testid="formula-steps">
          <summary>{`${words.process.after}: ${formula.steps.map((it) => it.name).join(", ")}`}</summary>
          <ol>
            {formula.steps.map((it, n) => (
              <li key={n}>
                {`${n + 1}. ${it.name}`} <span class="soft">{[it.limits, it.with && words.process.with(it.with)].filter(Boolean).join("; ")}</span>
              </li>
            ))}
          </ol>
        </details>
      )}
      <CheckHints names={asPlanned || !usual ? names : [usual]} />
      <div class="fields">
        <BatchSize typed={typed} type={type} told={sized.value} trouble={sized.trouble} />
        <NameField label={words.start.operator} value={operator.value} type={(name) => (operator.value = name)}>
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
        </NameField>
        {names.length > 0 && (
          <label class="field">
            <span>{words.start.scale}</span>
            <select
              name="scale"
              value={asPlanned ? AS_PLANNED : (usual ?? "")}
              onChange={(e) => (usualScale.value = e.currentTarget.value)}
            >
              <option value={AS_PLANNED}>{words.planned.choice}</option>
              {names.map((name) => (
                <option key={name} value={name}>
                  {words.planned.only(name)}
                </option>
              ))}
            </select>
          </label>
        )}
        {!asPlanned && <VesselChoice vessel={vessel} choose={wishFor} out={out} say={pourOut} />}
        {asPlanned && <VesselField name="bowl_g" label={words.planned.bowl} value={bowl} type={weighBowl} />}
        {asPlanned && <VesselField name="dish_g" label={words.planned.dish} value={dish} type={weighDish} />}
        <ToSteps rounded={rounded} round={round} told={sized.value} />
      </div>
      {!asPlanned && ahead.map((text) => (
        <p class="warning" key={text}>
          <Shape name="warn" />
          {text}
        </p>
      ))}
      {asPlanned && plans.value !== null && <Planned plan={plans.value} formula={scaled} />}
      {asPlanned && plans.value === null && !plans.problem && <p class="soft">{words.planned.working}</p>}
      {!asPlanned && <Goes formula={scaled} interval={(usual && scales.value[usual]?.interval_g) || null} />}
      <MixOf formula={formula.id} />
      <DryIcePanel formula={formula.id} batch_g={size && (asked.value?.batch_g ?? typedMass(settled))} />
      {formula.scenario && <p class="soft">{formula.scenario}</p>}
      {(said || asked.problem || (asPlanned && plans.problem)) && (
        <p class="complaint" role="alert">
          <Said text={said || (asked.problem ? asked.trouble : plans.trouble)} />
        </p>
      )}
      <button type="submit" class="big" disabled={busy.value !== null || !fresh.value}>
        {busy.value === "start" ? words.weigh.sending : words.start.start}
      </button>
    </form>
  );
}
