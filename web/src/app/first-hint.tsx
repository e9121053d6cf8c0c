// Said while somebody weighs for the first time, and at the end of that: never again after it.

import { computed } from "@preact/signals";
import { first, type Hint, hintAt, said } from "../core/first.ts";
import { to } from "../core/routes.ts";
import { Shape } from "./shapes.tsx";
import { batch, current, fresh, live, past, requests, route, scale, scales } from "./store.ts";
import { isFirst, simulated, unscaled, walk } from "./walk.ts";

const BOWL_G = "251.3";
const TOO_MUCH: readonly Hint[] = ["over", "much", "take out"];

const hint = computed(() => {
  const it = live.value;
  if (it === null || !isFirst.value || batch.value?.status !== "open") return null;
  return hintAt(it, past.value, scale.value?.link === "live");
});

/** What pretend hands do about it, beside pouring. */
function deedAt(now: Hint): { text: string; body: object } | null {
  if (now === "set down") return { text: first.hints.pretend, body: { do: "vessel", mass_g: BOWL_G } };
  const surplus = -Number(live.peek()?.to_go_g ?? 0);
  return TOO_MUCH.includes(now) && surplus > 0 ? { text: first.hints.pretendTake, body: { do: "take", g: surplus.toFixed(1) } } : null;
}

/** What to do now, in a line above the board. */
export function FirstHint() {
  const now = hint.value;
  if (now === null || !fresh.value || route.value.screen !== "bench") return null;
  const deed = deedAt(now);
  return (
    <div class="banner first-hint" data-testid="first-hint" data-hint={now}>
      <Shape name="note" />
      <p role="status" aria-label={first.hints.label}>
        {said(now, current.value, simulated.value)}
      </p>
      {simulated.value && deed !== null && (
        <button type="button" class="plain" onClick={() => void requests.send("api/simulation", deed.body)}>
          {deed.text}
        </button>
      )}
    </div>
  );
}

/** On other screens: that there is something to go on with. */
export function WalkLine() {
  const here = route.value.screen;
  const bare = unscaled.value && ["start", "scales", "formulas", "formula", "new-formula"].includes(here);
  const under = walk.value === "on" && here !== "bench";
  if (here === "first" || !(bare || under)) return null;
  return (
    <div class="banner first-hint" data-testid="walk-line">
      <Shape name="note" />
      <p>{under ? first.unfinished : first.noScale}</p>
      <a class="plain" href={under ? to.bench() : to.first("scale")}>
        {under ? first.goOn : first.setUp}
      </a>
    </div>
  );
}

/** What the first batch left behind, and where to go from there. */
export function FirstEnd() {
  const it = batch.value;
  if (it === null || !isFirst.value || it.status === "abandoned") return null;
  const w = first.end;
  const weighed = it.additions.filter((one) => one.status === "accepted").length;
  const pretend = simulated.value && Object.values(scales.value).some((one) => one.driver === "simulated");
  return (
    <section class="first-end" data-testid="first-end">
      <h2>{w.title}</h2>
      <p>
        {w.held(weighed)} {pretend && w.simulated}
      </p>
      <h3>{w.where}</h3>
      <nav class="row" aria-label={w.where}>
        <a class="plain" href={to.record(it.id)}>
          {w.record}
        </a>
        {it.status === "closed" && (
          <a class="plain" href={to.labels("batch", it.id)}>
            {w.label}
          </a>
        )}
        <a class="plain" href={to.scales()}>
          {w.check}
        </a>
        <a class="plain" href={to.newFormula()}>
          {w.another}
        </a>
        {pretend && (
          <a class="plain" href={to.first("add")}>
            {w.real}
          </a>
        )}
      </nav>
      <p class="soft">{w.help}</p>
    </section>
  );
}

/** In the settings: the way to one more. */
export function AddScale() {
  const s = first.settings;
  return (
    <section>
      <h2>{s.title}</h2>
      <p class="soft">{s.more}</p>
      <a class="plain" href={to.first("add")}>
        {simulated.value ? s.real : s.add}
      </a>
    </section>
  );
}
