// The silhouettes: one for each phase and verdict, told apart without colour. Drawn on 48 by 48.

import { disturbance, standing, vesselOn } from "../core/choice.ts";
import type { Cue, Live } from "../core/frames.ts";

const BOWL = "M6 26h36a18 18 0 0 1-36 0z";
const BOWL_RIM = "M6 26h36a18 18 0 0 1-36 0zm4.6 4a14 14 0 0 0 26.8 0z";

const shapes = {
  place: <path fill-rule="evenodd" d="M21 3h6v11h7L24 25 14 14h7zM4 38h40v6H4zM6 30h5v5H6zm31 0h5v5h-5z" />,
  tare: <path fill-rule="evenodd" d={`M4 42h40v4H4z M21 2h6v7h-6z M14 12h20v4H14z ${"M7 20h34a17 17 0 0 1-34 0zm4.8 4a13 13 0 0 0 24.4 0z"}`} />,
  ready: <path fill-rule="evenodd" d={`M21 2h6v9h7L24 22 14 11h7z ${BOWL_RIM}`} />,
  pouring: <path d={`M12 3h5v18h-5z M21.5 3h5v18h-5z M31 3h5v18h-5z ${BOWL}`} />,
  slow: (
    <>
      <path class="drop" d="M24 0l6 9.500a7.200 7.200 0 1 1-12 0z" />
      <path d={BOWL} />
    </>
  ),
  stop: <path fill-rule="evenodd" d="M15 2h18l13 13v18L33 46H15L2 33V15zm-4 18v8h26v-8z" />,
  sound: (
    <path
      fill-rule="evenodd"
      d="M4 17h9L26 6v36L13 31H4zM31 16.500a10.500 10.500 0 0 1 0 15zM33 7.500l3-3.500a26 26 0 0 1 0 40l-3-3.500a21.500 21.500 0 0 0 0-33z"
    />
  ),
  mute: <path fill-rule="evenodd" d="M4 17h9L26 6v36L13 31H4zM30 19l3-3 5 5 5-5 3 3-5 5 5 5-3 3-5-5-5 5-3-3 5-5z" />,
  settling: (
    <path
      fill="none"
      stroke="currentColor"
      stroke-width="5.5"
      stroke-linecap="round"
      d="M5 13q4.75-7 9.5 0t9.5 0 9.5 0 9.5 0M5 25q4.75-7 9.5 0t9.5 0 9.5 0 9.5 0M5 37q4.75-7 9.5 0t9.5 0 9.5 0 9.5 0"
    />
  ),
  good: (
    <path
      fill-rule="evenodd"
      d="M24 2a22 22 0 1 0 0 44 22 22 0 0 0 0-44zm-4.5 32.5L10 25l4-4 5.500 5.500L34 12l4 4z"
    />
  ),
  short: <path fill-rule="evenodd" d="M3 10h42v14a21 21 0 0 1-42 0zm5 5v9h32v-9z" />,
  over: <path fill-rule="evenodd" d="M24 1l11.500 20h-23zM2 25h44v5H2zM10.300 34h27.400L46 47H2z" />,
  close: <path fill-rule="evenodd" d="M24 1l23 23-23 23L1 24zm0 7.500v31L39.500 24z" />,
  lost: <path fill-rule="evenodd" d="M4 4h40v40H4zm9.500 6L10 13.500 20.500 24 10 34.500l3.500 3.500L24 27.500 34.500 38l3.500-3.500L27.500 24 38 13.500 34.500 10 24 20.500z" />,
  silent: <path fill-rule="evenodd" d="M4 4h40v40H4zm6 16.500v7h7v-7zm10.500 0v7h7v-7zm10.500 0v7h7v-7z" />,
  zero: <path fill-rule="evenodd" d="M4 4h40v40H4zm20 6c-6 0-9 6-9 14s3 14 9 14 9-6 9-14-3-14-9-14zm0 5c2.500 0 3.800 4 3.800 9s-1.300 9-3.800 9-3.800-4-3.800-9 1.300-9 3.800-9z" />,
  disturbed: <path d="M4 28l8-18 8 20 8-24 8 22 4-8 5 3-10 20-8-20-7 23-8-21-4 8z" />,
  waiting: <path fill-rule="evenodd" d="M24 4a20 20 0 1 0 0 40 20 20 0 0 0 0-40zm0 5a15 15 0 1 1 0 30 15 15 0 0 1 0-30z" />,
  warn: <path fill-rule="evenodd" d="M24 2l23 42H1zm-3 14l1 16h4l1-16zm0 19v5h6v-5z" />,
  take: <path fill-rule="evenodd" d="M21 22h6V11h7L24 0 14 11h7zM4 38h40v6H4zM6 30h5v5H6zm31 0h5v5h-5z" />,
  fail: <path d="M11 3l13 13L37 3l8 8-13 13 13 13-8 8-13-13-13 13-8-8 13-13L3 11z" />,
  find: <path fill-rule="evenodd" d="M20 3a17 17 0 1 0 10.200 30.600L42 45.500l4-4-11.900-11.900A17 17 0 0 0 20 3zm0 6a11 11 0 1 1 0 22 11 11 0 0 1 0-22z" />,
  note: <path fill-rule="evenodd" d="M8 3h32v42H8zm6 8v4h20v-4zm0 9v4h20v-4zm0 9v4h12v-4z" />,
};

