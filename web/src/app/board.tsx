// What the board only shows: plate, name, number, and what is to be done now. Nothing here can be pressed, so
// that a screen on the wall shows the same parts and has nothing to press.

import { computed, type ReadonlySignal } from "@preact/signals";
import { misfit, primary, vesselThere } from "../core/choice.ts";
import type { Addition, Cue, Live } from "../core/frames.ts";
import { way } from "../core/locale.ts";
import { inSteps, mass, massWithUnit, size, unitFor } from "../core/numbers.ts";
import { words } from "../core/words.ts";
import { Shape, cueShape, look } from "./shapes.tsx";
import { batch, cue, current, fresh, live, past, scale, stance } from "./store.ts";

// Masses go from the frame to the text node by these; no component is drawn again for a reading.
const shown = (pick: (it: Live) => string): ReadonlySignal<string> =>
  computed(() => (fresh.value && live.value ? pick(live.value) : mass(null)));

const untared = (it: Live) => it.phase === "awaiting vessel" && !it.lifted;
/** What leaves its own container counts. */
export const out = computed(() => words.vessels.isOut(current.value));
const done = (it: Live) => it.verdict === "on target" && (it.phase === "judged" || it.phase === "held");

/** One unit for all of an addition: it must not change while something is poured. */
const unit = computed(() => unitFor(current.value?.target_g));
const main = shown((it) => {
  if (untared(it)) return mass(it.gross_g, unit.value);
  if (done(it)) return mass(it.net_g, unit.value);
  const left = inSteps(it.to_go_g, scale.value?.interval_g);
  return past.value ? size(left, unit.value) : mass(left, unit.value);
});
const caption = computed(() => {
  const it = live.value;
  if (it === null) return "";
  if (untared(it)) return words.weigh.onScale;
  if (done(it)) return out.value ? words.outOf.out : words.weigh.inVessel;
  if (it.lifted) return words.outOf.toPour;
  return past.value ? words.weigh.overBy : words.weigh.toGo;
});
// A vessel that was lifted still holds what the station last saw settled in it.
const net = shown((it) => mass(it.phase === "awaiting vessel" ? (it.sum_g ?? null) : it.net_g, unit.value));
const digits = computed(() => {
  const whole = mass(current.value?.target_g ?? "0", unit.value).split(way.mark)[0]!.length + 2;
  return Math.min(10, Math.max(4, whole, main.value.length));
});
const digitClass = computed(() => `number still digits-${digits.value}`);
/** As many places as what is in the vessel will need, so that it moves nothing beside it. */
const netClass = computed(() => {
  const whole = mass(current.value?.target_g ?? "0", unit.value).split(way.mark)[0]!.length;
  const places = net.value.split(way.mark)[1]?.length ?? 0;
  return `still net-${Math.min(10, Math.max(net.value.length, whole + places + 1))}`;
});
const wait = computed(() => {
  const it = live.value;
  if (it === null) return words.loading;
  const bare = untared(it) && it.tare_g === null;
  const todo = bare ? words.planned.next(batch.value?.acts, it) : "";
  if (!todo && bare && misfit(it)) return words.vessels.setDown(misfit(it)!.name);
  if (!todo && bare && out.value) {
    const name = current.value?.name ?? "";
    if (it.gross_g !== null && Number(it.gross_g) < -1) return words.outOf.zeroEmpty;
    return it.left ? words.outOf.clear(name) : words.outOf.setDown(name);
  }
  const barred = (scale.value?.check?.barred ?? false) && it.verdict !== null && it.verdict !== "short";
  return todo || (barred ? words.checks.first : words.waitFor(it, past.value, out.value));
});

// What changes with a reading stands in a box whose size does not hang on it (.still): the browser sets
// that box anew and nothing around it.
export function TheNumber() {
  return (
    <div class={digitClass} data-testid="number">
      <div>
        <div class="number-line">
          <span class="number-main" data-testid="number-main">
            {main}
          </span>
          <span class="number-side">
            <span class="number-unit">{unit}</span>
            <span class="number-caption" data-testid="caption">
              {caption}
            </span>
          </span>
        </div>
      </div>
    </div>
  );
}

export function Net() {
  return (
    <b class={netClass}>
      <span>{net}</span>
    </b>
  );
}

const accept = computed(() => words.weigh.acceptNet(live.value?.net_g ?? null));

/** What stands on the big button: what it does, else what is waited for. */
export function buttonText(it: Live): ReadonlySignal<string> | string {
  const first = primary(it);
  if (first === null) return wait;
  if (first.do === "accept" && it.verdict === "on target") return accept;
  if (first.do === "tare") return out.value ? words.outOf.tare : vesselThere(it) ? words.vessels.tare(vesselThere(it)) : words.weigh.tareFirst;
  if (first.do === "resume" && out.value) return words.outOf.resume;
  if (first.do === "resume" && (it.held?.sum_g ?? it.sum_g ?? null) === null) return words.weigh.resumeEmpty;
  if (first.do === "resume" && it.held?.sum_within_g) return words.weigh.resumeAbout;
  return words.act(first.do, it.verdict, out.value);
}

const interval = computed(() => scale.value?.interval_g ?? null);

/** A name longer than this, in letters, is set smaller: the tape must stay in sight. */
const LONG_NAME = 36;

export function Head({ addition, of }: { addition: Addition; of: number }) {
  return (
    <header class="stage-head">
      <div class="stage-what">
        <h1 data-testid="ingredient" class={addition.name.length > LONG_NAME ? "long" : undefined}>
          {words.planned.called(addition.name, addition.step)}
        </h1>
        {addition.step && (
          <p class="place" data-testid="place">
            {words.planned.place(addition)}
          </p>
        )}
        {out.value && <p class="hint">{words.outOf.role}</p>}
        {addition.step && words.planned.role(addition) && <p class="hint">{words.planned.role(addition)}</p>}
        {addition.allergens.length > 0 && (
          <p class="allergens">
            <Shape name="warn" />
            {words.weigh.allergens(addition.allergens.join(", "))}
          </p>
        )}
        {addition.caution && <p class="hint">{addition.caution}</p>}
        {words.recovery.piece(addition, batch.value) && <p class="hint">{words.recovery.piece(addition, batch.value)}</p>}
      </div>
      <dl class="stage-target">
        <dt>{words.weigh.target}</dt>
        <dd class="far">{massWithUnit(addition.target_g)}</dd>
        <dd class="near">{words.weigh.between(addition.low_g, addition.high_g, interval.value)}</dd>
      </dl>
      <span class="visually-hidden">{words.weigh.nth(addition.n, of)}</span>
    </header>
  );
}

export function Plate({ of }: { of: number }) {
  void stance.value;
  const it = live.peek();
  if (it === null) return null;
  const shape = fresh.value ? look(it, past.peek(), cue.peek()).shape : "lost";
  return (
    <div class="plate">
      <Shape name={shape} />
      <strong data-testid="phase">{fresh.value ? words.phase(it, past.peek(), cue.peek(), out.peek()) : words.link.plate}</strong>
      <span class="plate-nth">{words.weigh.nth(it.addition, of)}</span>
    </div>
  );
}

/** One word between two silhouettes, for whatever bar it fills. */
export function CueFace({ cue }: { cue: Cue }) {
  return (
    <>
      <Shape name={cueShape(cue)} />
      <span>{words.cue(cue)}</span>
      <Shape name={cueShape(cue)} />
    </>
  );
}
