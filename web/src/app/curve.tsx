// How much of a mix is ice at each temperature: drawn, said in a sentence for where it is served, and as a table.

import { before, iceAt } from "../core/before.ts";
import { across, COLD, drawn, ROOM, rows, SHARES, up } from "../core/curve.ts";
import { celsius, type Mix, tenth } from "../core/mix.ts";
import { number } from "../core/numbers.ts";
import { ServedAt, useServed } from "./served-at.tsx";

const w = before.curve;

function said(it: Mix, served: string): string {
  const here = iceAt(it, served);
  if (!here) return w.unknown(served);
  if (here.frozen_percent === null) return here.more_than_percent ? w.moreThan(served, here.more_than_percent) : w.unknown(served);
  if (here.at_most_percent === null) return w.unknown(served);
  if (here.frozen_percent !== here.at_most_percent) return w.range(served, here.frozen_percent, here.at_most_percent);
  return w.at(served, here.frozen_percent);
}

const [BOTTOM, END] = [up(0), across(-20)];

/** Shares of ice up the side, temperatures below. */
export function Axes() {
  return (
    <>
      {SHARES.map((share) => (
        <g key={share}>
          <line class={share === 0 ? "axis" : "grid"} x1={ROOM.left} x2={END} y1={up(share)} y2={up(share)} />
          <text x={ROOM.left - 6} y={up(share) + 4.5} text-anchor="end">
            {share}
          </text>
        </g>
      ))}
      {COLD.map((c) => (
        <g key={c}>
          <line class="tick" x1={across(c)} x2={across(c)} y1={BOTTOM} y2={BOTTOM + 4} />
          <text x={across(c)} y={BOTTOM + 18} text-anchor={c === -20 ? "end" : "middle"}>
            {c === -20 ? celsius("-20") : number(String(c))}
          </text>
        </g>
      ))}
      <text x={ROOM.left + 6} y={up(100) + 14} class="axis-name">
        {`%\u00a0${w.y}`}
      </text>
    </>
  );
}

function Drawing({ it, served }: { it: Mix; served: string }) {
  const plot = drawn(it, served);
  if (plot === null) return null;
  return (
    <svg class="curve" viewBox={`0 0 ${ROOM.wide} ${ROOM.high}`} role="img" aria-label={`${w.title}: ${said(it, served)}`}>
      <Axes />
      {plot.band && <path class="band" d={plot.band} />}
      {plot.area && <path class="area" d={plot.area} />}
      {plot.line && <path class="line" d={plot.line} />}
      {plot.mark && (
        <g class="mark">
          <line x1={plot.mark.x} x2={plot.mark.x} y1={BOTTOM} y2={plot.mark.y} />
          <line x1={ROOM.left} x2={plot.mark.x} y1={plot.mark.y} y2={plot.mark.y} />
          <circle cx={plot.mark.x} cy={plot.mark.y} r="6" />
        </g>
      )}
    </svg>
  );
}

/** The curve with the temperature that it is served at, which is remembered on this device. */
export function FreezingCurve({ it }: { it: Mix }) {
  const [served, serve] = useServed();
  const told = rows(it);
  if (drawn(it, served) === null && told.length === 0) return <p class="hint">{w.none}</p>;
  return (
    <figure class="freezing" data-testid="freezing">
      <figcaption>{w.title}</figcaption>
      <Drawing it={it} served={served} />
      <div class="served-at">
        <ServedAt served={served} serve={serve} />
        <p role="status">{said(it, served)}</p>
      </div>
      {told.length > 0 && (
        <details class="fold">
          <summary>{w.table}</summary>
          <table>
            <thead>
              <tr>
                <th scope="col">{w.cols.at}</th>
                <th scope="col" class="mass">
                  {w.cols.ice}
                </th>
              </tr>
            </thead>
            <tbody>
              {told.map((one) => (
                <tr key={one.at}>
                  <th scope="row">{celsius(one.at)}</th>
                  <td class="mass">{one.low === one.high ? number(tenth(one.low)) : `${number(tenth(one.low))}\u2013${number(tenth(one.high))}`}{"\u00a0%"}</td>
                </tr>
              ))}
            </tbody>
          </table>
        </details>
      )}
    </figure>
  );
}
