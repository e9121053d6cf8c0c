// After the last addition: how it came out, and where to go from here.

import type { Batch } from "../core/frames.ts";
import { before } from "../core/plan.ts";
import { massWithUnit, signed } from "../core/numbers.ts";
import { labels } from "../core/labels.ts";
import { to } from "../core/routes.ts";
import { words } from "../core/words.ts";
import { AsWeighedOf } from "./as-weighed.tsx";
import { inProcess } from "./store.ts";
import { Shape, verdictShape, verdictTone } from "./shapes.tsx";
import { YieldOf } from "./yield.tsx";

export function Done({ batch }: { batch: Batch }) {
  const accepted = batch.additions.filter((a) => a.status === "accepted");
  const off = accepted.filter((a) => a.verdict !== "on target").length;
  const abandoned = batch.status === "abandoned";
  const last = before(batch.acts, batch.additions.length + 1, "");
  const made = batch.status === "in process" ? (inProcess.value.batches.find((it) => it.id === batch.id) ?? null) : null;
  const said = abandoned ? "" : off === 0 ? words.done.all : words.done.some(off);
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
          {abandoned && batch.reason && <p class="done-said">{batch.reason}</p>}
          {said && <p class="done-said">{said}</p>}
          {made && <p class="done-said">{words.process.weighedMore(made.steps.length)}</p>}
          {!abandoned && last.length > 0 && (
            <ol class="first" data-testid="first">
              {last.map((text) => (
                <li key={text}>{text}</li>
              ))}
            </ol>
          )}
          {accepted.length === 0 && <p class="done-said">{words.done.none}</p>}
          <ul class="done-list">
            {accepted.map((it) => (
              <li key={it.n} data-tone={verdictTone(it.verdict ?? "")}>
                <Shape name={verdictShape(it.verdict ?? "")} />
                <span class="addition-name">
                  {words.planned.called(it.name, it.step)}
                  <small>
                    {words.verdict(it.verdict ?? "")}
                    {it.reason ? `: ${it.reason}` : ""}
                  </small>
                </span>
                <span class="mass">
                  {massWithUnit(it.net_g)} <small>{signed(it.deviation_g)}</small>
                </span>
              </li>
            ))}
          </ul>
          {accepted.length > 0 && <AsWeighedOf batch={batch.id} />}
          {batch.status === "closed" && <YieldOf batch={batch.id} by={batch.operator} />}
          <div class="row end">
            <a class="plain" href={to.record(batch.id)}>
              {words.done.record}
            </a>
            {batch.status === "closed" && (
              <a class="plain" href={to.labels("batch", batch.id)}>
                {labels.nav}
              </a>
            )}
            {made && (
              <a class="solid" href={to.process(batch.id)} data-testid="go-on">
                {words.process.go}
              </a>
            )}
            <a class={made ? "plain" : "solid"} href={to.start()}>
              {words.done.another}
            </a>
          </div>
        </div>
      </section>
    </main>
  );
}
