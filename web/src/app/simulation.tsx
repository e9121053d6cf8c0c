// Pretend hands for a pretend scale: only there when the station says that it simulates.

import { computed, effect, signal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { pretendFlow } from "../core/first.ts";
import { words } from "../core/words.ts";
import { Said } from "./said.tsx";
import { Shape } from "./shapes.tsx";
import { cue, inProcess, current, fresh, live, requests, scale, scales, station } from "./store.ts";
import { isFirst } from "./walk.ts";

const w = words.simulation;
const SPEEDS = [
  ["slow", "2"],
  ["middle", "20"],
  ["fast", "80"],
] as const;
const VESSEL_G = "251.3";
const TAKE_G = "5";
const LOOK_MS = 4000;

interface World {
  cook?: { working?: boolean };
  load?: { off?: boolean };
}

const open = signal(false);
const speed = signal<string>(SPEEDS[1][1]);
const pouring = signal(false);
const working = signal(false);
const off = signal(false);
const failed = signal(false);

// One after the other: a "stop" must never overtake the "pour" it ends.
let line: Promise<unknown> = Promise.resolve();

function ask(body: object): void {
  line = line.then(async () => {
    const answer = await requests.send<World>("api/simulation", body);
    failed.value = answer.kind !== "ok";
    if (answer.kind === "ok") learn(answer.value);
  });
}

function learn(world: World): void {
  if (typeof world?.cook?.working === "boolean") working.value = world.cook.working;
  if (typeof world?.load?.off === "boolean") off.value = world.load.off;
}

function pour(): void {
  if (pouring.peek()) return;
  pouring.value = true;
  flow = isFirst.peek() ? pretendFlow(live.peek()?.to_go_g ?? null, false) : speed.peek();
  ask({ do: "pour", g_per_s: flow });
}

let flow = "0";

// Whoever weighs for the first time has one thing to mind: the word. The pretend hand minds the flow, less
// and less of it the less is to go.
effect(() => {
  const left = live.value?.to_go_g ?? null;
  if (cue.value !== "slow" || !pouring.peek() || !isFirst.peek()) return;
  const less = pretendFlow(left, true);
  if (Number(less) > 0.75 * Number(flow)) return;
  flow = less;
  ask({ do: "pour", g_per_s: flow });
});

function stop(): void {
  if (!pouring.peek()) return;
  pouring.value = false;
  ask({ do: "stop" });
}

// However the hand lets go: a pour that nobody holds must not run on.
addEventListener("blur", stop);
addEventListener("pagehide", stop);
document.addEventListener("visibilitychange", () => document.hidden && stop());

/** What a pretend container holds of the ingredient that is poured out of it; null where none is. */
const outOf = computed(() => (words.vessels.isOut(current.value) ? String(2 * Number(current.value?.target_g ?? 0)) : null));
/** What a pretend hand pours out of it: what is to go. */
const toPour = computed(() => {
  const left = live.value?.to_go_g ?? null;
  return left === null || Number(left) <= 0 ? null : left;
});

function PourButton() {
  const isHold = (key: string) => key === " " || key === "Enter";
  return (
    <button
      type="button"
      class={pouring.value ? "pour is-pouring" : "pour"}
      data-testid="pour"
      disabled={!fresh.value}
      onPointerDown={(e) => {
        if (e.button !== 0) return;
        // A touch is held by the button it began on; let go, so that sliding off it ends the pour.
        if (e.currentTarget.hasPointerCapture(e.pointerId)) e.currentTarget.releasePointerCapture(e.pointerId);
        pour();
      }}
      onPointerUp={stop}
      onPointerCancel={stop}
      onPointerLeave={stop}
      onContextMenu={(e) => e.preventDefault()}
      onKeyDown={(e) => {
        if (!isHold(e.key)) return;
        e.preventDefault();
        if (!e.repeat) pour();
      }}
      onKeyUp={(e) => isHold(e.key) && stop()}
      onBlur={stop}
    >
      <Shape name="pouring" />
      {pouring.value ? w.pouring : w.pour}
    </button>
  );
}

function Speeds() {
  return (
    <fieldset class="speeds">
      <legend>{w.speed}</legend>
      {SPEEDS.map(([name, g]) => (
        <label class="choice" key={g}>
          <input type="radio" name="speed" checked={speed.value === g} onChange={() => (speed.value = g)} />
          <span>{w.speeds[name]}</span>
        </label>
      ))}
    </fieldset>
  );
}

function Deed({ body, children }: { body: object; children: string }) {
  return (
    <button type="button" class="plain" disabled={!fresh.value} onClick={() => ask(body)}>
      {children}
    </button>
  );
}

/** The weights of a check, where one is set up: pretend ones. */
function Weights() {
  const check = Object.values(scales.value).find((it) => it.check)?.check ?? null;
  if (check === null) return null;
  return (
    <div class="deeds deeds-weights" data-testid="pretend-weights">
      {check.weights.map((it) => (
        <Deed key={it.name} body={{ do: "weight", g: it.nominal_g }}>
          {words.checks.simulated(it)}
        </Deed>
      ))}
      <Deed body={{ do: "weight off" }}>{words.checks.simulatedOff}</Deed>
    </div>
  );
}

/** How much time can be let pass at once, for the steps after weighing. */
const WAITS_MIN = [1, 10, 60, 240];

export function Simulation() {
  const on = station.value?.simulation ?? false;
  // Another page, or a new start of the station, may have sent the cook off or called them back.
  useEffect(() => {
    if (!on || !fresh.value) return;
    const look = () => {
      if (!document.hidden) void requests.get<World>("api/simulation").then((it) => it.kind === "ok" && learn(it.value));
    };
    look();
    const again = setInterval(look, LOOK_MS);
    return () => clearInterval(again);
  }, [on, fresh.value]);
  if (!on) return null;
  const gone = scale.value?.link === "lost";
  return (
    <aside class={open.value ? "simulation is-open" : "simulation"} aria-label={w.title} data-testid="simulation">
      <div class="simulation-bar">
        <strong>{w.title}</strong>
        <PourButton />
        <button
          type="button"
          class="plain simulation-toggle"
          aria-expanded={open.value}
          aria-label={open.value ? w.shut : w.open}
          onClick={() => (open.value = !open.value)}
        >
          <svg class="chevron" viewBox="0 0 24 24" aria-hidden="true">
            <path d="M4 16l8-8 8 8" />
          </svg>
        </button>
      </div>
      <div class="simulation-more">
        <p class="simulation-note">{w.note}</p>
        <Speeds />
        <div class="deeds">
          {outOf.value === null ? (
            <Deed body={{ do: "vessel", mass_g: VESSEL_G }}>{w.vessel}</Deed>
          ) : (
            <Deed body={{ do: "vessel", mass_g: VESSEL_G, contents_g: outOf.value }}>{w.container}</Deed>
          )}
          <Deed body={{ do: "lift" }}>{w.lift}</Deed>
          {outOf.value !== null && toPour.value !== null && <Deed body={{ do: "pour out", g: toPour.value }}>{w.pourOut}</Deed>}
          <Deed body={{ do: "put back" }}>{w.back}</Deed>
          <Deed body={{ do: "take", g: TAKE_G }}>{w.take(TAKE_G)}</Deed>
          <Deed body={{ do: "bump" }}>{w.bump}</Deed>
          <Deed body={{ do: "zero key" }}>{w.zeroKey}</Deed>
          {off.value ? <Deed body={{ do: "on" }}>{w.switchOn}</Deed> : <Deed body={{ do: "off" }}>{w.switchOff}</Deed>}
          {gone ? <Deed body={{ do: "plug" }}>{w.plug}</Deed> : <Deed body={{ do: "unplug" }}>{w.unplug}</Deed>}
        </div>
        {inProcess.value.batches.length > 0 && (
          <div class="deeds" data-testid="pretend-time">
            {WAITS_MIN.map((minutes) => (
              <Deed key={minutes} body={{ do: "wait", minutes }}>
                {w.wait(minutes)}
              </Deed>
            ))}
          </div>
        )}
        <Weights />
        <label class="choice cook">
          <input
            type="checkbox"
            checked={working.value}
            disabled={!fresh.value}
            onChange={(e) => ask({ do: "cook", working: e.currentTarget.checked })}
          />
          <span>{w.cook}</span>
        </label>
        {failed.value && (
          <p class="complaint" role="alert">
            <Said text={w.failed} />
          </p>
        )}
      </div>
    </aside>
  );
}
