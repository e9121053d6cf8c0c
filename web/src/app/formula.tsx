// One formula before its batch, in the order in which a cook decides: how much, what comes out, what goes in,
// how it is weighed, what to mind; and the way to start it.

import { useRef, useState } from "preact/hooks";
import { undone } from "../core/answers.ts";
import { before as w, type Made, type Stock } from "../core/before.ts";
import type { Formula, Plan } from "../core/frames.ts";
import { typedMass } from "../core/numbers.ts";
import { asSize, type Sized } from "../core/sizes.ts";
import { to } from "../core/routes.ts";
import { cameDown } from "../core/shared.ts";
import { words } from "../core/words.ts";
import { ON_RETURN, useAsked, useNewest, useSettled } from "./ask.ts";
import { BatchSize } from "./batch-size.tsx";
import { AS_PLANNED, How, type Into, onOneScale } from "./how.tsx";
import { Mind } from "./mind.tsx";
import { MixFigures, useMix } from "./mix.tsx";
import { Needs } from "./needs.tsx";
import { NameField } from "./person.tsx";
import { Said } from "./said.tsx";
import { Shape } from "./shapes.tsx";
import { busy, fresh, operator, recall, remember, requests, scales, station, usualScale } from "./store.ts";

/** The formula with what the list said of it, until the answer for this size is there. */
function atItsOwnSize(formula: Formula, size: string | null, scale: string | null): Formula {
  const told = size === formula.batch_g ? formula.scales?.find((it) => it.scale === scale) : undefined;
  return told ? { ...formula, warnings: told.warnings } : formula;
}

/** A vessel's mass as typed: empty where it is left out, null where it is none. */
function vesselMass(text: string): string | null {
  return text.trim() === "" ? "" : typedMass(text);
}

function Head({ formula, made }: { formula: Formula; made: Made | null }) {
  return (
    <header class="before-head">
      <div>
        <h1>{formula.name}</h1>
        <p class={formula.allergens.length > 0 ? "allergens" : "soft"}>
          {formula.allergens.length > 0 && <Shape name="warn" />}
          {formula.allergens.length > 0 ? words.weigh.allergens(formula.allergens.join(", ")) : words.start.noAllergens}
        </p>
        {formula.note && <p class="note">{formula.note}</p>}
        <p class="soft">
          {made ? <a href={to.record(made.batch)}>{w.made(made)}</a> : w.never}
        </p>
      </div>
      <div class="row">
        <a class="plain back" href={to.start()}>
          {words.start.back}
        </a>
        {!cameDown(formula.id) && (
          <a class="plain" href={to.formula(formula.id)}>
            {w.change}
          </a>
        )}
      </div>
    </header>
  );
}

/** Who weighs, of those that are offered or by name. */
function Who({ field }: { field: { current: HTMLInputElement | null } }) {
  const offered = useAsked<{ operators: string[] }>("api/operators").value?.operators ?? [];
  return (
    <NameField label={words.start.operator} value={operator.value} type={(name) => (operator.value = name)}>
      <div class="field">
        <label for="operator">{words.start.operator}</label>
        <input
          ref={field}
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
              <button type="button" class="plain" key={name} aria-pressed={operator.value === name} onClick={() => (operator.value = name)}>
                {name}
              </button>
            ))}
          </div>
        )}
      </div>
    </NameField>
  );
}

interface Props {
  formula: Formula;
  made: Made | null;
  typed: string;
  type(text: string): void;
  /** Targets at the steps of their scales from the start: it is made again so. */
  steps: boolean;
}

