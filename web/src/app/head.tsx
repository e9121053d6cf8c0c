// The newest head of the journal, in digits to copy down: nothing where the station writes none.

import { when } from "../core/numbers.ts";
import { type HeadAnswer, headWords } from "../core/head.ts";
import { useAsked } from "./ask.ts";
import { Said } from "./said.tsx";

export function HeadOfTheDay() {
  const told = useAsked<HeadAnswer>("api/head").value;
  if (!told?.configured) return null;
  const { head, problem, next } = told;
  return (
    <section class="head-card" aria-label={headWords.title(head?.day ?? null)} data-testid="head">
      <h2>{headWords.title(head?.day ?? null)}</h2>
      {head && (
        <>
          <p class="head-digits" data-testid="head-digits">
            {head.short.split(" ").map((group, at) => (
              <span key={at}>{group} </span>
            ))}
          </p>
          <p class="soft">
            {headWords.about(head.entries)} {headWords.what}
          </p>
          {head.missed.length > 0 && <p>{headWords.missed(head.missed.join(", "))}</p>}
        </>
      )}
      {problem ? <p class="complaint"><Said text={headWords.problem(problem)} /></p> : <p class="soft">{headWords.next(when(next))}</p>}
    </section>
  );
}
