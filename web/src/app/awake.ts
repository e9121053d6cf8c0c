// While something is weighed or a batch is in process, and on a screen on the wall, the screen is kept from
// going dark: nobody has a dry hand to wake it. Browsers allow it on this machine and by TLS; where they do
// not, nothing is lost.

import { computed, effect } from "@preact/signals";
import { batch, inProcess, link, onWall } from "./store.ts";

export function keepAwake(): void {
  if (!("wakeLock" in navigator)) return;
  let held: WakeLockSentinel | null = null;
  const wanted = computed(() => onWall.value || (link.value === "live" && (batch.value?.status === "open" || inProcess.value.batches.length > 0)));
  let asking = false;
  const take = async () => {
    if (!wanted.peek() || held || asking || document.hidden) return;
    asking = true;
    try {
      const got = await navigator.wakeLock.request("screen");
      if (!wanted.peek()) return void got.release();
      held = got;
      got.addEventListener("release", () => {
        if (held === got) held = null;
      });
    } catch {
      // the battery is low, or the page is hidden: asked again when it is shown
    } finally {
      asking = false;
    }
  };
  effect(() => {
    if (wanted.value) void take();
    else {
      void held?.release();
      held = null;
    }
  });
  document.addEventListener("visibilitychange", () => void take());
}
