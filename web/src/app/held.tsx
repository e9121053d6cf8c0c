// An addition that needs a decision, or a scale that needs a hand: what happened and what can be done.

import { others, primary, standing } from "../core/choice.ts";
import type { Live } from "../core/frames.ts";
import { words } from "../core/words.ts";
import { Say } from "./recovery.tsx";
import { act, busy, current, dialog, scale } from "./store.ts";

function story(live: Live, out: boolean): string[] {
  const cause = live.held?.cause;
  const sum = live.held?.sum_g ?? live.sum_g ?? null;
  const soFar = sum === null ? [] : [out ? words.outOf.soFar(sum) : words.held.soFar(sum)];
  const stands = standing(live);
  if (stands === "over") return [out ? words.outOf.over : words.held.over];
  if (stands === "short") return [out ? words.outOf.short_ : words.held.short];
  if (stands === "on target") return [words.held.righted];
  if (stands === "too close to call") return [words.held.close(live.guard_g ?? null)];
  if (cause === "scale lost" || cause === "scale silent") {
    const why = scale.value?.why;
    const told = why ? [words.held.away, why] : [cause === "scale lost" ? words.held.lost : words.held.silent];
    return [...told, words.held.kept, ...soFar];
  }
  if (out) return [words.held.zero(sum), live.off ? words.outOf.zeroOff : words.outOf.zeroMore, words.outOf.zeroElse];
  const within = live.held?.sum_within_g;
  if (sum !== null && within) return [words.held.zeroPouring(sum, within), words.held.zeroPouringMore];
  if (live.off) return [words.held.zero(sum), words.held.zeroOff, words.held.zeroElse];
  const more = sum === null ? words.held.zeroUnknown : words.held.zeroMore;
  return [words.held.zero(sum), more, words.held.zeroElse];
}

/** `told`: what happened, and what can be done about it, is told beside it. */
export function Held({ live, told = false }: { live: Live; told?: boolean }) {
  const out = words.vessels.isOut(current.value);
  const first = primary(live);
  const choices = others(live);
  const stands = standing(live);
  const decision = live.can.includes("use scale") || (first !== null && stands !== "on target") || choices.length > 0;
  return (
    <section class="held" aria-label={words.phase(live, false)} data-testid="held">
      {(told ? [] : story(live, out)).map((line, i) => (
        <p key={line} class={i === 0 ? "held-what" : "held-more"}>
          {line}
        </p>
      ))}
      {decision && (
        <div class="row">
          <Say />
          {choices.map((each) => (
            <button type="button" class="plain" key={each.do} data-do={each.do} disabled={busy.value !== null} onClick={() => act(each)}>
              {words.act(each.do, live.verdict, out)}
            </button>
          ))}
          {live.can.includes("use scale") && (
            <button type="button" class="plain" data-do="use scale" onClick={() => (dialog.value = "scale")}>
              {words.planned.other.open}
            </button>
          )}
          {stands !== "on target" && live.can.includes("abandon") && (
            <button type="button" class="plain" data-do="abandon" onClick={() => (dialog.value = "abandon")}>
              {words.abandon.open}
            </button>
          )}
        </div>
      )}
    </section>
  );
}
