// The charts of one ingredient, scale or person: each value, and how far each stands from the one before it.
// Drawn by uPlot; what it draws is told in words below as the mark moves, and stands in the table.

import { useEffect, useRef, useState } from "preact/hooks";
import uPlot from "uplot";
import "uplot/dist/uPlot.min.css";
import { when } from "../core/numbers.ts";
import { words } from "../core/words.ts";
import { type Detail, held, moves, reachOf, trends as w } from "../core/trends.ts";

type Draw = (u: uPlot) => void;

/** The page's own colours, as they are just now. */
function palette(of: Element): (name: string) => string {
  const style = getComputedStyle(of);
  return (name) => style.getPropertyValue(`--${name}`).trim();
}

function across(u: uPlot, value: number, colour: string, width: number, dash: number[] = []) {
  const y = u.valToPos(value, "y", true);
  u.ctx.save();
  u.ctx.beginPath();
  u.ctx.strokeStyle = colour;
  u.ctx.lineWidth = width * devicePixelRatio;
  u.ctx.setLineDash(dash.map((one) => one * devicePixelRatio));
  u.ctx.moveTo(u.bbox.left, y);
  u.ctx.lineTo(u.bbox.left + u.bbox.width, y);
  u.ctx.stroke();
  u.ctx.restore();
}

/** What is allowed and what is usual, beneath the values. */
function grounds(it: Detail, colour: (name: string) => string): Draw {
  return (u) => {
    const [top, foot] = [u.valToPos(1, "y", true), u.valToPos(-1, "y", true)];
    u.ctx.save();
    u.ctx.globalAlpha = 0.14;
    u.ctx.fillStyle = colour("good");
    u.ctx.fillRect(u.bbox.left, top, u.bbox.width, foot - top);
    u.ctx.restore();
    across(u, 0, colour("line"), 1);
    if (!it.chart) return;
    across(u, it.chart.low, colour("soft"), 2, [8, 6]);
    across(u, it.chart.high, colour("soft"), 2, [8, 6]);
    across(u, it.chart.centre, colour("ink"), 2.5);
  };
}

/** Each value with the scale's doubt: a disc, a cross where it was not on target, an arrow where it lies further out than is shown, a ring where it stands out. */
function values(it: Detail, reach: number, colour: (name: string) => string): Draw {
  const out = new Set(it.signals.map((one) => one.at));
  return (u) => {
    const px = devicePixelRatio;
    const shown = Math.max(1, u.scales["x"]!.max! - u.scales["x"]!.min!);
    const size = Math.min(7, Math.max(2.5, u.bbox.width / px / shown / 3)) * px;
    const { ctx } = u;
    ctx.save();
    ctx.rect(u.bbox.left, u.bbox.top, u.bbox.width, u.bbox.height);
    ctx.clip();
    it.points.forEach((p, n) => {
      const x = u.valToPos(n, "x", true);
      const at = (share: number) => u.valToPos(held(share, reach), "y", true);
      const y = at(p.share);
      ctx.beginPath();
      ctx.lineWidth = 2 * px;
      ctx.strokeStyle = colour("soft");
      ctx.moveTo(x, at(p.share - p.sure));
      ctx.lineTo(x, at(p.share + p.sure));
      ctx.stroke();
      ctx.beginPath();
      if (Math.abs(p.share) > reach) {
        // An arrow at the edge: it lies further out than there is room for.
        const out = Math.sign(p.share) * size * 2.2;
        ctx.fillStyle = colour("over");
        ctx.moveTo(x, y);
        ctx.lineTo(x - size * 1.4, y + out);
        ctx.lineTo(x + size * 1.4, y + out);
        ctx.closePath();
        ctx.fill();
      } else if (p.verdict === "on target") {
        ctx.fillStyle = colour("good");
        ctx.arc(x, y, size, 0, 2 * Math.PI);
        ctx.fill();
      } else {
        ctx.strokeStyle = colour("over");
        ctx.lineWidth = Math.max(2.5 * px, size * 0.6);
        ctx.moveTo(x - size, y - size);
        ctx.lineTo(x + size, y + size);
        ctx.moveTo(x + size, y - size);
        ctx.lineTo(x - size, y + size);
        ctx.stroke();
      }
      if (!out.has(n)) return;
      ctx.beginPath();
      ctx.strokeStyle = colour("ink");
      ctx.lineWidth = 2.5 * px;
      ctx.arc(x, y, size + 6 * px, 0, 2 * Math.PI);
      ctx.stroke();
    });
    ctx.restore();
  };
}

interface MakeProps {
  it: Detail;
  box: HTMLElement;
  wide: number;
  high: number;
  colour: (name: string) => string;
  told(n: number | null): void;
}

const PAD = 0.6;

/** Places for the numbers of weighings: the first, and then every fifth, tenth and so on. */
function numbered(min: number, max: number, every: number): number[] {
  const out = min <= 0 ? [0] : [];
  for (let n = Math.ceil((min + 1) / every) * every; n - 1 <= max; n += every) if (n > 1 + every / 2) out.push(n - 1);
  return out;
}

