// What the page knows: signals filled by the live link, and the few things the page itself decides.

import { batch as together, computed, effect, signal } from "@preact/signals";
import { refusedAs } from "../core/answers.ts";
import { type Act, asShown, disturbance, pastLimit, vesselOn, vesselThere } from "../core/choice.ts";
import { shownCue } from "../core/cue.ts";
import { type Command, newKey, type Problem, Requests } from "../core/commands.ts";
import type { Batch, Live, Scale, Station } from "../core/frames.ts";
import { TWICE_MS } from "../core/keys.ts";
import { Link, type LinkStatus } from "../core/link.ts";
import type { Outgoing } from "../core/outgoing.ts";
import { NOBODY, type People } from "../core/people.ts";
import { NOTHING, type Process } from "../core/process.ts";
import { readRoute, type Route } from "../core/routes.ts";
import { CALM } from "../core/refusals.ts";
import { stray } from "../core/stray.ts";
import { words } from "../core/words.ts";
import { socketTo, timers } from "./listening.ts";

export const station = signal<Station | null>(null);
export const scales = signal<Record<string, Scale>>({});
export const batch = signal<Batch | null>(null);
export const live = signal<Live | null>(null);
export const inProcess = signal<Process>(NOTHING);
/** When the newest picture of the batches in process came, on this page's clock, in ms. */
export let processCame = 0;
export const link = signal<LinkStatus>("connecting");
/** The station does not know this device: nothing of it is shown but the way in. */
export const shut = signal(false);
/** How often it was in vain to knock, or the link was cut. */
export const knocks = signal(0);
/** How often the station came back after it was lost. */
export const returns = signal(0);

export type DialogName = "recover" | "wrong" | "trouble" | "scale" | "reason" | "abandon" | "lot" | "scan" | "keys" | "menu";
export const dialog = signal<DialogName | null>(null);
export const busy = signal<string | null>(null);
export const complaint = signal<string>("");
/** What is told needs nothing done: what was wanted has happened by other hands. */
export const calm = signal(false);
/** How the record goes to the shared store; null where there is none. */
export const sharing = signal<Outgoing | null>(null);
/** The code of the last refusal, where one stands on the board. */
export const refused = signal<string>("");
export const putAway = signal<ReadonlySet<string>>(new Set());
export const route = signal<Route>(readRoute(location.hash));
addEventListener("hashchange", () => {
  route.value = readRoute(location.hash);
  complaint.value = "";
  dialog.value = null;
});

/** A screen on the wall shows the station and asks nothing of it. */
export const onWall = computed(() => route.value.screen === "wall" && route.value.on);

/** Is what is shown the newest there is? Where not, numbers are dashes. */
export const fresh = computed(() => link.value === "live");

/** The addition being weighed now. */
export const current = computed(
  () => batch.value?.additions.find((a) => a.n === (live.value?.addition ?? batch.value?.current)) ?? null,
);

/** The scale of the addition being weighed, or the first there is. */
export const scale = computed(() => {
  const name = live.value?.scale;
  return (name ? scales.value[name] : undefined) ?? Object.values(scales.value)[0] ?? null;
});

/** More is in than the limit allows. */
export const past = computed(() => pastLimit(live.value, current.value));

/** What the cook is told now, with its landing; and the word of it alone. */
export const guidance = computed(() => shownCue(live.value, fresh.value));
export const cue = computed(() => guidance.value?.cue ?? null);

/** All of `live` but its masses (and whether one is a vessel): components wake only for this. */
export const stance = computed(() => {
  const it = live.value;
  if (it === null) return "";
  return JSON.stringify([it.batch, it.addition, it.scale, it.phase, disturbance(it), it.verdict, it.held, it.can,
    vesselOn(it), it.lifted, it.left, it.vessel, it.full, it.taking_out && past.value, it.zero, it.drift_g_min, it.due,
    it.off, it.perhaps_on, cue.value]);
});

const stepped = computed(() => `${live.value?.batch}/${live.value?.addition}/${live.value?.phase}`);

// What was said about one phase of one addition is no longer true of the next.
effect(() => {
  void stepped.value;
  complaint.value = "";
  refused.value = "";
});

// --- the person at the page: remembered on this device ------------------------------------------

export function recall(name: string): string {
  try {
    return localStorage.getItem(`weighd.${name}`) ?? "";
  } catch {
    return ""; // storage may be forbidden; then nothing is remembered
  }
}

export function remember(name: string, value: string): void {
  try {
    localStorage.setItem(`weighd.${name}`, value);
  } catch {
    // as above
  }
}

export const operator = signal(recall("operator"));
export const usualScale = signal(recall("scale"));

// --- the outside --------------------------------------------------------------------------------

export const requests = new Requests({
  // The one door to the station: on a screen on the wall it is shut.
  fetch: async (path, init) => {
    if (onWall.peek() && !shut.peek()) throw new Error("a screen on the wall asks for nothing");
    return fetch(new URL(path, document.baseURI), { ...init, cache: "no-store" });
  },
  pause: (ms) => new Promise((done) => setTimeout(done, ms)),
  key: () => newKey(crypto),
  allow: async (problem) => {
    await askPeople(); // whoever was signed in may not be any more
    return new Promise((settle) => {
      asking.value?.settle(null);
      asking.value = { problem, settle };
    });
  },
});

