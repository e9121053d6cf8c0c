// This station on a screen on the wall. Made of parts that only show: there is no button, no link, no field and no
// handler in it (tests/wall.test.ts looks), and the door to the station is shut meanwhile (store.ts).

import { effect, signal } from "@preact/signals";
import { primary } from "../core/choice.ts";
import type { Addition, Batch, Live } from "../core/frames.ts";
import { when } from "../core/numbers.ts";
import { before } from "../core/plan.ts";
import { clock, type InProcess, present, process, stepLook, timer } from "../core/process.ts";
import { comesNext, inNeed, lettersOf, LONG_NAME, MOST_IN_PROCESS, offTarget, urgency, wall as w } from "../core/wall.ts";
import { words } from "../core/words.ts";
import { Announcer } from "./announce.tsx";
import { buttonText, CueFace, Plate, TheNumber } from "./board.tsx";
import { Said } from "./said.tsx";
import { look, Shape } from "./shapes.tsx";
import { batch, cue, current, fresh, inProcess, link, live, past, processCame, scale, stance, station } from "./store.ts";
import { ApproachTape } from "./tape.tsx";
import { useLeaving, useSeconds, useStill } from "./wall-leave.ts";

/** When the station was last heard, on this device's clock; null before it was. */
let lastHeard: Date | null = null;
effect(() => {
  if (fresh.value) lastHeard = null;
  else if (link.value === "lost" && station.peek() !== null) lastHeard ??= new Date();
});

/** The batch that was over last: kept here, since a station that was started anew does not tell it. */
const lastOver = signal<Batch | null>(null);
effect(() => {
  const it = batch.value;
  if (it !== null) lastOver.value = it.status === "open" ? null : it;
});

const since = () => (performance.now() - processCame) / 1000;

// --- while something is weighed -------------------------------------------------------------------

function Lot({ addition }: { addition: Addition }) {
  const first = batch.value?.first_out ?? null;
  if (addition.lot) return <b>{w.lot(addition.lot)}</b>;
  return first ? <b>{w.take(first)}</b> : <span class="soft">{w.noLot}</span>;
}

function What({ addition }: { addition: Addition }) {
  const name = words.planned.called(addition.name, addition.step);
  const { longest, letters } = lettersOf(name);
  return (
    <header class="wall-what">
      <h1 class={letters > LONG_NAME ? "long" : undefined} style={{ "--longest": longest, "--letters": letters }} data-testid="ingredient">
        {name}
      </h1>
      <p class="wall-lot">
        <Lot addition={addition} />
        <b>{w.target(addition.target_g)}</b>
      </p>
      {(addition.step || addition.allergens.length > 0) && (
        <p class="wall-near">
          {addition.step && <span>{words.planned.place(addition)}</span>}
          {addition.allergens.length > 0 && (
            <span class="allergens">
              <Shape name="warn" />
              {words.weigh.allergens(addition.allergens.join(", "))}
            </span>
          )}
        </p>
      )}
    </header>
  );
}

/** The cue, or what the station waits for: told, and not offered. */
function Now({ it }: { it: Live }) {
  const told = cue.value;
  if (told !== null) {
    return (
      <p class="big cue wall-now" data-cue={told} data-testid="wall-cue">
        <CueFace cue={told} />
      </p>
    );
  }
  return (
    <p class="wall-now" data-testid="wall-now">
      {primary(it) !== null && <span class="soft">{w.atStation} </span>}
      <b>{buttonText(it)}</b>
    </p>
  );
}

function Next({ it, n }: { it: Batch; n: number }) {
  const [first, second] = comesNext(it, n);
  if (!first) return <p class="wall-next">{w.last}</p>;
  return (
    <p class="wall-next" data-testid="wall-next">
      <span class="soft">{w.next}</span> <b>{w.piece(first.target_g, first.name)}</b>
      {first.lot && <span>{w.lot(first.lot)}</span>}
      {second && (
        <span class="wall-then">
          <span class="soft">{w.then}</span> {w.piece(second.target_g, second.name)}
        </span>
      )}
    </p>
  );
}

/** A batch in process that needs somebody, while another is weighed. */
function Meanwhile() {
  const urgent = inNeed(inProcess.value.batches, since()).filter((it) => urgency(it, since()) === 0);
  const [first] = urgent;
  if (!first) return null;
  return (
    <p class="wall-urgent" data-testid="wall-urgent">
      <Shape name="stop" />
      <span>{first.name}</span>
      <b>{process.plate(first)}</b>
      {urgent.length > 1 && <small>{w.more(urgent.length - 1)}</small>}
    </p>
  );
}

