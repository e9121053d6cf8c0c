// The list of additions with where each one stands, and how the scale is.

import { computed } from "@preact/signals";
import { useEffect, useRef } from "preact/hooks";
import { most } from "../core/columns.ts";
import type { Addition } from "../core/frames.ts";
import { massWithUnit } from "../core/numbers.ts";
import { words } from "../core/words.ts";
import { Aligned } from "./aligned.tsx";
import { Shape, verdictShape, verdictTone } from "./shapes.tsx";
import { batch, dialog, fresh, live, scale, stance } from "./store.ts";

const massOf = (it: Addition) => massWithUnit(it.status === "accepted" ? it.net_g : it.target_g);

function Row({ it, longest }: { it: Addition; longest: number }) {
  const tone = it.status === "accepted" && it.verdict ? verdictTone(it.verdict) : "quiet";
  return (
    <li class={`addition is-${it.status}`} data-tone={tone} aria-current={it.status === "current" ? "step" : undefined}>
      <span class="addition-shape">
        {it.status === "accepted" ? <Shape name={verdictShape(it.verdict ?? "")} /> : <b>{it.n}</b>}
      </span>
      <span class="addition-name">
        {words.planned.called(it.name, it.step)}
        {it.step && <small>{[words.planned.place(it), part(it)].filter(Boolean).join(", ")}</small>}
        {it.status === "accepted" && it.verdict && it.verdict !== "on target" && (
          <small>
            {words.verdict(it.verdict)}
            {it.reason ? `: ${it.reason}` : ""}
          </small>
        )}
        {words.recovery.piece(it, batch.value) && <small>{words.recovery.piece(it, batch.value)}</small>}
        {it.lot && (
          <small>
            {words.weigh.lot} {it.lot}
          </small>
        )}
      </span>
      <span class="addition-mass">
        <Aligned text={massOf(it)} most={longest} />
      </span>
    </li>
  );
}

const part = (it: Addition) => (it.step && it.step.parts > 1 ? words.weigh.nth(it.step.part, it.step.parts) : "");

/** Bring the current addition into sight within the list; never moves the screen around it. */
function show(list: HTMLElement | null): void {
  const here = list?.querySelector<HTMLElement>("[aria-current]");
  if (!list || !here || list.scrollHeight <= list.clientHeight) return;
  const top = here.getBoundingClientRect().top - list.getBoundingClientRect().top + list.scrollTop;
  list.scrollTop = top - (list.clientHeight - here.offsetHeight) / 2;
}

export function Additions() {
  const it = batch.value;
  const list = useRef<HTMLOListElement>(null);
  useEffect(() => show(list.current), [it?.id, it?.current]);
  if (it === null) return null;
  const longest = most(it.additions.map(massOf));
  return (
    <section class="additions" aria-label={words.weigh.additions}>
      <h2>
        {it.formula.name}
        <small>{words.weigh.batch(it.batch_g, it.operator)}</small>
      </h2>
      {it.allergens.length > 0 && (
        <p class="allergens">
          <Shape name="warn" />
          {words.weigh.allergens(it.allergens.join(", "))}
        </p>
      )}
      {(it.cautions ?? []).map((text) => (
        <p class="caution" key={text}>
          {text}
        </p>
      ))}
      <ol ref={list}>
        {it.additions.map((each) => (
          <Row key={each.n} it={each} longest={longest} />
        ))}
      </ol>
      <ScaleState />
    </section>
  );
}

const flag = computed(() => {
  const stable = fresh.value && scale.value?.link === "live" ? (scale.value.reading?.stable ?? null) : null;
  return stable === null ? "" : stable ? words.weigh.stable : words.weigh.moving;
});
const name = computed(() => scale.value?.name ?? "");
const linkSaid = computed(() => (fresh.value && scale.value ? words.scales.link(scale.value) : words.link.lost));
const linkState = computed(() => (fresh.value ? (scale.value?.link ?? "waiting") : "lost"));

/** Offered while nothing of the addition is in: another scale can still weigh it whole. */
function OtherScale() {
  void stance.value;
  if (!fresh.value || !(live.peek()?.can.includes("use scale") ?? false)) return null;
  return (
    <button type="button" class="plain small" data-do="use scale" onClick={() => (dialog.value = "scale")}>
      {words.planned.other.open}
    </button>
  );
}

/** The scale in one line: name, link, its own steady flag. */
export function ScaleState() {
  const state = linkState.value;
  const said = fresh.value ? { waiting: words.loading, live: "", silent: "", lost: "" }[state] : "";
  return (
    <p class="scale-state" data-link={state} data-testid="scale-state">
      <Shape name={state === "live" ? "good" : state === "waiting" ? "waiting" : state} />
      <b>{name}</b>
      <span>{linkSaid}</span>
      <span class="scale-flag">{said || flag}</span>
      <OtherScale />
    </p>
  );
}
