// The floor on a screen on the wall, or on a phone: a card a station, who needs somebody first.

import { signal } from "@preact/signals";
import { useEffect, useMemo, useRef, useState } from "preact/hooks";
import { pastLimit } from "../core/choice.ts";
import {
  type Card,
  floor as w,
  type FloorState,
  isGone,
  laidOut,
  making,
  MOST_LETTERS,
  nameSize,
  type Rank,
  ranked,
  there,
  troubles,
  type Weighed,
  wireOfFloor,
} from "../core/floor.ts";
import type { Live } from "../core/frames.ts";
import { Link, type LinkStatus } from "../core/link.ts";
import { mass, unitFor } from "../core/numbers.ts";
import { TARGET, tape } from "../core/tape.ts";
import { words } from "../core/words.ts";
import { listen, socketTo, timers } from "./listening.ts";
import { Shape, type ShapeName, type Tone, look, verdictShape, verdictTone } from "./shapes.tsx";
import { station } from "./store.ts";
import { Nothing } from "./trouble.tsx";

const state = signal<FloorState | null>(null);
const status = signal<LinkStatus>("connecting");
/** The clock of the station that watches, less that of this page, in ms. */
let ahead = 0;

/** Listen while the floor is shown, and not a moment longer. */
function useFloor(): void {
  useEffect(() => {
    const link = new Link<FloorState>(
      socketTo("api/floor/live"),
      timers,
      { picture: (it) => (state.value = it), status: (it) => (status.value = it) },
      wireOfFloor((now) => {
        const at = Date.parse(now);
        if (!Number.isNaN(at)) ahead = at - Date.now();
      }),
    );
    const end = listen(link);
    return () => {
      end();
      state.value = null;
      status.value = "connecting";
    };
  }, []);
}

/** Drawn anew each second: times go on between two words of a station. */
function useSeconds(): number {
  const [, next] = useState(0);
  useEffect(() => {
    const beat = setInterval(() => next((n) => n + 1), 1000);
    return () => clearInterval(beat);
  }, []);
  return Date.now() + ahead;
}

/** How many columns, and how large: as large as all of them fit. */
function useLayout(n: number) {
  const place = useRef<HTMLElement>(null);
  const [size, measured] = useState({ width: 0, height: 0 });
  useEffect(() => {
    const box = place.current?.closest(".screen");
    if (!box) return;
    const look = () => {
      const head = place.current?.querySelector(".floor-head")?.getBoundingClientRect().height ?? 0;
      measured({ width: box.clientWidth - 16, height: box.clientHeight - head - 24 });
    };
    const watch = new ResizeObserver(look);
    watch.observe(box);
    look();
    return () => watch.disconnect();
  }, []);
  return { place, ...laidOut(n, size.width, size.height) };
}

const percent = (at: number) => `${(at * 100).toFixed(2)}%`;

/** How far an addition is: the bench's tape, in small. */
function Bar({ it, old }: { it: Weighed; old: boolean }) {
  const drawn = useMemo(() => tape(Number(it.target_g), Number(it.low_g), Number(it.high_g)), [it.target_g, it.low_g, it.high_g]);
  const at = it.net_g === null ? null : drawn.place(Number(it.net_g));
  const over = pastLimit(it, it);
  return (
    <svg class={`floor-bar${over ? " floor-bar-over" : ""}${old ? " floor-bar-old" : ""}`} role="presentation" aria-hidden="true">
      <rect class="floor-track" x="0" y="22%" width="100%" height="56%" rx="4" />
      <rect class="floor-notch" x={percent(drawn.low)} y="0" width={percent(drawn.high - drawn.low)} height="100%" />
      {at !== null && <rect class="floor-level" x="0" y="22%" width={percent(at)} height="56%" rx="4" />}
      {[drawn.low, drawn.high].map((post) => (
        <line class="floor-post" key={post} x1={percent(post)} x2={percent(post)} y1="0" y2="100%" />
      ))}
      <line class="floor-target" x1={percent(TARGET)} x2={percent(TARGET)} y1="0" y2="100%" />
    </svg>
  );
}

/** What is shown of a live addition, in the shapes and words of its own board. */
const asLive = (it: Weighed): Live =>
  ({ ...it, taking_out: false, can: [], gross_g: null, settled: true, vessel: null, left: false }) as unknown as Live;

interface Plate {
  shape: ShapeName;
  tone: Tone;
  word: string;
}

function plateOf(card: Card, rank: Rank): Plate {
  if (isGone(card)) return { shape: card.standing === "stopped" ? "stop" : "lost", tone: "quiet", word: w.standing(card.standing) };
  const it = card.batch?.addition ?? null;
  if (it?.held) {
    const made = look(asLive({ ...it, phase: "held" }), pastLimit(it, it), null);
    return { shape: made.shape, tone: it.held.cause === "over" ? "over" : made.tone, word: words.cause(it.held.cause) };
  }
  if (rank === "held" || rank === "due") {
    return rank === "held" ? { shape: "stop", tone: "over", word: w.held } : { shape: "warn", tone: "slow", word: w.due };
  }
  if (rank === "trouble" && !it) return { shape: "warn", tone: "close", word: troubles(card)[0] ?? "" };
  if (it?.verdict) return { shape: verdictShape(it.verdict), tone: verdictTone(it.verdict), word: words.verdict(it.verdict) };
  if (it) {
    const live = asLive(it);
    // The cue is for the hand that pours; from afar it is enough that it does.
    const past = pastLimit(it, it);
    return { ...look(live, past, null), word: w.phase(it.phase) ?? words.phase(live, past) };
  }
  if (card.standing === "unconfirmed") return { shape: "waiting", tone: "quiet", word: w.standing("unconfirmed") };
  if (rank === "waiting") return { shape: "settling", tone: "flow", word: words.process.nav };
  return { shape: "waiting", tone: "quiet", word: w.idle };
}

