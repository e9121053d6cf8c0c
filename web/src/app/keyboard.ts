// The keys of the board, on the whole page.

import { primary } from "../core/choice.ts";
import { wish, type Wish } from "../core/keys.ts";
import { to } from "../core/routes.ts";
import { GAP_MS, LEAST, SEPARATOR, hear, type Burst } from "../core/wedge.ts";
import { openLot, takeShown } from "./lot-dialogs.tsx";
import { pick, press, told, trouble } from "./recovering.ts";
import { listening, tell } from "./scanner.ts";
import { switchSound } from "./sound.tsx";
import { act, asking, dialog, fresh, live, onWall, route, signing } from "./store.ts";

const TYPING = "input, textarea, select, [contenteditable]";
const CONTROL = "button, a, summary, label, [role=button]";

/** A letter waits this long for another one: then it was a person, in ms. */
const WAIT_MS = GAP_MS + 10;

let burst: Burst | null = null;
let waits: ReturnType<typeof setTimeout> | undefined;
/** What letters ask for that may yet turn out to be a scan. */
let asks: (() => void)[] = [];

const stood = () => `${live.peek()?.batch}/${live.peek()?.addition}/${live.peek()?.phase}`;

function later(what: () => void): void {
  const meant = stood();
  clearTimeout(waits);
  asks.push(() => {
    if (stood() === meant) what(); // not meant for what has come since
  });
  waits = setTimeout(() => {
    const these = asks;
    asks = [];
    for (const it of these) it();
  }, WAIT_MS);
}

/** What a scanner typed into a field is not what the field is for. */
function takeOut(target: EventTarget | null, text: string): void {
  if (!(target instanceof HTMLInputElement) && !(target instanceof HTMLTextAreaElement)) return;
  if (!target.value.endsWith(text)) return;
  target.value = target.value.slice(0, -text.length);
  target.dispatchEvent(new Event("input", { bubbles: true }));
}

/** Whether a press belongs to a scan; a whole one is told. */
function scans(event: KeyboardEvent): boolean {
  // A reason, a number of keys: whoever writes there is not interrupted, however fast.
  const elsewhere = dialog.peek() !== null && dialog.peek() !== "lot" && dialog.peek() !== "scan";
  if (!listening() || elsewhere) return false;
  const it = hear(burst, { ...keyOf(event), t: event.timeStamp });
  burst = it.burst;
  if (!it.ours) return false;
  if (it.scan === null && (burst?.text.length ?? LEAST) < LEAST) return false; // two keys at once are two keys
  clearTimeout(waits);
  asks = [];
  if (it.scan === null) return true;
  event.preventDefault();
  takeOut(event.target, it.scan.replaceAll(SEPARATOR, ""));
  tell(it.scan);
  return true;
}

const keyOf = ({ key, ctrlKey, metaKey, altKey }: KeyboardEvent) => ({ key, ctrlKey, metaKey, altKey });

function does(asked: Wish, event: KeyboardEvent): void {
  if (asked === "keys") {
    dialog.value = "keys";
    return;
  }
  if (asked === "sound") return switchSound();
  if (asked === "find") {
    event.preventDefault();
    location.hash = to.find();
    return;
  }
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
    if (it.can.includes("name lot") && fresh.peek()) openLot();
  } else if (asked === "take lot") {
    if (it.can.includes("name lot") && fresh.peek()) takeShown();
  } else if (asked === "accept" && primary(it)?.do !== "accept") {
    if (it.can.includes("accept with reason")) act({ do: "accept with reason" });
    else if (it.can.includes("accept")) act({ do: "accept" });
  } else if (it.can.includes(asked)) act({ do: asked });
}

export function listenToKeys(): void {
  document.addEventListener("keydown", (event) => {
    if (onWall.peek()) return;
    if (scans(event)) return;
    const target = event.target instanceof Element ? event.target : null;
    const big = target?.closest("#primary") !== null && target !== null;
    // Enter on a way that is chosen presses the big button; Space and the arrows choose.
    const ways = target?.closest(".ways") != null;
    const chooses = ways && event.key === "Enter";
    const asked = wish(event, {
      typing: target?.closest(TYPING) != null && !chooses,
      control: !big && !chooses && target?.closest(CONTROL) != null,
      dialog: dialog.peek() !== null || signing.peek() || asking.peek() !== null,
    });
    const pressesBig = big && (event.key === " " || event.key === "Enter");
    // The big button acts on the way down, once; the browser's own click would make it twice.
    if (pressesBig) event.preventDefault();
    if (asked === null && /^[1-9]$/.test(event.key) && dialog.peek() === null && (ways || target?.closest(TYPING) == null)) {
      const way = trouble.peek() === null ? undefined : told.peek()?.options.filter((one) => one.goes)[Number(event.key) - 1];
      if (way !== undefined) pick(way.way);
    }
    if (asked === null) return;
    if (event.key.length === 1 && event.key !== " ") {
      // It may be the first character of a scan, which must not weigh anything.
      later(() => does(asked, event));
      return;
    }
    does(asked, event);
  });
  document.addEventListener("keyup", (event) => {
    // Some browsers click a button on the way up of Space even so.
    if (event.key === " " && event.target instanceof Element && event.target.closest("#primary")) {
      event.preventDefault();
    }
  });
}
