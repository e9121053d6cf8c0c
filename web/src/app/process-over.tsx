// A batch whose steps were asked for and that is not in process: done with, or still on the bench.

import type { Batch } from "../core/frames.ts";
import { process as w } from "../core/process.ts";
import { to } from "../core/routes.ts";
import { words } from "../core/words.ts";
import { ON_RETURN, useAsked } from "./ask.ts";
import { Done } from "./done.tsx";
import { Trouble } from "./trouble.tsx";

/** What came of it, where its last step was just done; or why it has no steps yet. */
export function Over({ batch }: { batch: string }) {
  const asked = useAsked<{ batch: Batch }>(`api/batches/${encodeURIComponent(batch)}`, ON_RETURN);
  const it = asked.value?.batch ?? null;
  if (it === null) return <Trouble title={batch} asked={asked} back={{ at: to.process(), name: w.back }} />;
  // What its dish asked for is long done.
  if (it.status !== "open") return <Done batch={{ ...it, acts: [] }} />;
  return (
    <main class="page narrow">
      <h1>{it.formula.name}</h1>
      <p>{w.over}</p>
      <a class="solid" href={to.bench()}>
        {words.start.goOn}
      </a>
    </main>
  );
}