/** A display's own steps are not known here: a difference is shown with as many places as the net. */
function toGo(it: Weighed): string {
  if (it.net_g === null || it.verdict === "on target") return "";
  const places = Math.max(it.net_g.split(".")[1]?.length ?? 0, it.target_g.split(".")[1]?.length ?? 0);
  const left = (Number(it.target_g) - Number(it.net_g)).toFixed(places);
  return left.startsWith("-") ? w.over(left.slice(1)) : w.toGo(left);
}

function Weighing({ card, old }: { card: Card; old: boolean }) {
  const batch = card.batch;
  if (!batch) return null;
  const it = batch.addition;
  return (
    <>
      <p class="floor-what">
        <b>{it ? it.name : batch.formula}</b>
      </p>
      {it && (
        <>
          <p class="floor-net">
            <b>{it.lifted ? w.lifted : mass(it.net_g, unitFor(it.target_g))}</b> <span>{w.outOf(it.target_g)}</span>
            <span class="floor-togo">{old || it.lifted ? "" : toGo(it)}</span>
          </p>
          <Bar it={it} old={old} />
        </>
      )}
      <p class="floor-batch">
        <span>{it ? w.of(it.n, batch.of) : w.of(batch.accepted, batch.of)}</span>
        <span class="floor-id">{w.batch(batch.id, batch.formula)}</span>
        {batch.operator && <b class="floor-who">{batch.operator}</b>}
      </p>
    </>
  );
}

function Lines({ card, plate, now }: { card: Card; plate: Plate; now: number }) {
  const makes = [...(card.steps?.batches ?? [])]
    .map((it) => ({ it, said: making(it, there(card, now)) }))
    .sort((a, b) => Number(b.said.urgent) - Number(a.said.urgent));
  // What is too long for the plate is cut there, and whole here.
  const wrong = troubles(card).filter((one) => one !== plate.word || one.length > MOST_LETTERS);
  const behind = card.sharing && card.sharing.state === "behind" ? card.sharing.behind : 0;
  return (
    <ul class="floor-lines">
      {wrong.map((one) => (
        <li key={one} class="floor-wrong">
          <Shape name="warn" />
          <span>{one}</span>
        </li>
      ))}
      {makes.map(({ it, said }) => (
        <li key={it.id} class={said.urgent ? "floor-urgent" : ""}>
          <Shape name={said.urgent ? (it.held ? "stop" : "warn") : "settling"} />
          <span>
            <b>{it.what || it.name}</b> {said.word === plate.word ? "" : said.word} <small>{it.name}</small>
          </span>
          <b class="floor-time">{said.time}</b>
        </li>
      ))}
      {card.steps !== null && card.steps.more > 0 && <li>{w.more(card.steps.more)}</li>}
      {behind > 0 && <li class="floor-quiet">{w.behind(behind)}</li>}
    </ul>
  );
}

function Station({ card, rank, now, stale }: { card: Card; rank: Rank; now: number; stale: boolean }) {
  const old = stale || isGone(card);
  const plate = plateOf(card, rank);
  const since = w.since(card);
  return (
    <li
      class={`floor-card floor-${rank}${old ? " floor-old" : ""}${card.standing === "unconfirmed" ? " floor-unsure" : ""}`}
      data-tone={stale ? "quiet" : plate.tone}
      data-testid={`station-${card.name}`}
      data-standing={card.standing}
      data-rank={rank}
    >
      <header>
        <span class="floor-plate">
          <Shape name={plate.shape} />
          <b>{plate.word}</b>
        </span>
        <h2 style={{ "--name": nameSize(card.name, plate.word).toFixed(2) }}>{card.name}</h2>
      </header>
      <div class="floor-body">
        {since && <p class="floor-since">{since}</p>}
        <Weighing card={card} old={old} />
        {!card.batch && card.last && !old && rank !== "trouble" && (
          <p class="floor-batch">
            <span>{w.finished(card.last.status)}</span>
            <span class="floor-id">{w.batch(card.last.id, card.last.formula)}</span>
          </p>
        )}
        {!isGone(card) && <Lines card={card} plate={plate} now={now} />}
      </div>
    </li>
  );
}

export function FloorScreen() {
  if (station.value !== null && !station.value.floor) {
    return (
      <main class="page narrow">
        <h1>{w.title}</h1>
        <Nothing text={w.off} />
      </main>
    );
  }
  return <Wall />;
}

function Wall() {
  useFloor();
  const now = useSeconds();
  const seen = state.value;
  const them = seen === null ? [] : ranked(seen.stations, now);
  const { place, columns, size, fits } = useLayout(them.length);
  const stale = seen !== null && (status.value !== "live" || !seen.floor.connected);
  return (
    <main class={`floor${fits ? " floor-fits" : ""}`} ref={place} data-testid="floor">
      <header class="floor-head">
        <h1>{w.title}</h1>
        <p role="status">{seen === null ? (status.value === "lost" ? w.lost : w.finding) : w.summary(them.map((one) => one.rank))}</p>
      </header>
      {stale && (
        <p class="floor-cut" role="alert" data-testid="floor-cut">
          <Shape name="lost" />
          {status.value === "live" ? w.cut(seen.floor.why) : w.lost}
        </p>
      )}
      {seen !== null && them.length === 0 && <p class="note floor-none">{w.none}</p>}
      <ul class="floor-cards" style={{ "--columns": columns, "--size": `${size.toFixed(2)}px` }}>
        {them.map(({ card, rank }) => (
          <Station key={card.name} card={card} rank={rank} now={now} stale={stale} />
        ))}
      </ul>
    </main>
  );
}
