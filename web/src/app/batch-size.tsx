// The size of a batch on its sheet: typed in grams or in words, and what the station made of it.

import { sizes, type Sized } from "../core/sizes.ts";
import { words } from "../core/words.ts";
import { Shape } from "./shapes.tsx";

interface SizeProps {
  typed: string;
  type(text: string): void;
  told: Sized | null;
  trouble: string;
}

export function BatchSize({ typed, type, told, trouble }: SizeProps) {
  return (
    <div class="field">
      <label for="batch_g">
        {words.start.batch} <small>{sizes.hint}</small>
      </label>
      <input
        type="text"
        autocomplete="off"
        autocapitalize="off"
        spellcheck={false}
        name="batch_g"
        id="batch_g"
        value={typed}
        onInput={(e) => type(e.currentTarget.value)}
      />
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
