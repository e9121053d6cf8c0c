// All batches, newest first.

import { useEffect, useState } from "preact/hooks";
import type { BatchRow } from "../core/frames.ts";
import { massWithUnit, when } from "../core/numbers.ts";
import { to } from "../core/routes.ts";
import { trends } from "../core/trends.ts";
import { words } from "../core/words.ts";
import { useAsked } from "./ask.ts";
import { HeadOfTheDay } from "./head.tsx";
import { Said } from "./said.tsx";
import { Trouble } from "./trouble.tsx";

const AT_ONCE = 50;

export function Records() {
  const [before, goOn] = useState<string | null>(null);
  const [rows, keep] = useState<BatchRow[]>([]);
  const query = new URLSearchParams({ limit: String(AT_ONCE) });
  if (before) query.set("before", before);
  const asked = useAsked<{ batches: BatchRow[] }>(`api/batches?${query}`);
  const got = asked.value?.batches ?? null;
  useEffect(() => {
    if (got) keep((had) => [...had, ...got.filter((row) => !had.some((it) => it.id === row.id))]);
  }, [got]);
  if (got === null && rows.length === 0) return <Trouble title={words.records.title} asked={asked} />;
  const more = got !== null && got.length === AT_ONCE;
  return (
    <main class="page records">
      <h1>{words.records.title}</h1>
      <p class="records-more">
        <a class="plain" href={to.trends()}>
          {trends.open}
        </a>
      </p>
      <HeadOfTheDay />
      {rows.length === 0 && got?.length === 0 && <p>{words.records.none}</p>}
      <ul class="record-list">
        {rows.map((it) => (
          <li key={it.id}>
            <a class="record-row" href={to.record(it.id)} data-status={it.status}>
              <b>{it.name || it.formula}</b>
              <span>{massWithUnit(it.batch_g)}</span>
              <span>{it.operator}</span>
              <span>{when(it.opened)}</span>
              <span>{words.records.of(it.accepted, it.additions)}</span>
              <span class="status">{words.records.status(it.status)}</span>
              <span class="soft">{it.id}</span>
            </a>
          </li>
        ))}
      </ul>
      {more && (
        <button type="button" class="plain" onClick={() => goOn(rows.at(-1)?.id ?? null)}>
          {words.records.more}
        </button>
      )}
      {rows.length > 0 && asked.trouble && <p class="complaint"><Said text={asked.trouble} /></p>}
    </main>
  );
}
