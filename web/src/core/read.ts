// Reads a frame off the wire. A frame that is not of the agreed shape is refused here, at the door,
// and named; past this point the types of frames.ts hold.

import type { Frame, State } from "./frames.ts";

export class FrameError extends Error {}

type Check = (value: unknown, where: string) => void;

const fail = (where: string, wanted: string): never => {
  throw new FrameError(`${where}: not ${wanted}`);
};
export const string: Check = (v, w) => void (typeof v === "string" || fail(w, "text"));
const number: Check = (v, w) =>
  void ((typeof v === "number" && Number.isFinite(v)) || fail(w, "a number"));
const boolean: Check = (v, w) => void (typeof v === "boolean" || fail(w, "true or false"));
const mass: Check = (v, w) =>
  void ((typeof v === "string" && /^-?\d+(\.\d+)?$/.test(v)) || fail(w, "a mass in grams"));

export const maybe =
  (check: Check): Check =>
  (v, w) =>
    void (v === null || check(v, w));
const absentOr =
  (check: Check): Check =>
  (v, w) =>
    void (v === undefined || check(v, w));
const oneOf =
  (...words: string[]): Check =>
  (v, w) =>
    void ((typeof v === "string" && words.includes(v)) || fail(w, `one of ${words.join(", ")}`));
const listOf =
  (check: Check): Check =>
  (v, w) => {
    if (!Array.isArray(v)) return fail(w, "a list");
    v.forEach((each, i) => check(each, `${w}[${i}]`));
  };
export const mapOf =
  (check: Check): Check =>
  (v, w) => {
    if (typeof v !== "object" || v === null || Array.isArray(v)) return fail(w, "an object");
    for (const [key, each] of Object.entries(v)) check(each, `${w}.${key}`);
  };
// Keys that are not named here are let through: a newer station may say more.
export const shape =
  (fields: Record<string, Check>): Check =>
  (v, w) => {
    if (typeof v !== "object" || v === null || Array.isArray(v)) return fail(w, "an object");
    for (const [key, check] of Object.entries(fields)) {
      check((v as Record<string, unknown>)[key], w ? `${w}.${key}` : key);
    }
  };

const verdict = oneOf("short", "on target", "over", "too close to call");

const station = shape({
  name: string,
  version: string,
  simulation: boolean,
  boot: string,
  notices: listOf(
    shape({ id: string, level: oneOf("info", "warn", "error"), code: string, text: string, at: string }),
  ),
  store: shape({ ok: boolean, code: string, text: string }),
  vessels: absentOr(
    listOf(shape({ name: string, mass_g: mass, u_g: mass, allow_g: mass, configured: boolean, scale: string, at: string })),
  ),
});

const fit = shape({ name: string, differs_g: mass, limit_g: mass });

const outcome = oneOf("pass", "fail", "too close to call");
const placed = {
  n: number,
  part: oneOf("zero", "mass", "corner", "repeatability"),
  place: string,
  weight: maybe(string),
  nominal_g: maybe(mass),
};
const found = { error_g: mass, u_g: mass, limit_g: mass, guard_g: mass, outcome };
const check = shape({
  then: oneOf("bars", "flags"),
  standing: oneOf("good", "overdue", "failed", "too close to call", "never checked"),
  barred: boolean,
  last: maybe(shape({ seq: number, at: string, outcome })),
  due: maybe(string),
  doubts: listOf(string),
  weights: listOf(shape({ name: string, nominal_g: mass })),
  placements: number,
  clearing: boolean,
  running: maybe(
    shape({
      of: number,
      wanted: oneOf("empty", "put", "remove", "nothing"),
      note: string,
      odd_g: maybe(mass),
      current: maybe(shape(placed)),
      net_g: maybe(mass),
      found: maybe(shape(found)),
      steps: listOf(shape({ ...placed, ...found, net_g: mass })),
    }),
  ),
});

