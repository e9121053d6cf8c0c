// Both freezing curves in one plot, told apart by stroke, mark and word.

import { mixes } from "../core/mix.ts";
import { type Compared, curves, revisions as w } from "../core/revisions.ts";

const [W, H, COLDEST] = [320, 150, -18];
/** Labels at the ends of two lines stand so far apart at least. */
const APART = 17;

type Points = { at: number; ice: number }[];

const x = (c: number) => (c / COLDEST) * W;
const y = (ice: number) => H - (ice / 100) * H;
const line = (points: Points) => points.map((p) => `${x(p.at).toFixed(1)},${y(p.ice).toFixed(1)}`).join(" ");
const said = (points: Points) => points.map((p) => mixes.ice(p.ice.toFixed(0), String(p.at))).join(", ") || "\u2013";

export function Curves({ it }: { it: Compared }) {
  const { then, now } = curves(it);
  if (then.length === 0 && now.length === 0) return null;
  const ends = [then, now].map((one) => (one.length ? y(one.at(-1)!.ice) : 0));
  const [first, second] = ends as [number, number];
  // Where both end close to each other their words give way, each to its own side.
  const push = Math.max(0, APART - Math.abs(first - second)) / 2;
  const labels = first <= second ? [first - push, second + push] : [first + push, second - push];
  return (
    <figure class="curves">
      <svg class="curve" viewBox={`-8 -14 ${W + 92} ${H + 40}`} role="img" aria-label={w.curve(said(then), said(now))}>
        <line x1="0" y1={H} x2={W} y2={H} />
        <line x1="0" y1={y(50)} x2={W} y2={y(50)} class="half" />
        {[0, -6, -12, -18].map((c) => (
          <text key={c} x={x(c)} y={H + 20} text-anchor={c === 0 ? "start" : "middle"}>
            {mixes.axis.at(String(c))}
          </text>
        ))}
        {then.length > 0 && (
          <g class="curve-then">
            <polyline points={line(then)} />
            <rect x={x(then.at(-1)!.at) - 4.5} y={first - 4.5} width="9" height="9" />
            <text x={x(then.at(-1)!.at) + 10} y={labels[0]! + 4}>
              {`${w.before} ${then.at(-1)!.ice.toFixed(0)}\u00a0%`}
            </text>
          </g>
        )}
        {now.length > 0 && (
          <g>
            <polyline points={line(now)} />
            <circle cx={x(now.at(-1)!.at)} cy={second} r="4.5" />
            <text x={x(now.at(-1)!.at) + 10} y={labels[1]! + 4} class="curve-now">
              {`${w.after} ${now.at(-1)!.ice.toFixed(0)}\u00a0%`}
            </text>
          </g>
        )}
      </svg>
      <figcaption class="soft">{mixes.curve}</figcaption>
    </figure>
  );
}
