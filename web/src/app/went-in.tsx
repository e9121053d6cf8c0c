// What went into a batch beside what was planned, one line an addition.

import { after } from "../core/after.ts";
import type { Addition } from "../core/frames.ts";
import { massWithUnit, signedWithUnit } from "../core/numbers.ts";
import { words } from "../core/words.ts";
import { Shape, verdictShape, verdictTone } from "./shapes.tsx";

const { cols } = after;

export function WentIn({ additions }: { additions: readonly Addition[] }) {
  return (
    <table class="went-in" data-testid="went-in">
      <caption>{after.went}</caption>
      <thead>
        <tr>
          <th scope="col">{cols.name}</th>
          <th scope="col" class="mass">
            {cols.planned}
          </th>
          <th scope="col" class="mass">
            {cols.weighed}
          </th>
          <th scope="col" class="mass">
            {cols.off}
          </th>
        </tr>
      </thead>
      <tbody>
        {additions.map((it) => (
          <tr key={it.n} data-tone={verdictTone(it.verdict ?? "")}>
            <th scope="row">
              <Shape name={verdictShape(it.verdict ?? "")} />
              <span>
                {words.planned.called(it.name, it.step)}
                <small>
                  {words.verdict(it.verdict ?? "")}
                  {it.reason ? `: ${it.reason}` : ""}
                </small>
              </span>
            </th>
            <td class="mass" data-col={cols.planned}>
              {massWithUnit(it.target_g)}
            </td>
            <td class="mass weighed" data-col={cols.weighed}>
              {massWithUnit(it.net_g)}
            </td>
            <td class="mass" data-col={cols.off}>
              {signedWithUnit(it.deviation_g)}
            </td>
          </tr>
        ))}
      </tbody>
    </table>
  );
}
