// The size of a batch on its sheet: typed in grams or in words, and what the station made of it.

import { before, type Stock, times } from "../core/before.ts";
import type { Formula } from "../core/frames.ts";
import { massWithUnit } from "../core/numbers.ts";
import { sizes, type Sized } from "../core/sizes.ts";
import { words } from "../core/words.ts";
import { Shape } from "./shapes.tsx";

interface SizeProps {
  typed: string;
  type(text: string): void;
  told: Sized | null;
  trouble: string;
  formula: Formula;
  /** The most that can be made of what is in stock. */
  most: Stock["most"];
}

/** Sizes that are one press away: what each is called, its mass, and how it is typed. */
function offered(formula: Formula, most: Stock["most"]): { name: string; more: string; as: string }[] {
  const own = formula.batch_g;
  const scarcest = formula.additions.find((it) => it.ingredient === most?.scarcest)?.name ?? "";
  return [
    { name: before.half, more: massWithUnit(times(own, 0.5)), as: times(own, 0.5) },
    { name: before.own, more: massWithUnit(own), as: own },
    { name: before.double, more: massWithUnit(times(own, 2)), as: times(own, 2) },
    ...(most ? [{ name: before.most, more: `${massWithUnit(most.batch_g)}, ${before.mostOf(scarcest)}`, as: most.size }] : []),
  ];
}

export function BatchSize({ typed, type, told, trouble, formula, most }: SizeProps) {
  return (
    <div class="field batch-size">
      <label for="batch_g">{words.start.batch}</label>
      <input
        type="text"
        autocomplete="off"
        autocapitalize="off"
        spellcheck={false}
        name="batch_g"
        id="batch_g"
        aria-describedby="batch_g-how"
        value={typed}
        onInput={(e) => type(e.currentTarget.value)}
      />
      <small id="batch_g-how">{before.sizeHint}</small>
      {trouble && (
        <small class="warning">
          <Shape name="warn" />
          {trouble}
        </small>
      )}
      {told && told.size.by !== "mass" && (
        <small class="soft" data-testid="sized">
          {told.size.words}
        </small>
      )}
      <div class="row sizes">
        {offered(formula, most).map((it) => (
          <button type="button" class="plain" key={it.name} aria-pressed={typed === it.as} onClick={() => type(it.as)}>
            <span>
              {it.name} <small>{it.more}</small>
            </span>
          </button>
        ))}
      </div>
    </div>
  );
}

interface StepsProps {
  rounded: boolean;
  round(on: boolean): void;
  told: Sized | null;
}

/** Whether targets go to the steps of their scales, and what that does to the mix. */
export function ToSteps({ rounded, round, told }: StepsProps) {
  return (
    <label class="choice steps">
      <input type="checkbox" name="rounded" checked={rounded} onChange={(e) => round(e.currentTarget.checked)} />
      <span>
        {sizes.steps}
        {rounded && <small>{sizes.stepsMore}</small>}
        {rounded && told && <small data-testid="moved">{sizes.did(told)}</small>}
      </span>
    </label>
  );
}
