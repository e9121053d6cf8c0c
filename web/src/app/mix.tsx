// What a formula's mix is and how it freezes, on its sheet before a batch.

import { mixes, type Mix, points } from "../core/mix.ts";
import { useAsked } from "./ask.ts";
import { Shape } from "./shapes.tsx";
import { Said } from "./said.tsx";

const W = 320;
const H = 120;
const COLDEST = -18;

/** The freezing curve, drawn as far as the method reaches. */
function Curve({ it }: { it: Mix }) {
  const known = points(it);
  if (known.length < 3) return null;
  const x = (c: number) => (c / COLDEST) * W;
  const y = (ice: number) => H - (ice / 100) * H;
  const line = known.map((p) => `${x(p.at).toFixed(1)},${y(p.ice).toFixed(1)}`).join(" ");
  const last = known.at(-1)!;
  return (
    <svg class="curve" viewBox={`-8 -14 ${W + 56} ${H + 40}`} role="img" aria-label={mixes.curve}>
      <line x1="0" y1={H} x2={W} y2={H} />
      <line x1="0" y1={y(50)} x2={W} y2={y(50)} class="half" />
      {[0, -6, -12, -18].map((c) => (
        <text key={c} x={x(c)} y={H + 20} text-anchor={c === 0 ? "start" : "middle"}>
          {mixes.axis.at(String(c))}
        </text>
      ))}
      <polyline points={line} />
      <circle cx={x(last.at)} cy={y(last.ice)} r="4" />
      <text x={x(last.at) + 8} y={y(last.ice) + 4}>
        {`${last.ice.toFixed(0)}\u00a0% ${mixes.axis.ice}`}
      </text>
    </svg>
  );
}

/** What is known of a mix: figures, curve, and what lies outside the limits. */
export function MixFigures({ it }: { it: Mix }) {
  const outside = it.limits.filter((each) => each.standing === "outside");
  const missing = mixes.missing(it);
  return (
    <>
      <dl class="facts">
        {mixes.rows(it).map(([name, value]) => (
          <div key={name}>
            <dt>{name}</dt>
            <dd>{value}</dd>
          </div>
        ))}
      </dl>
      <Curve it={it} />
      {outside.map((each) => (
        <p class="warning" key={`${each.class}${each.of.join()}`}>
          <Shape name="warn" />
          {mixes.outside(each)}
        </p>
      ))}
      {missing && <p class="hint">{missing}</p>}
      <p class="soft"><Said text={mixes.method(it)} /></p>
    </>
  );
}

/** The composition of a formula at a size; nothing while it is asked for, or where nothing is known. */
export function MixOf({ formula }: { formula: string }) {
  const asked = useAsked<Mix>(`api/formulas/${encodeURIComponent(formula)}/composition`);
  const it = asked.value;
  if (it === null) return null;
  return (
    <details class="mix" data-testid="mix">
      <summary>
        {mixes.title}
        {it.limits.some((each) => each.standing === "outside") && <Shape name="warn" />}
      </summary>
      <MixFigures it={it} />
    </details>
  );
}