const scale = shape({
  name: string,
  driver: string,
  max_g: maybe(mass),
  interval_g: maybe(mass),
  min_g: maybe(mass),
  link: oneOf("waiting", "live", "silent", "lost"),
  why: string,
  what: string,
  reading: maybe(
    shape({
      t: number,
      grams: maybe(mass),
      shown: maybe(string),
      unit: maybe(string),
      stable: maybe(boolean),
      over: boolean,
      fault: string,
    }),
  ),
  phase: maybe(string),
  readings: number,
  rejected: number,
  learned: absentOr(
    maybe(
      shape({
        since: maybe(string),
        looks: number,
        noise_g: mass,
        response_s: mass,
        readings_per_s: maybe(mass),
        flag_wrong: maybe(mass),
      }),
    ),
  ),
  last_rejected: string,
  check: absentOr(maybe(check)),
});

const batch = shape({
  id: string,
  formula: shape({ id: string, name: string, revision: string }),
  batch_g: mass,
  operator: string,
  opened: string,
  closed: maybe(string),
  status: oneOf("open", "in process", "closed", "abandoned"),
  rule: shape({ name: string, k: string }),
  allergens: listOf(string),
  current: maybe(number),
  additions: listOf(
    shape({
      n: number,
      ingredient: string,
      name: string,
      target_g: mass,
      low_g: mass,
      high_g: mass,
      tolerance: string,
      scale: string,
      lot: string,
      status: oneOf("accepted", "current", "waiting"),
      net_g: maybe(mass),
      deviation_g: maybe(mass),
      verdict: maybe(verdict),
      reason: string,
      allergens: listOf(string),
      judgeable: boolean,
      method: absentOr(oneOf("by difference")),
      step: absentOr(
        shape({ of: number, into: string, vessel: number, role: string, part: number, parts: number, premix: number, whole_g: mass }),
      ),
    }),
  ),
  first_out: absentOr(shape({ lot: string, left_g: mass, enough: boolean, use_by: string, best_before: string, opened: boolean })),
  acts: absentOr(listOf(shape({ do: oneOf("set down", "take off", "tip in", "stir"), vessel: string, scale: string, n: number }))),
});

const live = shape({
  batch: string,
  addition: number,
  scale: string,
  phase: oneOf("awaiting vessel", "ready", "pouring", "settling", "judged", "held"),
  why: string,
  settled: boolean,
  taking_out: boolean,
  zero: absentOr(maybe(shape({ cause: string, at: string, sum_g: maybe(mass) }))),
  drift_g_min: absentOr(maybe(mass)),
  gross_g: maybe(mass),
  tare_g: maybe(mass),
  net_g: maybe(mass),
  to_go_g: maybe(mass),
  u_g: maybe(mass),
  guard_g: absentOr(maybe(mass)),
  sum_g: absentOr(maybe(mass)),
  verdict: maybe(verdict),
  held: maybe(
    shape({
      sum_g: absentOr(maybe(mass)),
      sum_within_g: absentOr(maybe(mass)),
      cause: oneOf("over", "short", "too close to call", "scale lost", "scale silent", "scale at zero"),
      since: string,
    }),
  ),
  due: absentOr(maybe(shape({ due_g: maybe(mass), off_g: maybe(mass) }))),
  lifted: absentOr(boolean),
  left: absentOr(boolean),
  off: absentOr(boolean),
  perhaps_on: absentOr(boolean),
  vessel: absentOr(shape({ tared: string, chosen: string, standing: listOf(fit), differs: maybe(fit) })),
  full: absentOr(maybe(shape({ addition: number, ends_g: mass, most_g: mass, max_g: mass, beyond: boolean }))),
  can: listOf(string),
  cue: absentOr(
    maybe(shape({ cue: oneOf("pour", "slow", "stop"), landing_g: maybe(mass), sigma_g: maybe(mass) })),
  ),
});

