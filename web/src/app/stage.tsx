// The board: what is poured, how much is left, how it stands, and the one big button.

import { computed } from "@preact/signals";
import { useEffect, useRef } from "preact/hooks";
import { misfit, others, primary } from "../core/choice.ts";
import type { Addition, Live } from "../core/frames.ts";
import { before } from "../core/plan.ts";
import { to } from "../core/routes.ts";
import { words } from "../core/words.ts";
import { buttonText, CueFace, Head, Net, out, Plate, TheNumber } from "./board.tsx";
import { Held } from "./held.tsx";
import { chosen, press, told, trouble } from "./recovering.ts";
import { Recovery, Say } from "./recovery.tsx";
import { openLot, takeShown } from "./lot-dialogs.tsx";
import { Said } from "./said.tsx";
import { Shape, look } from "./shapes.tsx";
import { act, batch, busy, calm, command, complaint, cue, current, fresh, live, named, past, refused, scale, stance } from "./store.ts";
import { ApproachTape } from "./tape.tsx";

function BigButton() {
  void stance.value;
  const it = live.peek();
  if (it === null) return null;
  const first = primary(it);
  const way = told.value === null ? null : chosen.value;
  const off = (first === null && way === null) || !fresh.value;
  const cued = first === null && way === null && busy.value === null ? cue.peek() : null;
  return (
    <button
      type="button"
      class={cued === null ? "big" : "big cue"}
      id="primary"
      data-cue={cued ?? undefined}
      data-testid="primary"
      data-do={way?.command ?? first?.do ?? ""}
      aria-disabled={off || busy.value !== null}
      onClick={() => press(it)}
    >
      {cued !== null ? (
        <CueFace cue={cued} />
      ) : (
        <span>
          {busy.value !== null ? words.weigh.sending : !fresh.value ? words.link.plate : way !== null ? words.recovery.big(way, told.value!) : buttonText(it)}
        </span>
      )}
    </button>
  );
}

function Others() {
  void stance.value;
  const it = live.peek();
  const rest = others(it);
  if (rest.length === 0 || !fresh.value) return null;
  return (
    <div class="others">
      {rest.map((each) => (
        <button type="button" class="plain" key={each.do} data-do={each.do} onClick={() => act(each)}>
          {words.act(each.do, it?.verdict ?? null, out.value)}
        </button>
      ))}
    </div>
  );
}

function Below({ addition, held }: { addition: Addition; held: boolean }) {
  return (
    <div class="below">
      <p class="in-vessel">
        <span class="label">{out.value ? words.outOf.out : words.weigh.inVessel}</span>
        <Net /> {words.weigh.of(addition.target_g)}
      </p>
      {!held && <Others />}
      {!held && <Say />}
      <LotButton addition={addition} />
      <Then addition={addition} />
    </div>
  );
}

/** What comes next, where the list is not in sight beside the board. */
function Then({ addition }: { addition: Addition }) {
  const next = batch.value?.additions.find((it) => it.n > addition.n && it.status === "waiting");
  return next === undefined ? null : (
    <p class="then" data-testid="then">
      {words.planned.then(next)}
    </p>
  );
}

function LotButton({ addition }: { addition: Addition }) {
  void stance.value;
  const can = live.peek()?.can.includes("name lot") ?? false;
  const shown = batch.value?.first_out ?? null;
  return (
    <>
      <button type="button" class="plain lot" data-testid="lot-button" disabled={!can || !fresh.value} onClick={openLot}>
        <span class="label">{words.weigh.lot}</span>
        <b data-testid="lot">{addition.lot || words.weigh.noLot}</b>
      </button>
      {shown && addition.lot === "" && can && (
        <button type="button" class="plain lot" data-do="take lot" disabled={!fresh.value} onClick={takeShown}>
          <b>{words.lots.board.take(shown)}</b>
          <span class="label">{words.lots.board.takeMore(shown)}</span>
        </button>
      )}
    </>
  );
}

/** Something the cook may want to know, and need not act on. */
function Told({ children }: { children: string }) {
  return (
    <p class="hint told" role="status">
      <Shape name="note" /> {children}
    </p>
  );
}

/** What the hands do first: vessels set down, tipped in, stirred; and what the bowl then weighs. */
function First({ addition, live }: { addition: Addition; live: Live }) {
  if (live.phase !== "awaiting vessel" || live.tare_g !== null) return null;
  const todo = before(batch.value?.acts, addition.n, addition.name);
  return (
    <>
      {todo.length > 0 && (
        <ol class="first" data-testid="first">
          {todo.map((text) => (
            <li key={text}>{text}</li>
          ))}
        </ol>
      )}
      {live.due && (
        <p class={live.due.off_g === null ? "hint" : "complaint"} role="status" data-testid="due">
          {words.planned.due(live.due)}
        </p>
      )}
      {live.due?.off_g && live.can.includes("tare") && (
        <button type="button" class="plain" data-do="confirm" onClick={() => void command("tare", { confirm: true })}>
          {live.due.due_g === null ? words.planned.itIsADish : words.planned.anyway}
        </button>
      )}
    </>
  );
}

