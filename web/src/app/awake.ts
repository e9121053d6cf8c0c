// While something is weighed, or a batch is in process, the screen is kept from going dark: nobody has a dry
// hand to wake it. Browsers allow it on this machine and by TLS; where they do not, nothing is lost.

import { effect } from "@preact/signals";
import { batch, inProcess, link } from "./store.ts";

export function keepAwake(): void {
  if (!("wakeLock" in navigator)) return;
  let held: WakeLockSentinel | null = null;
  let wanted = false;
  const take = async () => {
    if (!wanted || held || document.hidden) return;
    try {
      const got = await navigator.wakeLock.request("screen");
      if (!wanted) return void got.release();
      held = got;
      got.addEventListener("release", () => (held = null));
    } catch {
      // the battery is low, or the page is hidden: asked again when it is shown
    }
  };
  effect(() => {
    wanted = link.value === "live" && (batch.value?.status === "open" || inProcess.value.batches.length > 0);
    if (wanted) void take();
    else {
      void held?.release();
      held = null;
    }
  });
  document.addEventListener("visibilitychange", () => void take());
}
