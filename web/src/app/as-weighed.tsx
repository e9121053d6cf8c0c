// A batch as weighed beside its plan: on its record, and after the last addition.

import { type AsWeighed, asWeighed } from "../core/as-weighed.ts";
import { useAsked, useNewest } from "./ask.ts";
import { Shape } from "./shapes.tsx";
import { Said } from "./said.tsx";
import { ServedAt, useServed } from "./served-at.tsx";
import { Broken, broken } from "./trouble.tsx";

const w = asWeighed;

/** What was said of each row, told without colour: a word, and a mark before it. */
const MARKS = { same: "=", more: "\u25b2", less: "\u25bc", unknown: "?" } as const;

export function AsWeighedOf({ batch, open }: { batch: string; open?: boolean }) {
  const [served, serve] = useServed();
  const asked = useAsked<AsWeighed>(`api/batches/${encodeURIComponent(batch)}/composition?at=${encodeURIComponent(served)}`);
  const { value: it } = useNewest(asked, batch); // asked anew, it stays as it was until then
  if (it === null) return broken(asked) ? <Broken title={w.title} asked={asked} /> : null;
  const missing = w.missing(it);
  return (
    <details class="as-weighed mix" data-testid="as-weighed" open={open}>
      <summary>{w.title}</summary>
      <p>{w.state(it)}</p>
      <table>
        <thead>
          <tr>
            <th scope="col">{w.cols.of}</th>
            <th scope="col">{w.cols.planned}</th>
            <th scope="col">{w.cols.weighed}</th>
            <th scope="col">{w.cols.change}</th>
          </tr>
        </thead>
        <tbody>
          {w.rows(it).map((row) => (
            <tr key={row.key} data-told={row.mark}>
              <th scope="row">{row.name}</th>
              <td data-col={w.cols.planned}>{row.planned}</td>
              <td data-col={w.cols.weighed}>{row.weighed}</td>
              <td class="change">
                <b>{row.change}</b> <small>{row.doubt}</small>
                <span class="told">
                  <i aria-hidden="true">{MARKS[row.mark]}</i> {row.told}
                </span>
              </td>
            </tr>
          ))}
        </tbody>
      </table>
      <ServedAt served={served} serve={serve} more="served no-print" />
      {w.limits(it).map((one) => (
        <p class={one.outside ? "warning" : "hint"} key={one.key}>
          {one.outside && <Shape name="warn" />}
          <Said text={one.text} />
        </p>
      ))}
      {missing && <p class="hint">{missing}</p>}
      <p class="soft">{w.doubt(it)}</p>
      <p class="soft">
        {w.prices(it)} <Said text={w.method(it)} />
      </p>
    </details>
  );
}
