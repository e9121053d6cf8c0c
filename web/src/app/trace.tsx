// Where a lot went, and what it was made of.

import { useEffect, useState } from "preact/hooks";
import type { Scan, Trace } from "../core/lots.ts";
import { massWithUnit } from "../core/numbers.ts";
import { to } from "../core/routes.ts";
import { shared } from "../core/shared.ts";
import { words } from "../core/words.ts";
import { states } from "../core/states.ts";
import { useAsked } from "./ask.ts";
import { Field } from "./fields.tsx";
import { Said } from "./said.tsx";
import { useScans } from "./scanner.ts";
import { Shape } from "./shapes.tsx";
import { Unanswered } from "./trouble.tsx";

const w = words.lots.traced;

function Found({ it }: { it: Trace }) {
  return (
    <>
      {it.known && (
        <p class="lot-head">
          <b>{it.known.name}</b> <a href={to.lot(it.known.lot)}>{it.known.lot}</a> {it.known.supplier} {it.known.supplier_lot}
        </p>
      )}
      {(shared.looked(it) || shared.twice(it)) && (
        <p class={it.everywhere ? "note" : "lot-head"} data-testid="looked">
          {it.everywhere === false && <Shape name="lost" />} <span>{`${shared.looked(it)} ${shared.twice(it)}`}</span>
        </p>
      )}
      <section>
        <h2>{w.forward}</h2>
        {it.forward.length === 0 && <p>{w.nowhere}</p>}
        <ul class="trace-list" data-testid="forward">
          {it.forward.map((one) => (
            <li key={one.batch} style={{ "--depth": String(Math.min(one.depth, 6)) }} data-depth={one.depth}>
              <a href={to.record(one.batch)}>{one.batch}</a>
              <span>{one.name}</span>
              <span>{w.share(one.g, one.batch_g, one.percent)}</span>
              <small>
                {[w.where(one), one.made, one.operator].filter(Boolean).join(", ")}
              </small>
              {one.depth > 1 && <small>{w.through(one.through)}</small>}
            </li>
          ))}
        </ul>
        {it.forward.length > 0 && (
          <p class="trace-sums" data-testid="sums">
            {w.sums(it.sums)} <span class="soft">{w.took(it.forward.length, it.took_ms)}</span>
          </p>
        )}
      </section>
      {it.back.length > 0 && (
        <section>
          <h2>{w.back}</h2>
          <ul class="trace-list" data-testid="back">
            {it.back.map((one) => (
              <li key={`${one.lot}/${one.ingredient}`} style={{ "--depth": String(Math.min(one.depth, 6)) }} data-depth={one.depth}>
                {one.lot ? <a href={to.trace(one.lot)}>{one.lot}</a> : <span>{w.noLot}</span>}
                <span>
                  {one.name}, {massWithUnit(one.g)}
                </span>
                {one.supplier && <span class="soft">{one.supplier}</span>}
                {one.made && <small>{w.made}</small>}
              </li>
            ))}
          </ul>
        </section>
      )}
      {it.circles.map((code) => (
        <p class="complaint" key={code}>
          <Said text={w.circle(code)} />
        </p>
      ))}
      {it.balance && (
        <section>
          <h2>{w.balance}</h2>
          <p>{w.sum(it.balance)}</p>
          <p class="lot-head" data-testid="balance">
            <Shape name={it.balance.adds_up === null ? "waiting" : it.balance.adds_up ? "good" : "fail"} /> {w.counted(it.balance)}
          </p>
        </section>
      )}
      {it.tell.length > 0 && (
        <section>
          <h2>{w.tell}</h2>
          <p class="soft">{w.tellHint}</p>
          <ul class="trace-list">
            {it.tell.map((one) => (
              <li key={`${one.why}/${one.who}`} style={{ "--depth": "1" }}>
                <b>{one.who}</b> <span>{w.why(one.why)}</span> <span class="soft">{one.of}</span>
              </li>
            ))}
          </ul>
        </section>
      )}
      <nav class="row lots-more no-print">
        {[
          [w.sheet, "pdf", "recall.pdf"],
          [w.table, "csv", "recall.csv"],
          [w.drill, "pdf&drill=true", "mock-recall.pdf"],
        ].map(([text, form, name]) => (
          <a key={name} class="plain" href={`./api/trace/${encodeURIComponent(it.lot)}?format=${form}`} download={name}>
            {text}
          </a>
        ))}
      </nav>
    </>
  );
}

export function TraceScreen({ lot }: { lot: string }) {
  const [code, type] = useState(lot);
  useEffect(() => type(lot), [lot]);
  const asked = useAsked<Trace>(lot ? `api/trace/${encodeURIComponent(lot)}` : null);
  useScans((scan: Scan) => {
    location.hash = to.trace(scan.lot || scan.supplier_lot || scan.text);
  });
  const go = (event: Event) => {
    event.preventDefault();
    if (code.trim()) location.hash = to.trace(code.trim());
  };
  return (
    <main class="page lots">
      <h1>
        {w.title} <small>{lot}</small>
      </h1>
      <form class="trace-form no-print" onSubmit={go}>
        <Field label={w.field} hint={w.lead} name="code" value={code} type={type} />
        <button type="submit" class="solid">
          {w.go}
        </button>
      </form>
      {lot && asked.value === null && <Unanswered asked={asked} back={{ at: to.lots(), name: states.allLots }} />}
      {asked.value && <Found it={asked.value} />}
    </main>
  );
}
