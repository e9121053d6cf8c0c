// From nothing to a first weighed batch: a scale, a name, a formula; then the board.

import { useEffect, useRef, useState } from "preact/hooks";
import { undone } from "../core/answers.ts";
import { type FirstStep, first, stepOf, STEPS } from "../core/first.ts";
import { to } from "../core/routes.ts";
import { FirstFormula } from "./first-formula.tsx";
import { FirstScale } from "./first-scale.tsx";
import { Said } from "./said.tsx";
import { batch, link, operator, people, remember, requests, scales } from "./store.ts";
import { setWalk } from "./walk.ts";

/** The four steps; what is done leads back to it. */
function Steps({ now }: { now: number }) {
  return (
    <nav class="first-steps" aria-label={first.title}>
      <ol>
        {[...STEPS, "weigh" as const].map((it, n) => (
          <li key={it} aria-current={n === now ? "step" : undefined} data-done={n < now}>
            {n < now && it !== "weigh" ? <a href={to.first(it)}>{first.steps[it]}</a> : <span>{first.steps[it]}</span>}
          </li>
        ))}
      </ol>
    </nav>
  );
}

function You() {
  const [name, type] = useState(operator.peek());
  const [trouble, tell] = useState("");
  const field = useRef<HTMLInputElement>(null);
  const w = first.you;
  const go = async (event: Event) => {
    event.preventDefault();
    const who = name.trim();
    if (!who) return field.current?.focus();
    operator.value = who;
    remember("operator", who);
    const answer = await requests.send("api/first/name", { name: who });
    if (answer.kind === "refused") return tell(undone(answer)); // it weighs under that name all the same
    location.hash = to.first("formula");
  };
  return (
    <form class="first-you" onSubmit={go}>
      <h1>{w.title}</h1>
      <p class="soft">{w.lead}</p>
      <div class="field">
        <label for="first-name">{w.name}</label>
        <input id="first-name" ref={field} name="name" type="text" maxLength={60} autocomplete="off" value={name} onInput={(e) => type(e.currentTarget.value)} />
      </div>
      {trouble && (
        <p class="complaint" role="alert">
          <Said text={trouble} />
        </p>
      )}
      <div class="row">
        <a class="plain" href={to.first("scale")}>
          {first.back}
        </a>
        <a class="plain" href={to.first("formula")}>
          {trouble ? first.goOn : w.skip}
        </a>
        <button type="submit" class="solid" disabled={link.value !== "live"}>
          {first.goOn}
        </button>
      </div>
    </form>
  );
}

export function First({ step }: { step: FirstStep | null }) {
  const now = stepOf(step, Object.keys(scales.value).length, operator.value !== "" || people.value.listed);
  const open = batch.value?.status === "open" ? batch.value : null;
  // The step stands in the address: a reload comes back to it, and so does a page whose station gets its
  // scale from another one.
  useEffect(() => {
    if (step === null) location.replace(to.first(now));
  }, [step]);
  if (open && now !== "add") {
    return (
      <main class="page narrow">
        <h1>{first.weighing(open.formula.name)}</h1>
        <a class="solid" href={to.bench()}>
          {first.toBoard}
        </a>
      </main>
    );
  }
  const nth = now === "add" ? -1 : STEPS.indexOf(now);
  return (
    <main class="page walk" data-testid="walk" data-step={now}>
      {now !== "add" && <Steps now={nth} />}
      {now === "you" ? <You /> : now === "formula" ? <FirstFormula /> : <FirstScale more={now === "add"} />}
      {now !== "add" && (
        <p>
          <a class="quiet" href={to.start()} onClick={() => setWalk("")}>
            {first.notNow}
          </a>
        </p>
      )}
    </main>
  );
}