function Weighing({ it, of, addition }: { it: Live; of: Batch; addition: Addition }) {
  void stance.value;
  const tone = look(it, past.peek(), cue.peek()).tone;
  return (
    <section class="stage wall-board" data-tone={tone} data-phase={it.phase} data-testid="wall-board" aria-label={words.nav.bench}>
      <Plate of={of.additions.length} />
      <div class="wall-body">
        <What addition={addition} />
        <div class="wall-much">
          <TheNumber />
        </div>
        <ApproachTape addition={addition} />
        <Now it={it} />
        {scale.value?.check?.barred && <p class="wall-near">{words.checks.barred(scale.value.name)}</p>}
        <Next it={of} n={addition.n} />
        <Meanwhile />
      </div>
    </section>
  );
}

// --- between batches ------------------------------------------------------------------------------

function Made({ it }: { it: InProcess }) {
  const step = present(it);
  const gone = since();
  const counts = it.now ? timer(it.now, gone) : null;
  const [shape, tone] = stepLook(step?.status ?? "done");
  const urgent = urgency(it, gone) === 0;
  const cooling = it.cooling?.left_s != null ? Number(it.cooling.left_s) - gone : null;
  return (
    <li class="wall-made" data-tone={urgent ? "over" : tone} data-testid={`wall-${it.id}`}>
      <Shape name={urgent ? (it.state === "held" ? "stop" : "warn") : shape} />
      <span class="wall-made-what">
        <b>{it.name}</b>
        <span>{step ? `${step.name}: ${process.plate(it)}` : process.plate(it)}</span>
      </span>
      <span class="wall-time">
        <b role="timer">{counts?.seconds != null ? clock(counts.seconds) : ""}</b>
        <span>{counts?.caption}</span>
        {cooling !== null && <span>{process.coolingLeft(cooling)}</span>}
      </span>
    </li>
  );
}

function Last({ it }: { it: Batch }) {
  const off = offTarget(it);
  const todo = it.status === "abandoned" ? [] : before(it.acts, it.additions.length + 1, "");
  return (
    <div class="wall-last" data-testid="wall-last">
      <p>
        <span class="soft">{w.before}</span> <b>{w.batch(it)}</b>
      </p>
      <p>
        <Shape name={it.status === "abandoned" ? "lost" : off ? "note" : "good"} />
        {[w.ended(it), it.closed && when(it.closed)].filter(Boolean).join(" ")}
        {it.status !== "abandoned" && `. ${off === 0 ? words.done.all : words.done.some(off)}`}
      </p>
      {todo.map((text) => (
        <p key={text}>
          <b>{text}</b>
        </p>
      ))}
    </div>
  );
}

function Quiet({ now }: { now: Date }) {
  const them = inNeed(inProcess.value.batches, since());
  const last = lastOver.value;
  return (
    <section class={them.length > 0 ? "wall-quiet wall-busy" : "wall-quiet"} data-testid="wall-quiet">
      <header>
        <h1>{station.value?.name}</h1>
        <p class="wall-clock">{when(now.toISOString(), now)}</p>
      </header>
      {them.length > 0 ? (
        <ul class="wall-makes" aria-label={process.title}>
          {them.slice(0, MOST_IN_PROCESS).map((it) => (
            <Made key={it.id} it={it} />
          ))}
          {them.length > MOST_IN_PROCESS && <li class="soft">{w.more(them.length - MOST_IN_PROCESS)}</li>}
        </ul>
      ) : (
        <p class="soft">{w.quiet}</p>
      )}
      {last && <Last it={last} />}
    </section>
  );
}

// --- the station is away --------------------------------------------------------------------------

function Away() {
  const lost = link.value === "lost";
  return (
    <section class="wall-away" data-testid="wall-away">
      <Shape name={lost ? "lost" : "waiting"} />
      <h1>{station.value?.name ?? words.title}</h1>
      <p class="wall-said">{lost ? w.away : words.link.connecting}</p>
      {lost && lastHeard && <p>{w.since(when(lastHeard.toISOString(), new Date()))}</p>}
      {lost && <p>{w.awayMore}</p>}
    </section>
  );
}

function Foot({ now, weighing }: { now: Date; weighing: boolean }) {
  const it = station.value;
  if (!fresh.value || it === null) return null;
  return (
    <footer class="wall-foot">
      {weighing && <b>{it.name}</b>}
      {weighing && <b>{when(now.toISOString(), now)}</b>}
      {it.simulation && <span>{w.pretend}</span>}
      <span>{words.legal}</span>
    </footer>
  );
}

export function Wall() {
  useLeaving();
  const still = useStill();
  const now = useSeconds();
  void stance.value;
  const [it, of, addition] = [live.peek(), batch.value, current.value];
  const weighing = fresh.value && it !== null && of?.status === "open" && addition !== null;
  return (
    <main class={still ? "wall wall-still" : "wall"} data-testid="wall">
      {fresh.value && station.value && !station.value.store.ok && (
        <p class="wall-store" role="alert">
          <Shape name="warn" />
          <Said text={words.store} />
        </p>
      )}
      {!fresh.value ? <Away /> : weighing ? <Weighing it={it} of={of} addition={addition} /> : <Quiet now={now} />}
      <Foot now={now} weighing={weighing} />
      <Announcer />
    </main>
  );
}
