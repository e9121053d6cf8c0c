// What opens over the page: a reason, a lot, leaving a batch, the keys, the menu.

import type { ComponentChildren } from "preact";
import { useEffect, useLayoutEffect, useRef, useState } from "preact/hooks";
import { keyWords } from "../core/keys.ts";
import { stray } from "../core/stray.ts";
import { words } from "../core/words.ts";
import { KeysDialog } from "./keys-dialog.tsx";
import { LotDialog, ScanDialog } from "./lot-dialogs.tsx";
import { places } from "./places.ts";
import { RecoverDialog, TroubleDialog, WrongDialog } from "./recovery.tsx";
import { Said } from "./said.tsx";
import { astray } from "./scanner.ts";
import { Shape } from "./shapes.tsx";
import { batch, command, complaint, current, dialog, fresh, link, live, scales, stance, station } from "./store.ts";

/** Close whatever dialog is open. */
export const shut = () => {
  dialog.value = null;
};

interface Sheeted {
  title: string;
  children: ComponentChildren;
  /** How it is put away, where it is not the page's one dialog. */
  away?: (() => void) | undefined;
}

/** Whether somebody wrote in it: a finger beside it must not put that away. */
const written = (sheet: HTMLElement) =>
  [...sheet.querySelectorAll<HTMLInputElement | HTMLTextAreaElement>("input:not([type]), input[type=text], textarea")].some((it) => it.value.trim() !== "");

export function Sheet({ title, children, away = shut }: Sheeted) {
  const ref = useRef<HTMLDialogElement>(null);
  const gone = useRef(false);
  useLayoutEffect(() => {
    const it = ref.current;
    it?.showModal();
    astray.value = "";
    return () => {
      gone.current = true;
      it?.close(); // gives the focus back to where it was
    };
  }, []);
  return (
    <dialog
      class="sheet"
      ref={ref}
      aria-label={title}
      onClose={() => gone.current || away()}
      onClick={(e) => {
        if (ref.current !== null && e.target === ref.current && !written(ref.current)) away();
      }}
    >
      <div class="sheet-body">
        <header>
          <h2>{title}</h2>
          <button type="button" class="plain" onClick={away}>
            {words.close}
          </button>
        </header>
        <div class="sheet-told">
          {link.value === "lost" && (
            <p role="status" data-testid="sheet-lost">
              <Shape name="lost" /> {stray.lost}
            </p>
          )}
          <Complaint text={astray.value} />
        </div>
        {children}
      </div>
    </dialog>
  );
}

export function Complaint({ text }: { text: string }) {
  return text ? (
    <p class="complaint" role="alert">
      <Said text={text} />
    </p>
  ) : null;
}

export interface Asking {
  title: string;
  what: string;
  ask: string;
  quick: readonly string[];
  /** The one that is chosen at first. */
  first?: string;
  save: string;
  keep: string;
  danger?: boolean;
  /** Whether it can be sent now; while not, it can still be written. */
  ready?: boolean;
  away?: () => void;
  /** What was refused, where it is not the board's. */
  trouble?: string;
  children?: ComponentChildren;
  send(reason: string): Promise<boolean>;
}

/** Ask for a reason: quick ones to tap, or own words; nothing goes out without one. */
export function Ask(it: Asking) {
  const away = it.away ?? shut;
  const [chosen, choose] = useState(it.first ?? "");
  const [own, write] = useState("");
  const [said, say] = useState("");
  const [sending, mark] = useState(false);
  const send = async (event: Event) => {
    event.preventDefault();
    const reason = own.trim() || chosen;
    if (!reason) return say(words.reason.needed);
    if (sending) return;
    mark(true);
    if (await it.send(reason)) away();
    mark(false);
  };
  return (
    <Sheet title={it.title} away={it.away}>
      <form onSubmit={send}>
        <p>{it.what}</p>
        {it.children}
        <fieldset>
          <legend>{it.ask}</legend>
          <div class="quick">
            {it.quick.map((each) => (
              <label class="choice" key={each}>
                <input
                  type="radio"
                  name="quick"
                  autoFocus={each === it.first}
                  checked={chosen === each && !own.trim()}
                  onChange={() => {
                    choose(each);
                    write("");
                    say("");
                  }}
                />
                <span>{each}</span>
              </label>
            ))}
          </div>
          <label class="field">
            <span>{words.reason.own}</span>
            <input type="text" maxLength={200} value={own} onInput={(e) => write(e.currentTarget.value)} />
          </label>
        </fieldset>
        <Complaint text={said || (it.trouble ?? complaint.value)} />
        {it.ready === false && <p class="hint">{fresh.value ? words.reason.wait : stray.wait}</p>}
        <div class="row">
          <button type="button" class="plain" onClick={away}>
            {it.keep}
          </button>
          <button type="submit" class={it.danger ? "solid danger" : "solid"} disabled={sending || it.ready === false}>
            {it.save}
          </button>
        </div>
      </form>
    </Sheet>
  );
}

