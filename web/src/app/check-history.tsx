// The checks of a scale that were made: a plot, and a list with everything that was found.

import { REACH, strips, type Dot, type Strip } from "../core/check-plot.ts";
import { checks as w, type Made } from "../core/checks.ts";
import { massWithUnit, signedWithUnit, when } from "../core/numbers.ts";
import { to } from "../core/routes.ts";
import { outcomeShape, outcomeTone, Shape } from "./shapes.tsx";

const [WIDE, HIGH, EDGE] = [640, 96, 24];

function Mark({ dot, y }: { dot: Dot; y: (share: number) => number }) {
  const [x, at] = [EDGE + dot.x * (WIDE - 2 * EDGE), y(dot.share)];
  const [low, high] = [y(Math.max(-REACH, dot.share - dot.sure)), y(Math.min(REACH, dot.share + dot.sure))];
  return (
    <g class="plot-dot" data-outcome={dot.outcome} data-seq={dot.seq}>
      <line x1={x} x2={x} y1={low} y2={high} class="plot-sure" />
      {dot.outcome === "pass" && <circle cx={x} cy={at} r="7" />}
      {dot.outcome === "fail" && <path d={`M${x - 7} ${at - 7}l14 14m0-14l-14 14`} class="plot-cross" />}
      {dot.outcome === "too close to call" && <path d={`M${x} ${at - 9}l9 9-9 9-9-9z`} class="plot-diamond" />}
      {dot.beyond && <path d={`M${x - 6} ${dot.share > 0 ? at + 13 : at - 13}h12`} class="plot-beyond" />}
    </g>
  );
}

function OneStrip({ it }: { it: Strip }) {
  const reach = it.oneSided ? [0, REACH] : [-REACH, REACH];
  const y = (share: number) => HIGH - 8 - ((share - reach[0]!) / (reach[1]! - reach[0]!)) * (HIGH - 16);
  const [top, foot] = [y(1), y(it.oneSided ? 0 : -1)];
  return (
    <figure class="plot-strip">
      <figcaption>
        <b>{it.title}</b> <span class="soft">{it.allowed}</span>
      </figcaption>
      <svg viewBox={`0 0 ${WIDE} ${HIGH}`} role="img" aria-label={`${it.title}, ${it.allowed}`}>
        <rect x="0" width={WIDE} y={top} height={foot - top} class="plot-allowed" />
        <path d={`M0 ${top}H${WIDE}${it.oneSided ? "" : `M0 ${foot}H${WIDE}`}`} class="plot-limit" />
        <path d={`M0 ${y(0)}H${WIDE}`} class="plot-zero" />
        {it.dots.length > 1 && (
          <polyline class="plot-line" points={it.dots.map((d) => `${EDGE + d.x * (WIDE - 2 * EDGE)},${y(d.share)}`).join(" ")} />
        )}
        {it.dots.map((dot) => (
          <Mark key={dot.seq} dot={dot} y={y} />
        ))}
      </svg>
    </figure>
  );
}

/** The plot: a strip for each load, oldest on the left. */
export function Plot({ made }: { made: Made[] }) {
  if (made.length === 0) return null;
  return (
    <section class="plot" aria-label={w.plot} data-testid="plot">
      {strips(made).map((it) => (
        <OneStrip key={it.title} it={it} />
      ))}
      <p class="plot-times soft">
        <span>{made.length > 1 && when(made.at(-1)!.at)}</span>
        <span>{when(made[0]!.at)}</span>
      </p>
    </section>
  );
}

/** Everything that one check found. */
export function Steps({ made }: { made: Made }) {
  return (
    <ul class="check-steps">
      {made.steps
        .filter((it) => it.part !== "repeatability")
        .map((it) => (
          <li key={it.n} data-tone={outcomeTone(it.outcome)}>
            <Shape name={outcomeShape(it.outcome)} />
            <span>{w.step(it)}</span>
            <b>{signedWithUnit(it.error_g)}</b>
            <small>{w.outcome(it.outcome)}, {w.allowed(it.limit_g)}</small>
          </li>
        ))}
      {made.repeatability && (
        <li data-tone={outcomeTone(made.repeatability.outcome)}>
          <Shape name={outcomeShape(made.repeatability.outcome)} />
          <span>{w.repeatability}</span>
          <b>{massWithUnit(made.repeatability.range_g)}</b>
          <small>
            {w.outcome(made.repeatability.outcome)}, {w.repeated(made.repeatability)}
          </small>
        </li>
      )}
    </ul>
  );
}

/** What else there is to know of a check. */
export function Beside({ made }: { made: Made }) {
  return (
    <>
      {made.corners && <p class="soft">{w.cornersApart(made.corners.most_from_centre_g)}</p>}
      {made.left_out.length > 0 && <p class="soft">{w.leftOut(made.left_out)}</p>}
      {made.doubted.map((it) => (
        <p class="warning" key={it.batch}>
          <Shape name="warn" />
          <a href={to.record(it.batch)}>{w.doubted(it)}</a>
        </p>
      ))}
    </>
  );
}

export function History({ made }: { made: Made[] }) {
  return (
    <section class="check-history">
      <h2>{w.history}</h2>
      {made.length === 0 && <p>{w.noHistory}</p>}
      <Plot made={made} />
      <ol class="record-list">
        {made.map((it) => (
          <li key={it.seq}>
            <details class="evidence" data-testid={`check-${it.seq}`}>
              <summary>
                <span class="check-made" data-tone={outcomeTone(it.outcome)}>
                  <Shape name={outcomeShape(it.outcome)} />
                  <b>{w.outcome(it.outcome)}</b>
                </span>
                <span>{when(it.at)}</span>
                <span>{it.by}</span>
              </summary>
              <Steps made={it} />
              <Beside made={it} />
            </details>
          </li>
        ))}
      </ol>
    </section>
  );
}
