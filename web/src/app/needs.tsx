// What goes into a batch at its size, and out of which lots: said before it is started, not in mid-pour.

import { before as w, type Need, type Stock } from "../core/before.ts";
import type { Formula } from "../core/frames.ts";
import { massWithUnit } from "../core/numbers.ts";
import { to } from "../core/routes.ts";
import { words } from "../core/words.ts";
import { Said } from "./said.tsx";
import { Shape } from "./shapes.tsx";

/** One thing that is not as it should be with the stock of an addition. */
function Not({ children }: { children: string }) {
  return (
    <small class="warning">
      <Shape name="warn" />
      {children}
    </small>
  );
}

interface RowProps {
  it: Need;
  booked: boolean;
  by: boolean;
  interval: string | null;
}

function Row({ it, booked, by, interval }: RowProps) {
  const from = booked && it.stock === "not booked" ? w.notBooked : w.from(it);
  const more = it.stock === "short" || (it.aside ?? []).length > 0;
  return (
    <>
      <tr class={more ? "has-more" : undefined} data-stock={it.stock}>
        <td>{it.n}</td>
        <th scope="row">
          {it.name}
          {by && <small>{words.vessels.marked}</small>}
          {from && <small>{from}</small>}
        </th>
        <td class="mass">
          {massWithUnit(it.target_g)}
          <small>{words.weigh.between(it.low_g, it.high_g, interval)}</small>
        </td>
      </tr>
      {more && (
        <tr class="stock">
          <td />
          <td colSpan={2}>
            {it.stock === "short" && <Not>{w.missing(it)}</Not>}
            {(it.aside ?? []).map((one) => (
              <Not key={one.lot}>{w.aside(one)}</Not>
            ))}
          </td>
        </tr>
      )}
    </>
  );
}

/** Before the station has told of the stock: the amounts alone. */
const bare = (formula: Formula): Need[] => formula.additions.map((it) => ({ ...it, stock: "not booked" as const }));

interface Props {
  formula: Formula;
  stock: Stock | null;
  trouble: string;
  interval: string | null;
}

export function Needs({ formula, stock, trouble, interval }: Props) {
  const needs = stock?.needs ?? bare(formula);
  const booked = needs.some((it) => it.stock !== "not booked");
  const short = needs.filter((it) => it.stock === "short").length;
  const outOf = (n: number) => formula.additions.find((it) => it.n === n)?.method === "by difference";
  return (
    <section class="needs" data-testid="needs">
      <header>
        <h2>{w.needs}</h2>
        {booked && short === 0 && needs.every((it) => it.stock === "there") && (
          <p class="well">
            <Shape name="good" />
            {w.inStock}
          </p>
        )}
        {short > 0 && (
          <p class="warning">
            <Shape name="warn" />
            {w.shortOf(short)}
          </p>
        )}
      </header>
      {trouble && (
        <p class="hint">
          <Said text={trouble} />
        </p>
      )}
      <table class="plan">
        <thead class="visually-hidden">
          <tr>
            <th scope="col" colSpan={2}>
              {words.weigh.additions}
            </th>
            <th scope="col">{words.start.target}</th>
          </tr>
        </thead>
        <tbody>
          {needs.map((it) => (
            <Row key={it.n} it={it} booked={booked} by={outOf(it.n)} interval={interval} />
          ))}
        </tbody>
      </table>
      {short > 0 && (
        <a class="plain" href={to.receive()}>
          {w.booking}
        </a>
      )}
    </section>
  );
}