const pair = { pair: string, celsius: string, time: string, time_s: mass, source: string, status: string };
const value = shape({ n: number, temperature: string, at: string, by: string, held_s: mass, entered: boolean, struck: string });
const dryIce = shape({
  asked: mapOf(string),
  counted_g: mass,
  heat_kj: absentOr(listOf(mass)),
  charge_g: absentOr(listOf(mass)),
  share_percent: absentOr(maybe(mass)),
  room: shape({ peak_ppm: mass, quarter_ppm: mass, shift_ppm: mass, above: listOf(string) }),
  weighed: absentOr(shape({ scale: string, tare_g: mass, net_g: mass, u_g: mass, rate_g_min: mass, u_rate_g_min: mass })),
  portions: listOf(shape({ n: number, at_s: number, grams: mass })),
});
const stepRun = shape({
  begun: string,
  by: string,
  confirmed: listOf(string),
  pair: string,
  dry_ice: absentOr(maybe(dryIce)),
  values: listOf(value),
  notes: listOf(shape({ text: string, at: string, by: string })),
  ended: maybe(string),
  outcome: maybe(oneOf("done", "held")),
  faults: listOf(string),
  reached: maybe(string),
  told: string,
  failed: string,
  decision: maybe(oneOf("repeat", "accept")),
  reason: string,
  decided_by: string,
});
const step = shape({
  n: number,
  kind: string,
  name: string,
  how: string,
  with: string,
  limits: string,
  needs_temperature: boolean,
  cautions: listOf(shape({ name: string, text: string })),
  table: maybe(shape({ id: string, name: string, note: string, notice: string, pairs: listOf(shape(pair)) })),
  status: oneOf("waiting", "next", "running", "held", "done", "accepted"),
  runs: listOf(stepRun),
});
const inProcess = shape({
  id: string,
  name: string,
  batch_g: mass,
  operator: string,
  weighed: string,
  state: oneOf("waiting", "running", "held", "done"),
  step: maybe(number),
  now: maybe(
    shape({
      elapsed_s: mass,
      least_s: maybe(mass),
      most_s: maybe(mass),
      met: boolean,
      out: listOf(string),
      awaited: listOf(string),
      hold: maybe(shape({ ...pair, since_s: maybe(mass), measured_s: maybe(mass), satisfied: maybe(string) })),
    }),
  ),
  held: maybe(shape({ faults: listOf(string), told: string, reason: string, heat: boolean, notice: string })),
  cooling: maybe(shape({ limits: string, source: string, status: string, since_s: mass, left_s: maybe(mass) })),
  can: listOf(string),
  steps: listOf(step),
});

const sections: Record<keyof State, Check> = {
  station,
  scales: mapOf(scale),
  batch: maybe(batch),
  live: maybe(live),
  process: absentOr(shape({ at: string, batches: listOf(inProcess) })),
  sharing: absentOr(
    maybe(
      shape({
        state: oneOf("current", "behind", "stopped"),
        store: string,
        behind: number,
        since: maybe(string),
        contact: maybe(string),
        code: string,
        why: string,
      }),
    ),
  ),
};

/** One frame of a picture, checked: all its sections in a snapshot, those that are named in a change.
 *  Raises FrameError naming the first place that is not as agreed. */
export function readTold(text: string, whole: Record<string, Check>, part = whole): Record<string, unknown> {
  let frame: unknown;
  try {
    frame = JSON.parse(text);
  } catch {
    throw new FrameError("frame: not JSON");
  }
  shape({ kind: oneOf("snapshot", "change", "beat"), seq: number })(frame, "");
  const it = frame as Record<string, unknown>;
  absentOr(number)(it["after"], "after");
  if (it["kind"] === "snapshot") shape(whole)(it["state"], "state");
  if (it["kind"] === "change") {
    for (const [name, check] of Object.entries(part)) {
      if (name in it) check(it[name], name);
    }
  }
  return it;
}

/** One frame of a station's own picture. Raises FrameError, as `readTold` does. */
export const readFrame = (text: string): Frame => readTold(text, sections) as unknown as Frame;

/** The picture after a change: a section named replaces the whole; of `scales` only those named. */
export function apply(before: State, change: Partial<State>): State {
  return {
    station: change.station ?? before.station,
    scales: change.scales ? { ...before.scales, ...change.scales } : before.scales,
    batch: change.batch === undefined ? before.batch : change.batch,
    live: change.live === undefined ? before.live : change.live,
    process: change.process ?? before.process,
    sharing: change.sharing === undefined ? before.sharing : change.sharing,
  };
}