/** The scales that could take over, each with its interval and how it is. */
function ScaleDialog() {
  void stance.value;
  const it = live.peek();
  const usable = it?.can.includes("use scale") ?? false;
  useEffect(() => {
    if (!usable) shut();
  }, [usable]);
  if (it === null) return null;
  const others = Object.values(scales.value).filter((each) => each.name !== it.scale);
  const use = async (name: string) => {
    if (await command("use scale", { scale: name })) shut();
  };
  return (
    <Sheet title={words.planned.other.title}>
      <p>{words.planned.other.body(it.scale)}</p>
      <div class="quick">
        {others.map((each) => (
          <button type="button" class="plain choice" key={each.name} data-scale={each.name} onClick={() => void use(each.name)}>
            <b>{each.name}</b> {words.scales.link(each)}
            {each.interval_g && <small>{words.planned.other.figures(each.interval_g, each.max_g)}</small>}
          </button>
        ))}
      </div>
      <Complaint text={complaint.value} />
      <div class="row">
        <button type="button" class="plain" onClick={shut}>
          {words.cancel}
        </button>
      </div>
    </Sheet>
  );
}

function ReasonDialog() {
  void stance.value;
  const it = live.peek();
  // A reading that wavers, or a link that drops, must not take away what is being written.
  const ready = fresh.value && (it?.can.some((what) => what === "accept" || what === "accept with reason") ?? false);
  useEffect(() => {
    if (it === null) shut();
  }, [it === null]);
  if (it === null) return null;
  const verdict = it.verdict ?? it.held?.cause;
  const what =
    verdict === "over"
      ? words.reason.over(it.to_go_g)
      : verdict === "short"
        ? words.reason.short(it.to_go_g)
        : verdict === "on target"
          ? words.reason.righted
          : words.reason.other;
  return (
    <Ask
      title={words.reason.title}
      what={what}
      ask={words.reason.ask}
      quick={words.reason.quick}
      save={words.reason.save}
      keep={words.cancel}
      ready={ready}
      send={(reason) => command("accept", { reason })}
    />
  );
}

function AbandonDialog() {
  return (
    <Ask
      title={words.abandon.title}
      what={words.abandon.body}
      ask={words.abandon.ask}
      quick={words.abandon.quick}
      save={words.abandon.save}
      keep={words.abandon.keep}
      danger
      send={(reason) => command("abandon", { reason })}
    />
  );
}

function MenuDialog() {
  const open = batch.value?.status === "open";
  return (
    <Sheet title={words.menu}>
      <nav class="menu">
        {places()
          .filter((it) => it.menu && (it.id !== "floor" || station.value?.floor))
          .map((it) => (
            <a class="plain" key={it.id} href={it.at} onClick={shut}>
              {it.name}
            </a>
          ))}
        <button type="button" class="plain" onClick={() => (dialog.value = "keys")}>
          {keyWords.title}
        </button>
        {open && (
          <button type="button" class="plain danger-text" onClick={() => (dialog.value = "abandon")}>
            {words.abandon.open}
          </button>
        )}
      </nav>
    </Sheet>
  );
}

/** Whatever dialog is open. */
export function Dialogs() {
  const name = dialog.value;
  // A dialog of one addition must not outlive it: its answer would go to the next one.
  const about = `${batch.value?.id}/${current.value?.n}`;
  const first = useRef(about);
  useEffect(() => {
    if (first.current !== about && ["reason", "lot", "recover", "wrong", "trouble"].includes(name ?? "")) shut();
    first.current = about;
  }, [about]);
  if (name === "recover") return <RecoverDialog />;
  if (name === "wrong") return <WrongDialog />;
  if (name === "trouble") return <TroubleDialog />;
  if (name === "scale") return <ScaleDialog key="scale" />;
  if (name === "reason") return <ReasonDialog />;
  if (name === "abandon") return <AbandonDialog key="abandon" />;
  if (name === "lot") return <LotDialog />;
  if (name === "scan") return <ScanDialog key="scan" />;
  if (name === "keys") return <KeysDialog key="keys" />;
  if (name === "menu") return <MenuDialog key="menu" />;
  return null;
}
