// How well things are weighed across batches: a list, and one of them with its chart.

import { massWithUnit, signed, when } from "../core/numbers.ts";
import { to } from "../core/routes.ts";
import { BYS, height, reachOf, standing, trends as w, type By, type Detail, type Group } from "../core/trends.ts";
import { type FunctionComponent } from "preact";
import { useEffect, useState } from "preact/hooks";
import { words } from "../core/words.ts";
import { states } from "../core/states.ts";
import { ON_RETURN, useAsked } from "./ask.ts";
import { Shape } from "./shapes.tsx";
import { Nothing, Trouble } from "./trouble.tsx";

const [WIDE, HIGH, EDGE] = [960, 320, 26];

/** Silhouette and word of how steady something is. */
function Steady({ it }: { it: Group }) {
  const [shape, said] =
    it.steady === null ? (["waiting", w.steady.unknown] as const) : it.steady ? (["good", w.steady.yes] as const) : (["disturbed", w.steady.no] as const);
  return (
    <span class="trend-steady" data-steady={String(it.steady)}>
      <Shape name={shape} />
      {said}
    </span>
  );
}

function Row({ it }: { it: Group }) {
  return (
    <li>
      <a class="trend-row" href={to.trend(it.by, it.key)} data-key={it.key}>
        <b>{it.name}</b>
        <Steady it={it} />
        <span class="soft">{w.weighings(it.n)}</span>
        <span>
          {w.facts.bias} {w.bias(it.bias_percent)}
        </span>
        {standing(it.signals, 1).map((one) => (
          <span class="trend-signal" key={one.at}>
            {w.signal(one, it.n)}
          </span>
        ))}
      </a>
    </li>
  );
}

export function Trends({ by }: { by: By }) {
  const asked = useAsked<{ groups: Group[] }>(`api/trends?by=${by}`, ON_RETURN);
  const groups = asked.value?.groups ?? null;
  if (groups === null) return <Trouble title={w.title} asked={asked} />;
  return (
    <main class="page trends">
      <h1>{w.title}</h1>
      <p class="note">{w.lead}</p>
      <nav class="trend-by" aria-label={w.byLabel}>
        {BYS.map((one) => (
          <a key={one} class="choice" href={to.trends(one)} aria-current={one === by ? "true" : undefined}>
            {w.by[one]}
          </a>
        ))}
      </nav>
      {groups.length === 0 && (
        <Nothing text={w.none} more={states.trends}>
          <a class="solid" href={to.start()}>
            {states.weigh}
          </a>
        </Nothing>
      )}
      <ul class="trend-list">
        {groups.map((it) => (
          <Row key={it.key} it={it} />
        ))}
      </ul>
    </main>
  );
}

/** Points up or down from the edge: the value lies further out. */
const arrow = (x: number, y: number, size: number, way: number) =>
  `M${x} ${y}L${x - size * 1.4} ${y + way * size * 2.2}H${x + size * 1.4}Z`;

function Chart({ it }: { it: Detail }) {
  const reach = reachOf(it);
  const out = new Set(it.signals.map((one) => one.at));
  const y = (share: number) => height(share, reach) * HIGH;
  const x = (n: number) => (it.points.length === 1 ? WIDE / 2 : EDGE + (n / (it.points.length - 1)) * (WIDE - 2 * EDGE));
  const size = it.points.length > 120 ? 3 : 7;
  return (
    <svg viewBox={`0 0 ${WIDE} ${HIGH}`} role="img" aria-label={w.chart(it.name, it.n)} data-testid="trend-chart">
      <rect x="0" width={WIDE} y={y(1)} height={y(-1) - y(1)} class="plot-allowed" />
      <path d={`M0 ${y(0)}H${WIDE}`} class="plot-zero" />
      {it.chart && (
        <>
          <path d={`M0 ${y(it.chart.low)}H${WIDE}M0 ${y(it.chart.high)}H${WIDE}`} class="plot-limit" />
          <path d={`M0 ${y(it.chart.centre)}H${WIDE}`} class="trend-centre" />
        </>
      )}
      <polyline class="plot-line" points={it.points.map((p, n) => `${x(n)},${y(p.share)}`).join(" ")} />
      {it.points.map((p, n) => (
        <g class="plot-dot" key={p.seq} data-out={out.has(n)}>
          <line x1={x(n)} x2={x(n)} y1={y(p.share - p.sure)} y2={y(p.share + p.sure)} class="plot-sure" />
          {Math.abs(p.share) > reach ? (
            <path d={arrow(x(n), y(p.share), size, Math.sign(p.share))} class="trend-far" />
          ) : p.verdict === "on target" ? (
            <circle cx={x(n)} cy={y(p.share)} r={size} />
          ) : (
            <path d={`M${x(n) - size} ${y(p.share) - size}l${2 * size} ${2 * size}m0-${2 * size}l-${2 * size} ${2 * size}`} class="plot-cross" />
          )}
          {out.has(n) && <circle cx={x(n)} cy={y(p.share)} r={size + 6} class="trend-ring" />}
        </g>
      ))}
    </svg>
  );
}

