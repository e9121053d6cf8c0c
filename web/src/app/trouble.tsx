// A screen that waits for the station's answer, or did not get one; and one that has nothing to show yet.

import type { ComponentChildren } from "preact";
import { useEffect, useState } from "preact/hooks";
import { states } from "../core/states.ts";
import { words } from "../core/words.ts";
import type { Asked } from "./ask.ts";
import { Said } from "./said.tsx";
import { Shape } from "./shapes.tsx";
import { link, theLink } from "./store.ts";

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

/** A way on: to another screen, by the name on its button. */
export interface WayOn {
  at: string;
  name: string;
}

/** Why there is no answer, what to do, and a button that asks again; none where there is no such thing. */
export function Failed({ asked, back }: { asked: Asked<unknown>; back?: WayOn | undefined }) {
  const cut = asked.problem === null && link.value !== "live";
  const gone = back !== undefined && asked.problem?.status === 404;
  return (
    <div class="failed" data-testid="failed">
      <p class="complaint" role="alert">
        <Said text={asked.trouble} />
      </p>
      {cut && <p class="soft">{states.byItself}</p>}
      {asked.problem !== null && asked.problem.status >= 500 && <p class="soft">{states.own}</p>}
      <div class="row">
        {!gone && (
          <button type="button" class="solid" onClick={asked.again}>
            {words.again}
          </button>
        )}
        {back && (
          <a class={gone ? "solid" : "plain"} href={back.at}>
            {back.name}
          </a>
        )}
      </div>
    </div>
  );
}

/** Whether there is no answer although there should be one: no link, or the station itself failed. */
export const broken = (asked: Asked<unknown>): boolean =>
  asked.trouble !== "" && (asked.problem === null || asked.problem.status >= 500);

/** A part of a screen that could not be read: said in its place, with a button, where it would stand. */
export function Broken({ title, asked }: { title: string; asked: Asked<unknown> }) {
  return (
    <section class="broken">
      <h2>{title}</h2>
      <Failed asked={asked} />
    </section>
  );
}

/** A screen that shows what the station says all the time, before it has said anything. */
export function NotHeard({ title }: { title: string }) {
  const lost = link.value === "lost";
  return (
    <main class="page narrow" data-testid="not-heard">
      <h1>{title}</h1>
      {!lost && <Waiting again={() => theLink.retry()} />}
      {lost && (
        <div class="failed">
          <p class="complaint" role="alert">
            {words.link.lost}
          </p>
          <p>{states.look}</p>
          <button type="button" class="solid" onClick={() => theLink.retry()}>
            {words.link.retry}
          </button>
        </div>
      )}
    </main>
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
export function Unanswered({ asked, back }: { asked: Asked<unknown>; back?: WayOn }) {
  return asked.trouble ? <Failed asked={asked} back={back} /> : <Waiting again={asked.again} />;
}

export function Trouble({ title, asked, back }: { title: string; asked: Asked<unknown>; back?: WayOn }) {
  return (
    <main class="page narrow">
      <h1>{title}</h1>
      <Unanswered asked={asked} {...(back ? { back } : {})} />
    </main>
  );
}
