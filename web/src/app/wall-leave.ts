// How a screen on the wall is entered and left, and its pointer. Only what the browser itself does is listened to
// here: nothing of it reaches the station.

import { useEffect, useState } from "preact/hooks";
import { to } from "../core/routes.ts";

/** A pointer that lies still for this long is out of the way, in ms. */
const STILL_MS = 3000;

/** Fill the screen, where the browser can and may; the view comes in any case. */
export async function enter(whole: boolean): Promise<void> {
  if (whole) await document.documentElement.requestFullscreen?.({ navigationUI: "hide" }).catch(() => undefined);
  location.hash = to.wall(true);
}

export const canFill = (): boolean => document.fullscreenEnabled === true;

/** Esc leaves: by the browser's own key where the screen is filled, by ours where it is not. */
export function useLeaving(): void {
  useEffect(() => {
    const leave = () => {
      location.hash = to.wall();
    };
    const changed = () => document.fullscreenElement === null && leave();
    const pressed = (event: KeyboardEvent) => event.key === "Escape" && document.fullscreenElement === null && leave();
    document.addEventListener("fullscreenchange", changed);
    document.addEventListener("keydown", pressed);
    return () => {
      document.removeEventListener("fullscreenchange", changed);
      document.removeEventListener("keydown", pressed);
      if (document.fullscreenElement !== null) void document.exitFullscreen().catch(() => undefined);
    };
  }, []);
}

/** Whether the pointer has lain still. */
export function useStill(): boolean {
  const [still, set] = useState(false);
  useEffect(() => {
    let waits = setTimeout(() => set(true), STILL_MS);
    const moved = () => {
      set(false);
      clearTimeout(waits);
      waits = setTimeout(() => set(true), STILL_MS);
    };
    document.addEventListener("pointermove", moved);
    return () => {
      clearTimeout(waits);
      document.removeEventListener("pointermove", moved);
    };
  }, []);
  return still;
}

/** Drawn anew each second: times go on by themselves. */
export function useSeconds(): Date {
  const [now, tick] = useState(() => new Date());
  useEffect(() => {
    const beat = setInterval(() => tick(new Date()), 1000);
    return () => clearInterval(beat);
  }, []);
  return now;
}