/** The charts that can be read by pointing; the plain one until they are there, and on paper. */
function Plots({ it }: { it: Detail }) {
  const [Fine, bring] = useState<FunctionComponent<{ it: Detail }> | null>(null);
  useEffect(() => {
    let mine = true;
    void import("./trend-plot.tsx").then(
      (come) => mine && bring(() => come.default),
      () => undefined, // the plain one stays
    );
    return () => {
      mine = false;
    };
  }, []);
  if (Fine === null) return <Chart it={it} />;
  return (
    <>
      <Fine it={it} />
      <div class="print-only">
        <Chart it={it} />
      </div>
    </>
  );
}

function Legend({ far }: { far: boolean }) {
  const dot = "M10 3a7 7 0 1 0 0 14 7 7 0 0 0 0-14z";
  const marks = [
    [<rect x="0" y="2" width="20" height="16" class="plot-allowed" />, w.legend.allowed],
    [<path d="M0 10H20" class="plot-limit" />, w.legend.usual],
    [<g class="plot-dot"><circle cx="10" cy="10" r="6" /></g>, w.legend.good],
    [<path d="M4 4l12 12m0-12L4 16" class="plot-cross" />, w.legend.bad],
    [<path d={dot} class="trend-ring" />, w.legend.out],
    ...(far ? [[<path d={arrow(10, 3, 6, 1)} class="trend-far" />, w.legend.far] as const] : []),
  ] as const;
  return (
    <ul class="trend-legend soft">
      {marks.map(([mark, said]) => (
        <li key={said}>
          <svg viewBox="0 0 20 20" aria-hidden="true">
            {mark}
          </svg>
          {said}
        </li>
      ))}
    </ul>
  );
}

export function Trend({ by, of }: { by: By; of: string }) {
  const asked = useAsked<Detail>(`api/trends/${by}/${encodeURIComponent(of)}`);
  const it = asked.value;
  if (it === null) return <Trouble title={w.title} asked={asked} back={{ at: to.trends(by), name: w.back }} />;
  const facts: [string, string][] = [
    [w.facts.bias, w.bias(it.bias_percent)],
    [w.facts.room, w.room(it.capability)],
    [w.facts.over, w.over(it.over_g, it.over_cost)],
    [w.facts.out, w.out(it.out_of_tolerance, it.n)],
    [w.facts.scale, w.sure(it.sure_share)],
  ];
  return (
    <main class="page trends">
      <header class="trend-head">
        <a class="plain" href={to.trends(by)}>
          {w.back}
        </a>
        <h1>{it.name}</h1>
        <Steady it={it} />
      </header>
      <figure class="plot">
        <Plots it={it} />
        <p class="plot-times soft">
          <span>{when(it.since)}</span>
          <span>{when(it.until)}</span>
        </p>
        <Legend far={it.points.some((p) => Math.abs(p.share) > reachOf(it))} />
      </figure>
      {it.signals.length > 0 && (
        <ul class="trend-signals">
          {standing(it.signals).map((one) => (
            <li key={`${one.rule}-${one.at}`}>
              <Shape name="warn" />
              {w.signal(one, it.n)}
            </li>
          ))}
        </ul>
      )}
      <dl class="trend-facts">
        {facts.map(([name, said]) => (
          <div key={name}>
            <dt>{name.replace(/:$/, "")}</dt>
            <dd>{said}</dd>
          </div>
        ))}
      </dl>
      <p class="note soft">{w.roomNote}</p>
      {it.few && <p class="note">{w.few}</p>}
      <details class="trend-all">
        <summary>{w.list}</summary>
        <table>
          <thead>
            <tr>
              {Object.values(w.columns).map((one) => (
                <th key={one}>{one}</th>
              ))}
            </tr>
          </thead>
          <tbody>
            {[...it.points].reverse().map((p) => (
              <tr key={p.seq}>
                <td>{when(p.at)}</td>
                <td>
                  <a href={to.record(p.batch)}>{p.batch}</a>
                </td>
                <td>{massWithUnit(p.target_g)}</td>
                <td>{massWithUnit(p.net_g)}</td>
                <td>{signed(p.off_g)}</td>
                <td>{words.verdict(p.verdict)}</td>
              </tr>
            ))}
          </tbody>
        </table>
      </details>
    </main>
  );
}
