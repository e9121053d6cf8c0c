// A screen that waits for the station's answer, or did not get one; and one that has nothing to show yet.

import type { ComponentChildren } from "preact";
import { useEffect, useState } from "preact/hooks";
import { states } from "../core/states.ts";
import { words } from "../core/words.ts";
import type { Asked } from "./ask.ts";
import { Said } from "./said.tsx";
import { Shape } from "./shapes.tsx";
import { link } from "./store.ts";

/** Answers take a moment; that it takes long is said after so many ms. */
const LONG_MS = 4000;

/** That something is asked for; after a while, that it takes long, with a button that asks again. */
export function Waiting({ again }: { again?: (() => void) | undefined }) {
  const [long, tell] = useState(false);
  useEffect(() => {
    const soon = setTimeout(() => tell(true), LONG_MS);
    return () => clearTimeout(soon);
  }, []);
  return (
    <div class="waiting" role="status" data-testid="waiting">
      <p class="soft">{long ? states.long : words.loading}</p>
      {long && again && (
        <button type="button" class="plain" onClick={again}>
          {words.again}
        </button>
      )}
    </div>
  );
}

/** Why there is no answer, what to do, and a button that asks again. */
export function Failed({ asked }: { asked: Asked<unknown> }) {
  const cut = asked.problem === null && link.value !== "live";
  return (
    <div class="failed">
      <p class="complaint" role="alert">
        <Said text={asked.trouble} />
      </p>
      {cut && <p class="soft">{states.byItself}</p>}
      <button type="button" class="solid" onClick={asked.again}>
        {words.again}
      </button>
    </div>
  );
}

/** Nothing here yet: why, and what to do about it. */
export function Nothing({ text, more, children }: { text: string; more?: string; children?: ComponentChildren }) {
  return (
    <div class="nothing" data-testid="nothing">
      <Shape name="note" />
      <div>
        <p>{text}</p>
        {more && <p class="soft">{more}</p>}
      </div>
      {children && <div class="row">{children}</div>}
    </div>
  );
}

/** Instead of a part of a screen that has no answer yet. */
export function Unanswered({ asked }: { asked: Asked<unknown> }) {
  return asked.trouble ? <Failed asked={asked} /> : <Waiting again={asked.again} />;
}

export function Trouble({ title, asked }: { title: string; asked: Asked<unknown> }) {
  return (
    <main class="page narrow">
      <h1>{title}</h1>
      <Unanswered asked={asked} />
    </main>
  );
}
