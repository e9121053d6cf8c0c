// The keys of the board, on the whole page.

import { primary } from "../core/choice.ts";
import { possible, type Where, wish, type Wish } from "../core/keys.ts";
import { counts, isPedal, plainKey } from "../core/pedal.ts";
import { to } from "../core/routes.ts";
import { GAP_MS, LEAST, SEPARATOR, SLOW_MS, hear, type Burst } from "../core/wedge.ts";
import { at, boardThere, ways } from "./at.ts";
import { openLot, takeShown } from "./lot-dialogs.tsx";
import { changedAt, pedalKey } from "./pedal-key.ts";
import { pick, press } from "./recovering.ts";
import { listening, lose, tell } from "./scanner.ts";
import { switchSound } from "./sound.tsx";
import { act, asking, dialog, live, onWall, route, signing } from "./store.ts";

const TYPING = "input, textarea, select, [contenteditable]";
/** Fields in which letters are text: a choice is none. */
const WRITING = "input:not([type=radio], [type=checkbox]), textarea, select, [contenteditable]";
const CONTROL = "button, a, summary, label, [role=button]";

/** A letter waits this long for another one: then it was a person, in ms. */
const WAIT_MS = SLOW_MS + 10;

let burst: Burst | null = null;
let waits: ReturnType<typeof setTimeout> | undefined;
/** What letters ask for that may yet turn out to be a scan. */
let asks: (() => void)[] = [];

const stood = () => `${live.peek()?.batch}/${live.peek()?.addition}/${live.peek()?.phase}`;

function later(what: () => void): void {
  const meant = stood();
  asks.push(() => {
    if (stood() === meant) what(); // not meant for what has come since
  });
  wait();
}

function wait(): void {
  clearTimeout(waits);
  waits = setTimeout(() => {
    const these = asks;
    asks = [];
    for (const it of these) it();
  }, WAIT_MS);
}

function forgetWaiting(): void {
  clearTimeout(waits);
  asks = [];
}

const isPedalLetter = () => plainKey(pedalKey.peek()).length === 1;

/** What a scanner typed into a field is not what the field is for. */
function takeOut(target: EventTarget | null, text: string): void {
  if (!(target instanceof HTMLInputElement) && !(target instanceof HTMLTextAreaElement)) return;
  if (!target.value.endsWith(text)) return;
  target.value = target.value.slice(0, -text.length);
  target.dispatchEvent(new Event("input", { bubbles: true }));
}

/** A form whose Enter does more than look: a scan must not send it. */
const SENDS = "dialog, form.before, .formula-sheet";

/** Whether a press belongs to a scan; a whole one is told, or said to be astray where nobody waits for it. */
function scans(event: KeyboardEvent): boolean {
  const target = event.target instanceof Element ? event.target : null;
  const typing = target?.closest(TYPING) != null;
  const it = hear(burst, { ...keyOf(event), t: event.timeStamp }, typing ? GAP_MS : SLOW_MS);
  burst = it.burst;
  if (!it.ours) return false;
  if (it.scan === null && (burst?.text.length ?? LEAST) < LEAST) {
    if (asks.length > 0) wait(); // a slow scanner is not done yet
    return false; // two keys at once are two keys
  }
  // A reason, a number of keys: what is written there is not taken for a scan before its Enter.
  const open = document.querySelector("dialog[open]") !== null;
  const wanted = listening() && (!open || dialog.peek() === "lot" || dialog.peek() === "scan");
  // Fields that nobody waits at for scans take what is typed there, by whomever; but nothing is sent by it.
  if (!wanted && typing && (target!.closest(SENDS) === null || event.key !== "Enter")) return false;
  forgetWaiting();
  if (it.scan === null) return true;
  event.preventDefault();
  takeOut(event.target, it.scan.replaceAll(SEPARATOR, ""));
  if (wanted) tell(it.scan);
  else lose(it.scan);
  return true;
}

const keyOf = ({ key, ctrlKey, metaKey, altKey }: KeyboardEvent) => ({ key, ctrlKey, metaKey, altKey });