export function FormulaSheet({ formula, made, typed, type, steps }: Props) {
  const names = Object.keys(scales.value);
  const [said, say] = useState("");
  const who = useRef<HTMLInputElement>(null);
  const asPlanned = usualScale.value === AS_PLANNED || (names.length > 1 && !names.includes(usualScale.value));
  const usual = names.includes(usualScale.value) ? usualScale.value : (names[0] ?? null);
  const [kept, keep] = useState<Into>({ bowl: recall("bowl"), dish: recall("dish"), vessel: recall("vessel"), out: false, rounded: steps });
  const known = (station.value?.vessels ?? []).some((it) => it.name === kept.vessel);
  const into = { ...kept, vessel: !kept.out && known ? kept.vessel : "" };
  const settled = useSettled(typed);
  const size = asSize(settled);
  const how = { ...size, ...(into.rounded ? { rounded: "true" } : {}) };
  const at = `api/formulas/${encodeURIComponent(formula.id)}`;
  const query = new URLSearchParams(how);
  if (usual) query.set("scale", usual);
  if (into.out) query.set("method", "by difference");
  if (into.vessel) query.set("vessel", into.vessel);
  const vessels = new URLSearchParams(how);
  const [bowl_g, dish_g] = [vesselMass(useSettled(into.bowl)), vesselMass(useSettled(into.dish))];
  if (bowl_g) vessels.set("bowl_g", bowl_g);
  if (dish_g) vessels.set("dish_g", dish_g);
  const plans = useAsked<Plan>(asPlanned && size && bowl_g !== null && dish_g !== null ? `${at}/plan?${vessels}` : null);
  const asked = useAsked<Formula>(size ? `${at}?${query}` : null);
  const scaled = asked.value ?? atItsOwnSize(formula, typedMass(settled), usual);
  const where = new URLSearchParams(asPlanned || !usual ? how : { ...how, scale: usual });
  const inWords = size !== null && ("size" in size || into.rounded);
  const sized = useAsked<Sized>(inWords ? `${at}/size?${where}` : null);
  const stocked = useAsked<Stock>(size ? `${at}/stock?${where}` : null, ON_RETURN);
  const stock = useNewest(stocked, formula.id);
  const mix = useMix(formula.id);

  const fine = asPlanned ? (plans.value?.shortfalls.length ?? 0) > 0 : onOneScale(scaled).length > 0;
  const mind = [
    stock.value?.needs.some((it) => it.stock === "short") && w.go.short,
    mix.value?.limits.some((it) => it.standing === "outside") && w.go.outside,
    fine && w.go.fine,
  ].filter((it) => typeof it === "string");

  const start = async (event: Event) => {
    event.preventDefault();
    const wanted = asSize(typed);
    const by = operator.peek().trim();
    if (wanted === null) return say(words.start.batchWrong);
    if (!by) {
      who.current?.focus();
      return say(words.start.operatorWrong);
    }
    if (asPlanned && (vesselMass(into.bowl) === null || vesselMass(into.dish) === null)) return say(words.planned.vesselWrong);
    if (busy.peek() !== null) return;
    say("");
    remember("bowl", into.bowl.trim());
    remember("dish", into.dish.trim());
    remember("vessel", kept.vessel);
    remember("operator", by);
    if (asPlanned) remember("scale", AS_PLANNED);
    else if (usual) remember("scale", usual);
    busy.value = "start";
    const order = { formula: formula.id, ...wanted, ...(into.rounded ? { rounded: true } : {}), operator: by };
    const on = asPlanned
      ? { scale: null, plan: true, bowl_g: vesselMass(into.bowl) || null, dish_g: vesselMass(into.dish) || null }
      : { scale: usual, ...(into.out ? { method: "by difference" } : {}), ...(into.vessel ? { vessel: into.vessel } : {}) };
    const answer = await requests.open({ ...order, ...on });
    busy.value = null;
    if (answer.kind === "ok") location.hash = to.bench();
    else say(undone(answer));
  };

  // What is wrong with a size stands at its field.
  const trouble = said || (sized.trouble ? "" : asked.trouble || (asPlanned ? plans.trouble : ""));
  return (
    <form class="before" onSubmit={start} data-testid="formula">
      <Head formula={formula} made={made} />
      <div class="before-parts">
        <div>
          <section class="much">
            <h2>{w.much}</h2>
            <div class="fields">
              <BatchSize typed={typed} type={type} told={sized.value} trouble={sized.trouble} formula={formula} most={stock.value?.most ?? null} />
              <Who field={who} />
            </div>
          </section>
          <section class="comes-out" data-testid="mix">
            <h2>{w.out}</h2>
            {mix.value !== null && <MixFigures it={mix.value} />}
            {mix.value === null && <p class="soft">{mix.trouble ? <Said text={mix.trouble} /> : words.planned.working}</p>}
          </section>
        </div>
        <div>
          <div data-present={stock.present && settled === typed}>
            <Needs formula={scaled} stock={stock.value} trouble={sized.trouble || asked.trouble ? "" : stocked.trouble} interval={asPlanned ? null : ((usual && scales.value[usual]?.interval_g) || null)} />
          </div>
          <How formula={scaled} asPlanned={asPlanned} usual={usual} plans={plans} sized={sized.value} into={into} set={(change) => keep({ ...kept, ...change })} />
          <Mind formula={formula} batch_g={size && (asked.value?.batch_g ?? typedMass(settled))} />
          {formula.scenario && <p class="soft">{formula.scenario}</p>}
        </div>
      </div>
      <div class="before-go">
        {trouble && (
          <p class="complaint" role="alert">
            <Said text={trouble} />
          </p>
        )}
        {!trouble && mind.length > 0 && (
          <p class="warning">
            <Shape name="warn" />
            {w.go.mind(mind)}
          </p>
        )}
        <button type="submit" class="big" disabled={busy.value !== null || !fresh.value}>
          {busy.value === "start" ? words.weigh.sending : words.start.start}
        </button>
      </div>
    </form>
  );
}