function make(kind: "values" | "moves", { it, box, wide, high, colour, told }: MakeProps): uPlot {
  const reach = reachOf(it);
  const steps = moves(it);
  const data = kind === "values" ? it.points.map((p) => p.share) : steps;
  const most = it.chart ? it.chart.most_range : 0;
  const top = Math.max(most, ...steps.map((one) => one ?? 0), 0.1) * 1.12;
  const small = parseFloat(getComputedStyle(box).fontSize) || 16;
  const font = `${Math.max(12, small * 0.8)}px ${getComputedStyle(box).fontFamily}`;
  const axis = { stroke: colour("soft"), grid: { stroke: colour("hair"), width: 1 }, ticks: { stroke: colour("hair") }, font };
  return new uPlot(
    {
      width: wide,
      height: high,
      legend: { show: false },
      cursor: { sync: { key: "trend", setSeries: false }, points: { show: false }, drag: { x: true, y: false }, y: false },
      scales: {
        x: { time: false, range: (_u, min, max) => [Math.max(-PAD, min - (min <= 0 ? PAD : 0)), max >= it.points.length - 1 ? it.points.length - 1 + PAD : max] },
        y: { range: () => (kind === "values" ? [-reach, reach] : [0, top]) },
      },
      axes: [
        { ...axis, incrs: [1, 2, 5, 10, 20, 50, 100, 200, 500, 1000], splits: (_u, _axis, min, max, every) => numbered(min, max, every), values: (_u, at) => at.map((n) => (it.points[n] ? String(n + 1) : "")), size: 36 },
        { ...axis, size: 64, values: (_u, at) => at.map(w.share) },
      ],
      series: [{}, { stroke: colour("line"), width: 2, points: { show: kind === "moves", size: 8, fill: colour("quiet"), stroke: colour("quiet") }, spanGaps: true }],
      hooks: {
        drawAxes: [
          kind === "values"
            ? grounds(it, colour)
            : (u) => {
                if (!it.chart) return;
                across(u, it.chart.most_range, colour("soft"), 2, [8, 6]);
                across(u, it.chart.mean_range, colour("ink"), 2.5);
              },
        ],
        draw: kind === "values" ? [values(it, reach, colour)] : [],
        setCursor: [(u) => told(u.cursor.idx ?? null)],
      },
    },
    [it.points.map((_, n) => n), data] as uPlot.AlignedData,
    box,
  );
}

export default function TrendPlot({ it }: { it: Detail }) {
  const above = useRef<HTMLDivElement>(null);
  const below = useRef<HTMLDivElement>(null);
  const plots = useRef<uPlot[]>([]);
  const [at, tell] = useState<number | null>(null);

  useEffect(() => {
    const draw = () => {
      for (const one of plots.current) one.destroy();
      const wide = above.current!.clientWidth;
      const high = Math.max(220, Math.min(innerHeight * 0.42, wide * 0.45));
      const colour = palette(above.current!);
      const told = (n: number | null) => tell(n !== null && it.points[n] ? n : null);
      plots.current = [
        make("values", { it, box: above.current!, wide, high, colour, told }),
        make("moves", { it, box: below.current!, wide, high: Math.max(150, high * 0.5), colour, told }),
      ];
    };
    let wide = 0;
    const sized = new ResizeObserver(() => {
      if (above.current && above.current.clientWidth !== wide) {
        wide = above.current.clientWidth;
        draw();
      }
    });
    sized.observe(above.current!);
    const looks = ["(prefers-color-scheme: dark)", "(prefers-contrast: more)", "(forced-colors: active)"].map((one) => matchMedia(one));
    for (const one of looks) one.addEventListener("change", draw);
    return () => {
      sized.disconnect();
      for (const one of looks) one.removeEventListener("change", draw);
      for (const one of plots.current) one.destroy();
      plots.current = [];
    };
  }, [it]);

  /** The mark moved by keys, as a pointer moves it. */
  const move = (event: KeyboardEvent) => {
    const last = it.points.length - 1;
    const now = at ?? (event.key === "ArrowLeft" ? last + 1 : -1);
    const to = { ArrowLeft: now - 1, ArrowRight: now + 1, Home: 0, End: last }[event.key];
    if (to === undefined || event.altKey || event.ctrlKey || event.metaKey) return;
    event.preventDefault();
    const n = Math.max(0, Math.min(last, to));
    const u = plots.current[0]!;
    u.setCursor({ left: u.valToPos(n, "x"), top: u.valToPos(it.points[n]!.share, "y") });
    tell(n);
  };

  const point = at === null ? null : it.points[at]!;
  return (
    <div class="trend-plots" tabIndex={0} role="group" aria-label={w.plots(it.name)} onKeyDown={move} data-testid="trend-plots">
      <h2 class="trend-caption">{w.captions.values}</h2>
      <div ref={above} class="trend-canvas" role="img" aria-label={w.chart(it.name, it.n)} />
      <h2 class="trend-caption">{w.captions.moves}</h2>
      <div ref={below} class="trend-canvas" role="img" aria-label={w.movesChart(it.name)} />
      <output class="trend-told" aria-live="polite">
        {point === null ? w.point.none : w.point.told(at! + 1, it.points.length, when(point.at), words.verdict(point.verdict), point)}
      </output>
    </div>
  );
}