// --- who is there -------------------------------------------------------------------------------

export const people = signal<People>(NOBODY);
/** The sheet in which somebody signs in is open; or one in which somebody allows one act. */
export const signing = signal(false);
export const asking = signal<{ problem: Problem; settle(lent: string | null): void } | null>(null);

/** What became of asking somebody who may: a token, nothing where they signed in, null for no. */
export function settlePerson(lent: string | null): void {
  const it = asking.peek();
  asking.value = null;
  it?.settle(lent);
}

let stays: ReturnType<typeof setTimeout> | undefined;

/** Ask the station who is there; asked again when whoever is signed in may have stayed too long. */
export async function askPeople(): Promise<void> {
  const answer = await requests.get<People>("api/people");
  if (answer.kind !== "ok") return;
  const it = answer.value;
  if (JSON.stringify(it) !== JSON.stringify(people.peek())) people.value = it;
  if (it.me) operator.value = it.me.name;
  else if (it.listed && !it.people.some((one) => one.name === operator.peek())) operator.value = "";
  clearTimeout(stays);
  if (it.me) stays = setTimeout(() => void askPeople(), (it.me.left_s + 1) * 1000);
}

export async function signOut(): Promise<void> {
  await requests.ask("api/sign-out", {});
  operator.value = "";
  await askPeople();
}

// Another page may have changed the list, or the station have been started anew meanwhile.
effect(() => {
  if (link.value === "live" && !onWall.value) void askPeople();
});

let away = false;

export const theLink = new Link(
  socketTo("api/live"),
  timers,
  {
    picture: (state) =>
      together(() => {
        if (state.station !== station.peek()) station.value = state.station;
        if (state.scales !== scales.peek()) scales.value = state.scales;
        if (state.batch !== batch.peek()) batch.value = state.batch;
        if ((state.sharing ?? null) !== sharing.peek()) sharing.value = state.sharing ?? null;
        const made = state.process ?? NOTHING;
        if (made !== inProcess.peek()) {
          processCame = performance.now();
          inProcess.value = made;
        }
        live.value = asShown(state.live, state.live ? state.scales[state.live.scale] : undefined);
      }),
    status: (status) => {
      if (status === "lost") knocks.value += 1;
      if (status === "live" && link.peek() === "lost") away = true;
      if (status === "live" && away) returns.value += 1;
      if (status === "live") away = false;
      if (status === "lost" && station.peek() !== null) away = true;
      link.value = status;
    },
  },
);

// --- commands -----------------------------------------------------------------------------------

function complain(problem: Problem): void {
  refused.value = problem.code;
  calm.value = CALM.has(problem.code);
  // Being asked for a reason is not a failure: the board says so by itself.
  complaint.value =
    problem.code === "needs-reason" ? "" : refusedAs(problem);
}

/** Until the command before has been answered. */
function free(): Promise<void> {
  if (busy.peek() === null) return Promise.resolve();
  return new Promise((done) => {
    const stop = effect(() => {
      if (busy.value !== null) return;
      done();
      queueMicrotask(() => stop());
    });
  });
}

/** Send a command for the addition on the board, after the one before. True when the station took it. */
export async function command(what: string, more: Partial<Command> = {}): Promise<boolean> {
  const open = batch.peek();
  if (open === null) return false;
  if (!fresh.peek()) {
    calm.value = false;
    complaint.value = stray.unsent;
    return false;
  }
  // Meant for what is on the board now, not for what may be there after waiting.
  const addition = what === "abandon" ? null : (live.peek()?.addition ?? null);
  const by = operator.peek() || open.operator || null;
  while (busy.peek() !== null) await free();
  busy.value = what;
  complaint.value = "";
  refused.value = "";
  const answer = await requests.command(open.id, { do: what, addition, by, ...more });
  busy.value = null;
  if (answer.kind === "refused") complain(answer.problem);
  if (answer.kind === "unreachable") {
    calm.value = false;
    complaint.value = words.unreachable;
  }
  return answer.kind === "ok";
}

let lastAct = -Infinity;

/** Do what a button says; what needs more to be said opens its dialog. Pressed twice is once. */
export function act(it: Act | null): void {
  if (it === null || !fresh.peek() || busy.peek() !== null) return;
  const now = performance.now();
  if (now - lastAct < TWICE_MS) return;
  lastAct = now;
  const verdict = live.peek()?.verdict ?? null;
  const off = verdict !== null && verdict !== "on target";
  if (it.do === "accept with reason" || (it.do === "accept" && off)) dialog.value = "reason";
  else if (it.do === "tare another") void command("tare", { confirm: true });
  else if (it.do === "tare") void command("tare", named(live.peek()));
  else void command(it.do);
}

/** The vessel that stands there, where the page can tell which it is. */
export function named(it: Live | null): Partial<Command> {
  const name = it === null ? "" : vesselThere(it);
  return name ? { vessel: name } : {};
}