function does(asked: Wish, key: string): void {
  if (!possible(asked, at())) return;
  const it = live.peek();
  if (asked === "keys") dialog.value = "keys";
  else if (asked === "sound") switchSound();
  else if (asked === "find") location.hash = to.find();
  else if (asked === "temperature") document.getElementById("temperature")?.focus();
  else if (asked === "primary" && route.peek().screen !== "bench") document.getElementById("primary")?.click();
  else if (it === null) return;
  else if (asked === "primary") press(it);
  else if (asked === "lot") openLot();
  else if (asked === "take lot") takeShown();
  else if (asked === "way") {
    const way = ways()[Number(key) - 1];
    if (way !== undefined) pick(way.way);
  } else if (asked === "accept") act({ do: primary(it)?.do !== "accept" && it.can.includes("accept with reason") ? "accept with reason" : "accept" });
  else if (asked === "tare" || asked === "top up" || asked === "take out") act({ do: asked });
}

/** When the last character came, on this page's clock, in ms. */
let typedAt = -Infinity;

/** A press of the pedal, where it is one: true when nothing else is to be made of it. */
function pedals(event: KeyboardEvent, before: number): boolean {
  if (!isPedal(pedalKey.peek(), event)) return false;
  const target = event.target instanceof Element ? event.target : null;
  const board = boardThere();
  const native = event.key === " " || event.key === "Enter";
  if (dialog.peek() !== null || signing.peek() || asking.peek() !== null || target?.closest(WRITING) != null) return true;
  // What stands round the board keeps its own Space and Enter.
  if (!board || (native && target?.closest(CONTROL) != null && target.closest("main") === null)) return !native;
  event.preventDefault();
  if (event.repeat) return true;
  const character = event.key.length === 1 && event.key !== " ";
  if (!counts(event.timeStamp, changedAt(), before, character)) return true;
  const meant = changedAt();
  if (character) later(() => changedAt() === meant && does("primary", event.key));
  else does("primary", event.key);
  return true;
}

/** Where a press went. */
function whereOf(event: KeyboardEvent, target: Element | null): Where {
  const big = target !== null && target.closest("#primary") !== null;
  // Enter on a way that is chosen presses the big button, a number chooses another; Space and the arrows choose.
  const chooses = target?.closest(".ways") != null && (event.key === "Enter" || /^[1-9]$/.test(event.key));
  return {
    typing: target?.closest(TYPING) != null && !chooses,
    control: !big && !chooses && target?.closest(CONTROL) != null,
    dialog: dialog.peek() !== null || signing.peek() || asking.peek() !== null,
  };
}

export function listenToKeys(): void {
  document.addEventListener("keydown", (event) => {
    if (onWall.peek()) return;
    const before = typedAt;
    if (event.key.length === 1) {
      typedAt = event.timeStamp;
      // One character fast after another: whatever waits was the first of several.
      if (typedAt - before <= GAP_MS && isPedalLetter()) forgetWaiting();
    }
    if (scans(event)) return;
    if (pedals(event, before)) return;
    const target = event.target instanceof Element ? event.target : null;
    const asked = wish(event, whereOf(event, target), route.peek().screen);
    // The big button acts on the way down, once; the browser's own click would make it twice.
    if (target?.closest("#primary") != null && (event.key === " " || event.key === "Enter")) event.preventDefault();
    if (asked === null) return;
    if (asked === "find" || boardThere()) event.preventDefault();
    if (event.key.length === 1 && event.key !== " ") {
      // It may be the first character of a scan, which must not weigh anything.
      later(() => does(asked, event.key));
      return;
    }
    does(asked, event.key);
  });
  document.addEventListener("keyup", (event) => {
    // Some browsers click a button on the way up of Space even so.
    if (event.key !== " " || !(event.target instanceof Element)) return;
    const pedal = isPedal(pedalKey.peek(), event) && boardThere() && event.target.closest("main") !== null && dialog.peek() === null;
    if (pedal || event.target.closest("#primary")) event.preventDefault();
  });
}
