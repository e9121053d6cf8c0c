// What a formula's mix is and how it freezes: on its sheet before a batch, and beside a draft of it.

import { before, CURVE } from "../core/before.ts";
import { call, type Limit, mixes, type Mix, parted, tenth } from "../core/mix.ts";
import { number } from "../core/numbers.ts";
import { useAsked } from "./ask.ts";
import { FreezingCurve } from "./curve.tsx";
import { Said } from "./said.tsx";
import { Shape } from "./shapes.tsx";

/** How the whole stands to what is usual for its kind, in a line. */
function Standing({ it }: { it: Mix }) {
  if (it.limits.length === 0) return it.class ? null : <p class="soft">{before.noKind}</p>;
  if (it.limits.some((each) => each.standing === "outside")) {
    return (
      <p class="warning">
        <Shape name="warn" />
        {before.off(it)}
      </p>
    );
  }
  if (it.limits.every((each) => each.standing !== "inside")) return <p class="hint">{before.notTold}</p>;
  return (
    <p class="well">
      <Shape name="good" />
      {before.kept(it)}
    </p>
  );
}

/** Where a value lies to its limits: the zone is what is usual. */
function Track({ it }: { it: Limit }) {
  if (it.value === null) return null;
  const [value, min, max] = [it.value.value, it.min, it.max].map((one) => (one === null ? null : Number(one)));
  const ends = [value!, min ?? max!, max ?? min!];
  const room = Math.max(Math.max(...ends) - Math.min(...ends), 0.0001) * 0.3;
  const [low, high] = [Math.min(...ends) - room, Math.max(...ends) + room];
  const x = (one: number) => ((one - low) / (high - low)) * 100;
  const [from, to] = [min === null ? 0 : x(min!), max === null ? 100 : x(max!)];
  return (
    <svg class="track" viewBox="0 0 100 12" preserveAspectRatio="none" aria-hidden="true">
      <rect class="room" width="100" height="12" />
      <rect class="zone" x={from.toFixed(1)} width={(to - from).toFixed(1)} height="12" />
      <rect class="post" x={(x(value!) - 1).toFixed(1)} width="2" height="12" />
    </svg>
  );
}

function Limits({ it }: { it: Mix }) {
  return (
    <ul class="limits-kept">
      {it.limits.map((each) => (
        <li key={`${each.class}${each.of.join()}${each.unit}`} data-standing={each.standing}>
          <span>{call(each.of)}</span>
          <b>{each.value === null ? "" : `${number(tenth(each.value.value))}\u00a0${each.unit}`}</b>
          <Track it={each} />
          <small>
            {before.usual(each)}; {before.standing[each.standing] ?? each.standing}
          </small>
        </li>
      ))}
    </ul>
  );
}

/** What is known of a mix: how it stands, its chief figures, its curve; all the rest folds. */
export function MixFigures({ it }: { it: Mix }) {
  const outside = it.limits.filter((each) => each.standing === "outside");
  const missing = mixes.missing(it);
  const { chief, rest } = parted(it);
  return (
    <>
      <Standing it={it} />
      {outside.map((each) => (
        <p class="outside" key={`${each.class}${each.of.join()}`}>
          {mixes.outside(each)}
        </p>
      ))}
      <dl class="chief">
        {chief.map(([name, value]) => (
          <div key={name}>
            <dt>{name}</dt>
            <dd>{value}</dd>
          </div>
        ))}
      </dl>
      <FreezingCurve it={it} />
      {missing && <p class="hint">{missing}</p>}
      <details class="fold">
        <summary>{before.figures}</summary>
        <dl class="facts">
          {rest.map(([name, value]) => (
            <div key={name}>
              <dt>{name}</dt>
              <dd>{value}</dd>
            </div>
          ))}
        </dl>
        <Limits it={it} />
        <p class="soft">
          <Said text={mixes.method(it)} />
        </p>
      </details>
    </>
  );
}

/** What a formula comes out as, with points of its curve close enough to draw. */
export function useMix(formula: string) {
  return useAsked<Mix>(`api/formulas/${encodeURIComponent(formula)}/composition?at=${CURVE}`);
}
