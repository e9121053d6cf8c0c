// All batches, newest first.

import { useEffect, useState } from "preact/hooks";
import { most } from "../core/columns.ts";
import type { BatchRow } from "../core/frames.ts";
import { massWithUnit, when } from "../core/numbers.ts";
import { to } from "../core/routes.ts";
import { states } from "../core/states.ts";
import { trends } from "../core/trends.ts";
import { words } from "../core/words.ts";
import { Aligned } from "./aligned.tsx";
import { ON_RETURN, useAsked } from "./ask.ts";
import { HeadOfTheDay } from "./head.tsx";
import { Failed, Nothing, Trouble } from "./trouble.tsx";

const AT_ONCE = 50;

export function Records() {
  const [before, goOn] = useState<string | null>(null);
  const [rows, keep] = useState<BatchRow[]>([]);
  const query = new URLSearchParams({ limit: String(AT_ONCE) });
  if (before) query.set("before", before);
  const asked = useAsked<{ batches: BatchRow[] }>(`api/batches?${query}`, ON_RETURN);
  const got = asked.value?.batches ?? null;
  useEffect(() => {
    if (got) keep((had) => {
      const news = new Map(got.map((row) => [row.id, row]));
      const older = got.filter((row) => !had.some((it) => it.id === row.id));
      // Asked again, what came since is newer than all there was.
      const kept = had.map((row) => news.get(row.id) ?? row);
      return before === null ? [...older, ...kept] : [...kept, ...older];
    });
  }, [got]);
  if (got === null && rows.length === 0) return <Trouble title={words.records.title} asked={asked} />;
  const longest = most(rows.map((it) => massWithUnit(it.batch_g)));
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
      {rows.length === 0 && got?.length === 0 && (
        <Nothing text={words.records.none} more={states.records}>
          <a class="solid" href={to.start()}>
            {states.weigh}
          </a>
        </Nothing>
      )}
      <ul class="record-list">
        {rows.map((it) => (
          <li key={it.id}>
            <a class="record-row" href={to.record(it.id)} data-status={it.status}>
              <b>{it.name || it.formula}</b>
              <span>
                <Aligned text={massWithUnit(it.batch_g)} most={longest} />
              </span>
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
      {rows.length > 0 && asked.trouble && <Failed asked={asked} />}
    </main>
  );
}
