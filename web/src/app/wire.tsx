// What a scale sends: its newest reports as they came, with what stands where in them.

import { useEffect, useState } from "preact/hooks";
import { type Report, type Wire, piecesOf, wire as w } from "../core/wire.ts";
import { useAsked, useNewest } from "./ask.ts";
import { fresh } from "./store.ts";

/** How often it is asked for while it is open, in ms; and how many reports are shown. */
const EVERY = 1000;
const SHOWN = 4;

function Signs({ of }: { of: string[] }) {
  return <code>{of.map((sign, n) => (sign.length > 1 ? <b key={n}>{sign}</b> : sign))}</code>;
}

/** One report; with `named`, words below say what is what. */
function Line({ it, named }: { it: Report; named: boolean }) {
  return (
    <li>
      <span class="wire-bytes" aria-hidden="true">
        {piecesOf(it).map((piece, n) => (
          <span key={n} data-is={piece.what || undefined}>
            <Signs of={piece.signs} />
            {named && piece.what && <small>{w.parts[piece.what]}</small>}
          </span>
        ))}
      </span>
      <span class="wire-read">
        <small>{w.as}</small> <b>{w.read(it)}</b>
      </span>
    </li>
  );
}

function Reports({ name }: { name: string }) {
  const [held, hold] = useState(false);
  const asked = useAsked<Wire>(`api/scales/${encodeURIComponent(name)}/wire`);
  const { value: it } = useNewest(asked, name);
  useEffect(() => {
    if (held || asked.value === null) return;
    const soon = setTimeout(asked.again, EVERY);
    return () => clearTimeout(soon);
  }, [held, asked.value]);
  if (it === null) return <p class="hint">{asked.trouble || w.waiting}</p>;
  const live = fresh.value || held;
  return (
    <>
      <p>
        {w.shape}: <b>{w.shapeOf(it)}</b>
      </p>
      {live && it.reports.length > 0 ? (
        <ul class="wire-reports" data-testid={`wire-${name}`}>
          {it.reports.slice(-SHOWN).map((one, n, all) => (
            <Line key={n} it={one} named={n === all.length - 1} />
          ))}
        </ul>
      ) : (
        <p class="hint">{w.none}</p>
      )}
      {it.rejected > 0 && (
        <p class="wire-rejected">
          {w.rejected(it.rejected)} <Signs of={it.last_rejected} />
        </p>
      )}
      <p class="soft">{w.help}</p>
      <button type="button" class="plain" aria-pressed={held} onClick={() => hold(!held)}>
        {held ? w.go : w.hold}
      </button>
    </>
  );
}

export function WhatItSends({ name }: { name: string }) {
  const [open, set] = useState(false);
  return (
    <details class="scale-rest wire" open={open} onToggle={(e) => set(e.currentTarget.open)}>
      <summary>{w.title}</summary>
      {open && <Reports name={name} />}
    </details>
  );
}
