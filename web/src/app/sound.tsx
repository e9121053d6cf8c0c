// The cue, heard: tones made here, no files. Off until somebody switches it on, and never loud.

import { computed, effect, signal } from "@preact/signals";
import { Beats, heardCue, type Sound } from "../core/cue.ts";
import { words } from "../core/words.ts";
import { Shape } from "./shapes.tsx";
import { fresh, live, recall, remember } from "./store.ts";

/** The most that leaves the page, of a full scale of 1; the volume of the device is above it. */
const LOUDEST = 0.22;

/** Whether the cue is to be heard; remembered on this device. */
export const sound = signal(recall("sound") === "on");
/** Browsers let a page sound only after somebody touched it. */
const awake = signal(false);

let context: AudioContext | null = null;
let out: GainNode | null = null;

function wake(): void {
  if (!sound.peek() || typeof AudioContext === "undefined") return;
  if (context === null) {
    context = new AudioContext();
    out = context.createGain();
    out.gain.value = LOUDEST;
    out.connect(context.destination);
    context.onstatechange = () => (awake.value = context?.state === "running");
  }
  void context.resume();
  awake.value = context.state === "running";
}

/** One tone: `level` of the loudest, dying away within `seconds`. */
function tone(hertz: number, at: number, seconds: number, level: number, kind: OscillatorType): void {
  if (context === null || out === null) return;
  const voice = context.createOscillator();
  const shape = context.createGain();
  voice.type = kind;
  voice.frequency.value = hertz;
  shape.gain.setValueAtTime(0.0001, at);
  shape.gain.exponentialRampToValueAtTime(level, at + 0.008);
  shape.gain.exponentialRampToValueAtTime(0.0001, at + seconds);
  voice.connect(shape);
  shape.connect(out);
  voice.start(at);
  voice.stop(at + seconds + 0.02);
}

function play(what: Sound): void {
  // A context that sleeps would keep what it is given, and sound all of it on waking.
  if (context === null || context.state !== "running") return;
  const now = context.currentTime;
  if (what === "tick") tone(1480, now, 0.05, 0.4, "triangle");
  else {
    tone(622, now, 0.2, 1, "triangle");
    tone(415, now + 0.18, 0.34, 1, "triangle");
  }
}

const beats = new Beats(play, {
  after: (ms, call) => setTimeout(call, ms),
  cancel: (timer) => clearTimeout(timer as number),
  now: () => performance.now(),
});
const heard = computed(() => (sound.value ? heardCue(live.value, fresh.value) : null));
effect(() => beats.follow(heard.value));

/** Switch the sound on or off: by a button or a key, so that the browser lets it sound. */
export function switchSound(): void {
  sound.value = !sound.peek();
  remember("sound", sound.peek() ? "on" : "off");
  wake();
  if (sound.peek()) play("tick");
}

for (const gesture of ["pointerdown", "keydown"]) addEventListener(gesture, wake);

/** The switch in the bar. */
export function SoundSwitch() {
  const on = sound.value;
  const said = !on ? words.sound.off : awake.value ? words.sound.on : words.sound.asleep;
  return (
    <button
      type="button"
      class="plain bar-sound"
      data-testid="sound"
      aria-pressed={on}
      aria-label={words.sound.name}
      title={said}
      data-asleep={(on && !awake.value) || undefined}
      onClick={switchSound}
    >
      <Shape name={on ? "sound" : "mute"} />
    </button>
  );
}
