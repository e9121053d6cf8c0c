// The revisions of a formula: which there are, and two of them to be chosen.

import { useState } from "preact/hooks";
import { when } from "../core/numbers.ts";
import { choose, type History, inTime, type Revision, revisions as w } from "../core/revisions.ts";
import { to } from "../core/routes.ts";
import { words } from "../core/words.ts";
import { type Asked, useAsked } from "./ask.ts";
import { Said } from "./said.tsx";
import { Shape } from "./shapes.tsx";
import { Nothing, Unanswered } from "./trouble.tsx";

/** Batches that are named at once; the others fold. */
const FEW = 2;

const Made = ({ batch }: { batch: string }) => (
  <a class="plain" href={to.record(batch)}>
    {batch}
  </a>
);

function One({ it, formula, chosen, pick }: { it: Revision; formula: string; chosen: boolean; pick: (() => void) | null }) {
  const What = pick ? "label" : "div"; // of one alone there is nothing to choose
  return (
    <li class="revision" data-revision={it.revision}>
      <What class="choice">
        {pick && <input type="checkbox" name={it.revision} checked={chosen} onChange={pick} />}
        <span>
          <b>
            {it.since ? when(it.since) : it.revision.slice(0, 6)}
            {it.now && <em>{w.now}</em>}
          </b>
          {it.met.slice(0, 1).map((met) => (
            <span key={met.at}>{w.met(met)}</span>
          ))}
          <small class="soft">
            {w.amount({ n: 0, share: "", tolerance: "", target_g: it.batch_g })}, {words.start.additions(it.additions)}, {it.revision.slice(0, 6)}
          </small>
        </span>
      </What>
      <div class="revision-made">
        <p>{w.batches(it.batches.count)}</p>
        {it.batches.newest.slice(0, FEW).map((one) => (
          <Made key={one.batch} batch={one.batch} />
        ))}
        {it.batches.newest.length > FEW && (
          <details class="fold">
            <summary>{w.more(it.batches.count - FEW)}</summary>
            {it.batches.newest.slice(FEW).map((one) => (
              <Made key={one.batch} batch={one.batch} />
            ))}
          </details>
        )}
      </div>
      {!it.now && (
        <a class="plain" href={to.takeUp(formula, it.revision)}>
          {w.again}
        </a>
      )}
    </li>
  );
}

export default function Revisions({ formula }: { formula: string }) {
  const asked = useAsked<History>(`api/formulas/${encodeURIComponent(formula)}/revisions`);
  const [picked, pick] = useState<string[] | null>(null);
  const it = asked.value;
  if (it === null) return <Asking title={w.title} asked={asked} />;
  // The present one and the one before it, until somebody chooses.
  const chosen = picked ?? it.revisions.slice(0, 2).map((one) => one.revision);
  const [then, now] = inTime(it, chosen);
  const ready = then !== undefined && now !== undefined;
  return (
    <section class="revisions" data-testid="revisions">
      <header class="pantry-head">
        <h1>
          <small>{w.title}</small>
          {it.name}
        </h1>
        {it.now !== null && (
          <a class="plain" href={to.formula(formula)}>
            {w.toEditor}
          </a>
        )}
      </header>
      {it.now === null && <p class="hint">{w.gone}</p>}
      {it.revisions.length > 1 ? <p class="note">{w.lead}</p> : <Nothing text={it.revisions.length === 0 ? w.none : w.only} />}
      <ul class="revision-list">
        {it.revisions.map((one) => (
          <One
            key={one.revision}
            it={one}
            formula={formula}
            chosen={chosen.includes(one.revision)}
            pick={it.revisions.length > 1 ? () => pick(choose(chosen, one.revision)) : null}
          />
        ))}
      </ul>
      {it.away > 0 && <p class="hint">{w.away(it.away)}</p>}
      {it.problems.map((one) => (
        <p class="warning" key={one.where}>
          <Shape name="warn" />
          <span>
            {w.left(one.where)} <Said text={one.message} />
          </span>
        </p>
      ))}
      {it.revisions.length > 1 && (
        <div class="revision-bar">
          <a class="big" href={ready ? to.both(formula, then, now) : undefined} role="link" aria-disabled={!ready} data-testid="compare">
            {w.chosen(chosen.length)}
          </a>
        </div>
      )}
    </section>
  );
}

/** A part of the formulas that waits for the station's answer, or did not get one. */
export function Asking({ title, asked }: { title: string; asked: Asked<unknown> }) {
  return (
    <>
      <h1>{title}</h1>
      <Unanswered asked={asked} />
      {asked.trouble && (
        <div class="row start">
          <a class="plain" href={to.formulas()}>
            {words.pantry.back}
          </a>
        </div>
      )}
    </>
  );
}
