// The keys of the board, on the whole page.

import { primary } from "../core/choice.ts";
import { wish } from "../core/keys.ts";
import { pick, press, told, trouble } from "./recovering.ts";
import { switchSound } from "./sound.tsx";
import { act, dialog, fresh, live, route } from "./store.ts";

const TYPING = "input, textarea, select, [contenteditable]";
const CONTROL = "button, a, summary, label, [role=button]";

export function listenToKeys(): void {
  document.addEventListener("keydown", (event) => {
    const target = event.target instanceof Element ? event.target : null;
    const big = target?.closest("#primary") !== null && target !== null;
    // Enter on a way that is chosen presses the big button; Space and the arrows choose.
    const ways = target?.closest(".ways") != null;
    const chooses = ways && event.key === "Enter";
    const asked = wish(event, {
      typing: target?.closest(TYPING) != null && !chooses,
      control: !big && !chooses && target?.closest(CONTROL) != null,
      dialog: dialog.peek() !== null,
    });
    const pressesBig = big && (event.key === " " || event.key === "Enter");
    // The big button acts on the way down, once; the browser's own click would make it twice.
    if (pressesBig) event.preventDefault();
    if (asked === null && /^[1-9]$/.test(event.key) && dialog.peek() === null && (ways || target?.closest(TYPING) == null)) {
      const way = trouble.peek() === null ? undefined : told.peek()?.options.filter((one) => one.goes)[Number(event.key) - 1];
      if (way !== undefined) pick(way.way);
    }
    if (asked === null) return;
    if (asked === "keys") {
      dialog.value = "keys";
      return;
    }
    if (asked === "sound") return switchSound();
    if (route.peek().screen === "process" && asked === "tare") {
      event.preventDefault();
      document.getElementById("temperature")?.focus();
      return;
    }
    if ((route.peek().screen === "check" || route.peek().screen === "process") && asked === "primary") {
      event.preventDefault();
      document.getElementById("primary")?.click();
      return;
    }
    if (route.peek().screen !== "bench") return;
    const it = live.peek();
    if (it === null) return;
    event.preventDefault();
    if (asked === "primary") press(it);
    else if (asked === "lot") {
      if (it.can.includes("name lot") && fresh.peek()) dialog.value = "lot";
    } else if (asked === "accept" && primary(it)?.do !== "accept") {
      if (it.can.includes("accept with reason")) act({ do: "accept with reason" });
      else if (it.can.includes("accept")) act({ do: "accept" });
    } else if (it.can.includes(asked)) act({ do: asked });
  });
  document.addEventListener("keyup", (event) => {
    // Some browsers click a button on the way up of Space even so.
    if (event.key === " " && event.target instanceof Element && event.target.closest("#primary")) {
      event.preventDefault();
    }
  });
}
