// After the last addition: what to do now, what went in beside the plan, and where to go from here.

import { after } from "../core/after.ts";
import type { Batch } from "../core/frames.ts";
import { before } from "../core/plan.ts";
import { labels } from "../core/labels.ts";
import { to } from "../core/routes.ts";
import { words } from "../core/words.ts";
import { AsWeighedOf } from "./as-weighed.tsx";
import { FirstEnd } from "./first-hint.tsx";
import { inProcess } from "./store.ts";
import { Shape } from "./shapes.tsx";
import { WentIn } from "./went-in.tsx";
import { YieldOf } from "./yield.tsx";

export function Done({ batch }: { batch: Batch }) {
  const accepted = batch.additions.filter((a) => a.status === "accepted");
  const off = accepted.filter((a) => a.verdict !== "on target").length;
  const abandoned = batch.status === "abandoned";
  const last = abandoned ? [] : before(batch.acts, batch.additions.length + 1, "");
  const made = batch.status === "in process" ? (inProcess.value.batches.find((it) => it.id === batch.id) ?? null) : null;
  const [first, ...rest] = (made?.steps ?? []).slice((made?.step ?? 1) - 1).map((it) => it.name);
  const again = to.start(batch.formula.id, batch.batch_g);
  return (
    <main class="page done" data-testid="done">
      <section class="stage" data-tone={abandoned ? "stop" : off === 0 ? "good" : "quiet"}>
        <div class="plate">
          <Shape name={abandoned ? "lost" : "good"} />
          <strong>{abandoned ? words.done.abandoned : made ? words.process.weighed : words.done.title}</strong>
        </div>
        <div class="stage-body">
          <header class="stage-head">
            <div class="stage-what">
              <h1>{batch.formula.name}</h1>
              <p>{words.weigh.batch(batch.batch_g, batch.operator)}</p>
            </div>
          </header>
          {last.length > 0 && (
            <ol class="first" data-testid="first">
              {last.map((text) => (
                <li key={text}>{text}</li>
              ))}
            </ol>
          )}
          {abandoned && batch.reason && <p class="done-said">{batch.reason}</p>}
          {!abandoned && <p class="done-said">{off === 0 ? words.done.all : words.done.some(off)}</p>}
          {made && first && (
            <p class="done-next">
              <b>{words.process.weighedMore(made.steps.length)}</b> {after.then(first, rest)}.
            </p>
          )}
          <FirstEnd />
          {accepted.length === 0 && <p class="done-said">{words.done.none}</p>}
          {accepted.length > 0 && <WentIn additions={accepted} />}
          {accepted.length > 0 && <AsWeighedOf batch={batch.id} />}
          {batch.status === "closed" && <YieldOf batch={batch.id} by={batch.operator} />}
          <div class="row done-more">
            <a class="plain" href={to.record(batch.id)}>
              {words.done.record}
            </a>
            {!abandoned && (
              <a class="plain" href={to.labels("batch", batch.id)}>
                {labels.nav}
              </a>
            )}
            <a class="plain" href={`api/batches/${encodeURIComponent(batch.id)}/sheet.pdf?download=1`} download={`${batch.id}.pdf`}>
              {words.record.sheet}
            </a>
            {made && (
              <a class="plain" href={again}>
                {after.again}
              </a>
            )}
          </div>
          <div class="row end">
            {made && (
              <a class="solid" href={to.process(batch.id)} data-testid="go-on">
                {words.process.go}
              </a>
            )}
            <a class={made ? "plain" : "solid"} href={to.start()}>
              {words.done.another}
            </a>
            {!made && (
              <a class="plain" href={again}>
                {after.again}
              </a>
            )}
          </div>
        </div>
      </section>
    </main>
  );
}
