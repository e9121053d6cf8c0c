// Both freezing curves in one plot, told apart by stroke, mark and word.

import { before, iceAt } from "../core/before.ts";
import { across, COLDEST, drawn, ROOM, up } from "../core/curve.ts";
import { type Mix, points } from "../core/mix.ts";
import { type Compared, revisions as w } from "../core/revisions.ts";
import { Axes } from "./curve.tsx";

/** Labels at the ends of two lines stand so far apart at least. */
const APART = 17;
/** Room beside the axes for those labels. */
const MORE = 70;
/** Where both are told to who cannot see the plot. */
const TOLD = ["-6", "-12"];

function side(freezing: Mix["freezing"]) {
  const mix = { freezing } as Mix;
  const end = points(mix).filter((one) => one.at >= COLDEST).at(-1);
  const said = TOLD.map((at) => before.curve.at(at, iceAt(mix, at)?.frozen_percent ?? "")).filter((_, n) => iceAt(mix, TOLD[n]!)?.frozen_percent);
  return { plot: drawn(mix, ""), end, y: end ? up(end.ice) : 0, said: said.join(" ") || before.curve.none };
}

export function Curves({ it }: { it: Compared }) {
  const [then, now] = [side(it.freezing.then), side(it.freezing.now)];
  if (!then.plot?.line && !now.plot?.line) return <p class="hint">{before.curve.none}</p>;
  // Where both end close to each other their words give way, each to its own side.
  const push = then.end && now.end ? Math.max(0, APART - Math.abs(then.y - now.y)) / 2 : 0;
  const away = then.y <= now.y ? -push : push;
  return (
    <figure class="curves">
      <figcaption>{before.curve.title}</figcaption>
      <svg class="curve" viewBox={`0 0 ${ROOM.wide + MORE} ${ROOM.high}`} role="img" aria-label={w.curve(then.said, now.said)}>
        <Axes />
        {then.plot?.line && then.end && (
          <g class="curve-then">
            <path class="line" d={then.plot.line} />
            <rect x={across(then.end.at) - 4.5} y={then.y - 4.5} width="9" height="9" />
            <text x={across(then.end.at) + 10} y={then.y + away + 4}>
              {w.before}
            </text>
          </g>
        )}
        {now.plot?.line && now.end && (
          <g class="curve-now">
            <path class="line" d={now.plot.line} />
            <circle cx={across(now.end.at)} cy={now.y} r="4.5" />
            <text x={across(now.end.at) + 10} y={now.y - away + 4}>
              {w.after}
            </text>
          </g>
        )}
      </svg>
    </figure>
  );
}
