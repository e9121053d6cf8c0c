// The vessels that are known by their mass: the list, weighing one, forgetting one.

import { useSignal } from "@preact/signals";
import { undone } from "../core/answers.ts";
import type { Vessel } from "../core/frames.ts";
import { typedMass } from "../core/numbers.ts";
import { words } from "../core/words.ts";
import { Said } from "./said.tsx";
import { fresh, operator, requests, scales, station } from "./store.ts";

const w = words.vessels;

/** The vessel to weigh into, and whether the bowl cannot be weighed: asked before a batch. */
export function VesselChoice({ vessel, choose, out, say }: { vessel: string; choose(name: string): void; out: boolean; say(out: boolean): void }) {
  const known = station.value?.vessels ?? [];
  return (
    <>
      {known.length > 0 && !out && (
        <label class="field">
          <span>{w.choose}</span>
          <select name="vessel" value={vessel} onChange={(e) => choose(e.currentTarget.value)}>
            <option value="">{w.any}</option>
            {known.map((it) => (
              <option key={it.name} value={it.name}>
                {it.name}, {w.mass(it)}
              </option>
            ))}
          </select>
        </label>
      )}
      <label class="choice by-difference">
        <input type="checkbox" name="by-difference" checked={out} onChange={(e) => say(e.currentTarget.checked)} />
        <span>
          {w.byDifference}
          {out && <small>{w.byDifferenceMore}</small>}
        </span>
      </label>
    </>
  );
}

function One({ it, said }: { it: Vessel; said(text: string): void }) {
  const sure = useSignal(false);
  const forget = async () => {
    if (!sure.value) {
      sure.value = true;
      return;
    }
    sure.value = false;
    said(undone(await requests.send(`api/vessels/${encodeURIComponent(it.name)}/forget`, {})));
  };
  return (
    <li>
      <span>
        <b>{it.name}</b> {w.mass(it)}
        <small>{[w.allow(it), w.from(it)].filter(Boolean).join(", ")}</small>
      </span>
      {!it.configured && (
        <button type="button" class="plain" disabled={!fresh.value} onClick={() => void forget()} onBlur={() => (sure.value = false)}>
          {sure.value ? w.forgetSure : w.forget}
        </button>
      )}
    </li>
  );
}

/** The section of the scales' screen. */
export function Vessels() {
  const known = station.value?.vessels ?? [];
  const names = Object.keys(scales.value);
  const name = useSignal("");
  const on = useSignal("");
  const allow = useSignal("");
  const trouble = useSignal("");
  const kept = useSignal("");
  const sending = useSignal(false);
  const keep = async (event: Event) => {
    event.preventDefault();
    if (sending.value) return;
    kept.value = "";
    if (!name.value.trim()) {
      trouble.value = w.needsName;
      return;
    }
    sending.value = true;
    const answer = await requests.send<Vessel>("api/vessels", {
      name: name.value.trim(),
      scale: on.value || names[0] || null,
      allow_g: allow.value.trim() ? (typedMass(allow.value) ?? allow.value) : null,
      by: operator.peek() || null,
    });
    sending.value = false;
    trouble.value = undone(answer);
    if (answer.kind === "ok") {
      kept.value = w.kept(answer.value);
      name.value = "";
    }
  };
  return (
    <section class="vessels" data-testid="vessels">
      <h2>{w.title}</h2>
      <p class="soft">{w.about}</p>
      {known.length === 0 && <p>{w.none}</p>}
      <ul>
        {known.map((it) => (
          <One key={it.name} it={it} said={(text) => (trouble.value = text)} />
        ))}
      </ul>
      {names.length > 0 && (
        <form onSubmit={keep}>
          <p>{w.how}</p>
          <label class="field">
            <span>{w.name}</span>
            <input
              type="text"
              name="vessel-name"
              maxLength={40}
              autocomplete="off"
              value={name.value}
              onInput={(e) => (name.value = e.currentTarget.value)}
            />
          </label>
          {names.length > 1 && (
            <label class="field">
              <span>{w.on}</span>
              <select name="vessel-scale" value={on.value || names[0]} onChange={(e) => (on.value = e.currentTarget.value)}>
                {names.map((it) => (
                  <option key={it} value={it}>
                    {it}
                  </option>
                ))}
              </select>
            </label>
          )}
          <label class="field">
            <span>
              {w.allowField} <small>{w.allowHint}</small>
            </span>
            <input
              type="text"
              name="vessel-allow"
              inputMode="decimal"
              autocomplete="off"
              value={allow.value}
              onInput={(e) => (allow.value = e.currentTarget.value)}
            />
          </label>
          <button type="submit" class="solid" disabled={!fresh.value || sending.value}>
            {w.weigh}
          </button>
        </form>
      )}
      {kept.value && (
        <p class="hint" role="status">
          {kept.value}
        </p>
      )}
      {trouble.value && (
        <p class="complaint" role="alert">
          <Said text={trouble.value} />
        </p>
      )}
    </section>
  );
}
