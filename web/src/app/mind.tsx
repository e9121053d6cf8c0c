// What can hurt somebody or spoil a batch, before it is begun: cautions of the formula, its ingredients and steps.

import { allergensFrom, before as w, cautionsOf } from "../core/before.ts";
import type { Formula } from "../core/frames.ts";
import { words } from "../core/words.ts";
import { DryIcePanel } from "./dry-ice.tsx";
import { Shape } from "./shapes.tsx";

function Caution({ text, more }: { text: string; more?: string | undefined }) {
  return (
    <li>
      <Shape name="warn" />
      <span>
        {text}
        {more && <small>{more}</small>}
      </span>
    </li>
  );
}

export function Mind({ formula, batch_g }: { formula: Formula; batch_g: string | null }) {
  const steps = formula.steps ?? [];
  const asks = steps.filter((it) => (it.cautions ?? []).length > 0);
  const none = formula.allergens.length + asks.length + (formula.cautions ?? []).length + cautionsOf(formula).length === 0;
  return (
    <section class="mind" data-testid="mind">
      <h2>{w.mind}</h2>
      {none && <p class="soft">{w.nothing}</p>}
      <ul class="cautions">
        {allergensFrom(formula).map(([name, from]) => (
          <Caution key={name} text={w.allergen(name, from)} />
        ))}
        {(formula.cautions ?? []).map((text) => (
          <Caution key={text} text={text} />
        ))}
        {cautionsOf(formula).map(([name, text]) => (
          <Caution key={name} text={w.ofIngredient(name, text)} />
        ))}
        {asks.map((it, n) => (
          <Caution key={`step ${n}`} text={w.ofStep(it.name, it.cautions!.map((one) => one.name))} />
        ))}
      </ul>
      {steps.length > 0 && (
        <details class="fold" data-testid="formula-steps">
          <summary>{`${w.after}: ${steps.map((it) => it.name).join(", ")}`}</summary>
          <ol>
            {steps.map((it, n) => (
              <li key={n}>
                {`${n + 1}. ${it.name}`} <span class="soft">{[it.limits, it.with && words.process.with(it.with)].filter(Boolean).join("; ")}</span>
              </li>
            ))}
          </ol>
        </details>
      )}
      <DryIcePanel formula={formula.id} batch_g={batch_g} />
    </section>
  );
}
