// A weighing plan before its batch: what it comes to, what it cannot do well enough, and all of it in order.

import { before } from "../core/before.ts";
import type { Formula, Plan } from "../core/frames.ts";
import { inOrder } from "../core/plan.ts";
import { words } from "../core/words.ts";
import { Said } from "./said.tsx";
import { Shape } from "./shapes.tsx";
import { scales } from "./store.ts";

const w = words.planned;

export function Planned({ plan, formula }: { plan: Plan; formula: Formula }) {
  const name = (n: number) => formula.additions.find((it) => it.n === n)?.name ?? "";
  return (
    <div class="planned" data-testid="planned">
      <p>{w.moves(plan.moves, plan.weighings.length)}</p>
      {(plan.left_out ?? []).length > 0 && (
        <p class="warning">
          <Shape name="lost" />
          {w.leftOut(plan.left_out!)}
        </p>
      )}
      {plan.shortfalls.map((it) => (
        <p class="warning" key={it.addition}>
          <Shape name="warn" />
          <Said text={w.short(it)} />
        </p>
      ))}
      {plan.premixes.map((it) => (
        <p class="note" key={it.premix}>
          {w.premix(it, name)}
        </p>
      ))}
      <details class="fold">
        <summary>{before.every}</summary>
        <ol>
          {inOrder(plan).map((it) => (
            <li key={it.n} class={it.weighing ? "pours" : "moves"} data-fit={it.weighing?.fit ?? true}>
              <span>
                {it.weighing && !it.weighing.fit && <Shape name="warn" />}
                {it.text}
              </span>
              {it.weighing && (
                <small>
                  {words.weigh.between(it.weighing.low_g, it.weighing.high_g, scales.value[it.weighing.scale]?.interval_g ?? null)}
                </small>
              )}
            </li>
          ))}
        </ol>
      </details>
    </div>
  );
}
