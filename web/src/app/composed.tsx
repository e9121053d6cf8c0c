// What a draft would be, asked while somebody types: the newest answer wins, and the last good one stays
// until there is another, said to be of an earlier text.

import { useState } from "preact/hooks";
import { unanswered } from "../core/answers.ts";
import type { Fault, FormulaDraft } from "../core/drafts.ts";
import type { Mix } from "../core/mix.ts";
import { mixes } from "../core/mix.ts";
import { words } from "../core/words.ts";
import { useSaidOf, useSettled } from "./ask.ts";
import { MixFigures } from "./mix.tsx";
import { Said } from "./said.tsx";
import { Shape } from "./shapes.tsx";

const w = words.pantry.formula;

export interface Composed {
  /** The newest figures there are. */
  mix: Mix | null;
  /** Whether they are of the present text. */
  present: boolean;
  /** The present text has been judged, and cannot be reckoned with. */
  bad: boolean;
  faults: Fault[];
  /** The keys of the rows that the faults were found in, in their order then. */
  keys: number[];
  trouble: string;
}

/** `keys` name the rows of the draft, so that a fault stays with its row when rows move. */
export function useComposed(draft: FormulaDraft, of: string | null, keys: number[]): Composed {
  const text = JSON.stringify({ formula: draft, of: of ?? "" });
  const [got, keep] = useState({ text: "", mix: null as Mix | null, mixText: "", faults: [] as Fault[], keys, trouble: "" });
  useSaidOf<Mix>("api/compose", text, draft.additions.length > 0, (answer, settled) => {
    if (answer.kind === "ok") keep({ text: settled, mix: answer.value, mixText: settled, faults: [], keys, trouble: "" });
    else if (answer.kind === "unreachable") keep((it) => ({ ...it, text: "", trouble: unanswered(answer) }));
    else {
      const { errors, where, detail } = answer.problem;
      const faults = errors?.length ? errors : [{ where, message: detail }];
      keep((it) => ({ ...it, text: settled, faults, keys, trouble: errors?.length ? "" : unanswered(answer) }));
    }
  });
  return {
    mix: got.mix,
    present: got.mix !== null && got.mixText === text,
    bad: got.text === text && got.faults.length > 0,
    faults: got.faults,
    keys: got.keys,
    trouble: got.trouble,
  };
}

/** The figures beside a draft. */
export function ComposedPanel({ it, empty }: { it: Composed; empty: boolean }) {
  // While one types, figures are a moment old all the time: said only where it lasts.
  const lasting = !useSettled(it.present, 1200) && !it.present;
  const none = it.trouble || (it.bad || empty ? w.nothing : w.working);
  const said = it.present ? "" : it.mix === null ? none : it.bad ? w.stale : lasting ? w.slow : "";
  return (
    <section class="composed" tabIndex={0} aria-label={mixes.title} data-present={it.present} data-testid="composed">
      <h2>{mixes.title}</h2>
      <p class={it.bad && it.mix ? "warning" : "soft"} role="status">
        {said}
      </p>
      {it.trouble && it.mix && <p class="complaint"><Said text={it.trouble} /></p>}
      {it.mix && <MixFigures it={it.mix} />}
    </section>
  );
}

/** The same in a line, where the figures are out of sight. */
export function ComposedLine({ it }: { it: Composed }) {
  if (it.mix === null) return null;
  return (
    <p class="composed-line" data-present={it.present} aria-hidden="true">
      {it.mix.limits.some((each) => each.standing === "outside") && <Shape name="warn" />}
      {mixes.short(it.mix)}
    </p>
  );
}
