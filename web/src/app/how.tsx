// By what a batch is weighed: as planned on all scales, or on one; into which vessels; what no scale can do.

import { before } from "../core/before.ts";
import { doubts } from "../core/doubts.ts";
import type { Formula, Plan } from "../core/frames.ts";
import type { Sized } from "../core/sizes.ts";
import { words } from "../core/words.ts";
import type { Asked } from "./ask.ts";
import { ToSteps } from "./batch-size.tsx";
import { CheckHints } from "./check-hint.tsx";
import { Planned } from "./planned.tsx";
import { Shape } from "./shapes.tsx";
import { scales, station, usualScale } from "./store.ts";
import { VesselChoice } from "./vessels.tsx";

/** Instead of the name of a scale: what the plan says. */
export const AS_PLANNED = ":plan";

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

/** What one scale cannot do for this formula, each with what it is of. */
export function onOneScale(formula: Formula): { of: string; text: string }[] {
  const told = (formula.warnings ?? []).map((it) => ({
    of: it.code === "vessel-overflows" ? "" : (formula.additions.find((one) => one.n === it.addition)?.name ?? ""),
    n: it.addition,
    text: doubts.warning(it),
  }));
  const silent = formula.additions.filter((it) => it.judgeable === false && !told.some((one) => one.n === it.n));
  return [...told, ...silent.map((it) => ({ of: it.name, text: words.start.unjudgeable }))];
}

export interface Into {
  bowl: string;
  dish: string;
  vessel: string;
  /** Whether it is poured out of its own container: the bowl cannot be weighed. */
  out: boolean;
  rounded: boolean;
}

interface Props {
  formula: Formula;
  asPlanned: boolean;
  usual: string | null;
  plans: Asked<Plan>;
  sized: Sized | null;
  into: Into;
  set(change: Partial<Into>): void;
}

export function How({ formula, asPlanned, usual, plans, sized, into, set }: Props) {
  const names = Object.keys(scales.value);
  const too = asPlanned ? [] : onOneScale(formula);
  const fine = asPlanned ? "" : doubts.tooFine(formula.warnings ?? []);
  return (
    <section class="how">
      <header>
        <h2>{before.how}</h2>
        {fine && (
          <p class="warning">
            <Shape name="warn" />
            {fine}
          </p>
        )}
      </header>
      <CheckHints names={asPlanned || !usual ? names : [usual]} />
      <div class="fields">
        {names.length > 0 && (
          <label class="field">
            <span>{words.start.scale}</span>
            <select name="scale" value={asPlanned ? AS_PLANNED : (usual ?? "")} onChange={(e) => (usualScale.value = e.currentTarget.value)}>
              <option value={AS_PLANNED}>{words.planned.choice}</option>
              {names.map((name) => (
                <option key={name} value={name}>
                  {words.planned.only(name)}
                </option>
              ))}
            </select>
          </label>
        )}
        {!asPlanned && (
          <VesselChoice vessel={into.vessel} choose={(vessel) => set({ vessel })} out={into.out} say={(out) => set({ out })} />
        )}
        {asPlanned && <VesselField name="bowl_g" label={words.planned.bowl} value={into.bowl} type={(bowl) => set({ bowl })} />}
        {asPlanned && <VesselField name="dish_g" label={words.planned.dish} value={into.dish} type={(dish) => set({ dish })} />}
        <ToSteps rounded={into.rounded} round={(rounded) => set({ rounded })} told={sized} />
      </div>
      {too.map((it) => (
        <p class="warning" key={it.of + it.text}>
          <Shape name="warn" />
          <span>
            {it.of && <b>{it.of}: </b>}
            {it.text}
          </span>
        </p>
      ))}
      {asPlanned && plans.value !== null && <Planned plan={plans.value} formula={formula} />}
      {asPlanned && plans.value === null && !plans.trouble && <p class="soft">{words.planned.working}</p>}
    </section>
  );
}