export type ShapeName = keyof typeof shapes;

export function Shape({ name, class: extra = "" }: { name: ShapeName; class?: string }) {
  return (
    <svg class={`shape shape-${name} ${extra}`} viewBox="0 0 48 48" fill="currentColor" aria-hidden="true">
      {shapes[name]}
    </svg>
  );
}

export type Tone = "quiet" | "flow" | "slow" | "halt" | "good" | "short" | "over" | "close" | "stop";

const verdictLooks: Record<string, [ShapeName, Tone]> = {
  "on target": ["good", "good"],
  short: ["short", "short"],
  over: ["over", "over"],
  "too close to call": ["close", "close"],
};

export const verdictShape = (verdict: string): ShapeName => verdictLooks[verdict]?.[0] ?? "waiting";
export const verdictTone = (verdict: string): Tone => verdictLooks[verdict]?.[1] ?? "quiet";

const outcomeLooks: Record<string, [ShapeName, Tone]> = {
  pass: ["good", "good"],
  fail: ["fail", "over"],
  "too close to call": ["close", "close"],
};

export const outcomeShape = (outcome: string): ShapeName => outcomeLooks[outcome]?.[0] ?? "waiting";
export const outcomeTone = (outcome: string): Tone => outcomeLooks[outcome]?.[1] ?? "quiet";

const cueLooks: Record<Cue, [ShapeName, Tone]> = {
  pour: ["pouring", "flow"],
  slow: ["slow", "slow"],
  stop: ["stop", "halt"],
};

export const cueShape = (cue: Cue): ShapeName => cueLooks[cue][0];

/** Shape and tone of the board: the same facts that words.phase() puts into a word. */
export function look(live: Live, past: boolean, cue: Cue | null): { shape: ShapeName; tone: Tone } {
  const pair = ([shape, tone]: [ShapeName, Tone]) => ({ shape, tone });
  if (live.phase === "held" && live.held) {
    const cause = live.held.cause;
    if (cause === "scale lost") return pair(["lost", "stop"]);
    if (cause === "scale silent") return pair(["silent", "stop"]);
    if (cause === "scale at zero") return pair(["zero", "stop"]);
    return pair(verdictLooks[standing(live) ?? cause] ?? ["warn", "stop"]);
  }
  if (live.phase === "judged" && live.verdict) return pair(verdictLooks[live.verdict]!);
  if (disturbance(live)) return pair(["disturbed", "stop"]);
  if (live.taking_out && past) return pair(verdictLooks["over"]!);
  if (live.phase === "awaiting vessel") {
    return vesselOn(live) ? pair(["tare", "quiet"]) : pair(["place", "quiet"]);
  }
  if (live.phase === "ready") return pair(["ready", "flow"]);
  if (live.phase === "pouring") return pair(cueLooks[cue ?? "pour"]);
  if (live.phase === "settling") return pair(["settling", "flow"]);
  return pair(["waiting", "quiet"]);
}