/** Before the tare: which vessel stands there, or that it is not the one it should be. */
function WhichVessel({ live }: { live: Live }) {
  if (!live.can.includes("tare") || live.phase !== "awaiting vessel") return null;
  const text = words.vessels.seen(live);
  const still = live.left ? (out.value ? words.vessels.still(current.value?.name ?? "") : words.vessels.stillBowl) : "";
  const button = live.left ? words.vessels.anyway("same-vessel") : misfit(live) ? words.vessels.anyway("other-vessel") : null;
  return (
    <>
      {(still || text) && (
        <p class={live.vessel?.differs ? "complaint" : "hint told"} role="status" data-testid="which-vessel">
          <Shape name={live.vessel?.differs ? "warn" : "note"} /> {still || text}
        </p>
      )}
      {button && (
        <button type="button" class="plain" data-do="confirm" onClick={() => void command("tare", { confirm: true })}>
          {button}
        </button>
      )}
    </>
  );
}

/** What still fits on the scale, where that is not all. */
function Room({ live }: { live: Live }) {
  const full = live.full ?? null;
  if (full === null) return null;
  const name = batch.value?.additions.find((it) => it.n === full.addition)?.name ?? "";
  return (
    <p class={full.addition === live.addition ? "complaint" : "hint told"} role="status" data-testid="full">
      <Shape name="warn" /> {words.vessels.full(full, live.addition, name)}
    </p>
  );
}

/** All of a check that the board tells: a reading changes none of it. */
const checkSeen = computed(() => {
  const check = scale.value?.check ?? null;
  if (check === null || !(check.barred || live.value?.checking)) return "";
  return `${scale.value?.name}/${check.clearing}/${check.running !== null}`;
});

/** The scale may not be accepted on, or is being checked. */
function BoardCheck() {
  const seen = checkSeen.value;
  const it = scale.peek();
  const check = it?.check ?? null;
  if (seen === "" || it === null || check === null) return null;
  const text = check.clearing ? words.checks.clearing : check.running ? words.checks.checking : words.checks.barred(it.name);
  return (
    <p class="board-check" role="status" data-testid="board-check">
      <Shape name="warn" />
      <span>{text}</span>
      {!check.clearing && <a href={to.check(it.name)}>{check.running ? words.checks.see : words.checks.open}</a>}
    </p>
  );
}

/** What was last put right in this batch, and why. */
function PutRight() {
  const last = batch.value?.put_right?.at(-1);
  return last === undefined || trouble.value !== null ? null : <Told>{words.recovery.done(last)}</Told>;
}

/** The board of the addition that is being weighed. */
export function Stage() {
  void stance.value;
  const board = useRef<HTMLElement>(null);
  const turn = `${live.peek()?.addition}/${live.peek()?.phase === "held"}`;
  useEffect(() => board.current?.scrollIntoView({ block: "start" }), [turn]);
  const it = live.peek();
  const addition = current.value;
  if (it === null || addition === null) return null;
  const of = batch.value?.additions.length ?? 0;
  const tone = fresh.value ? look(it, past.peek(), cue.peek()).tone : "stop";
  return (
    <section ref={board} class="stage" data-tone={tone} data-phase={it.phase} data-recovering={trouble.value !== null && told.value !== null ? "" : undefined} aria-label={words.nav.bench}>
      <Plate of={of} />
      <div class="stage-body">
        <Head addition={addition} of={of} />
        <TheNumber />
        <First addition={addition} live={it} />
        <WhichVessel live={it} />
        <ApproachTape addition={addition} />
        <Below addition={addition} held={it.phase === "held"} />
        <BoardCheck />
        <Room live={it} />
        {it.lifted && <Told>{words.outOf.noCue}</Told>}
        {it.perhaps_on && <Told>{words.weigh.perhapsOn}</Told>}
        <PutRight />
        {it.zero && it.phase !== "held" && <Told>{words.weigh.zeroMoved(it.zero.cause, it.zero.sum_g)}</Told>}
        {it.drift_g_min && <Told>{words.weigh.drift(it.drift_g_min)}</Told>}
        {!addition.judgeable && (
          <p class="hint">
            <Shape name="warn" /> {words.weigh.unjudgeable}
          </p>
        )}
        {complaint.value && !(["not-all-in", "bowl-still-on"].includes(refused.value) && it.due?.off_g) && (
          <p class={calm.value ? "hint" : "complaint"} role={calm.value ? "status" : "alert"}>
            <Said text={complaint.value} />
          </p>
        )}
        {words.vessels.anyway(refused.value) && it.can.includes("tare") && !it.left && !misfit(it) && !(out.value && refused.value === "no-vessel") && (
          <button type="button" class="plain" data-do="confirm" onClick={() => void command("tare", { ...named(it), confirm: true })}>
            {words.vessels.anyway(refused.value)}
          </button>
        )}
        {trouble.value !== null && <Recovery />}
        {it.phase === "held" && fresh.value && <Held live={it} told={trouble.value !== null && told.value !== null} />}
        <BigButton />
      </div>
    </section>
  );
}
