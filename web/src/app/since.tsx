// On the record of a batch: whether its formula has changed since, and the way to what changed.

import { type History, revisions } from "../core/revisions.ts";
import { to } from "../core/routes.ts";
import { useAsked } from "./ask.ts";
import { Shape } from "./shapes.tsx";

const w = revisions.since;

export function SinceThen({ formula, revision }: { formula: string; revision: string }) {
  const asked = useAsked<History>(formula ? `api/formulas/${encodeURIComponent(formula)}/revisions` : null);
  const it = asked.value;
  if (it === null) return null; // what is recorded stands without it
  const changed = it.now !== null && it.now !== revision;
  return (
    <section class="since no-print" data-testid="since" data-changed={changed}>
      <p>
        <Shape name={changed ? "note" : "good"} />
        {it.now === null ? w.gone : changed ? w.changed : w.same}
      </p>
      {changed && (
        <a class="plain" href={to.both(formula, revision)}>
          {w.see}
        </a>
      )}
      <a class="plain" href={to.revisions(formula)}>
        {revisions.title}
      </a>
    </section>
  );
}
