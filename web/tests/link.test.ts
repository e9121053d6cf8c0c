import assert from "node:assert/strict";
import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import test from "node:test";
import type { State } from "../src/core/frames.ts";
import { BACK_OFF_MS, Link, STALE_MS, type Socket } from "../src/core/link.ts";
import { FrameError, readFrame } from "../src/core/read.ts";

// `npm test` runs in web/; the frames are the ones that the daemon's tests read too.
const FRAMES = join(process.cwd(), "..", "fixtures", "frames");
const text = (name: string) => readFileSync(join(FRAMES, `${name}.json`), "utf8");
const snapshots = readdirSync(FRAMES)
  .filter((f) => f.endsWith(".json"))
  .map((f) => f.slice(0, -5))
  .filter((f) => JSON.parse(text(f)).kind === "snapshot");

/** A socket whose other end is the test. */
class FakeSocket implements Socket {
  onopen: Socket["onopen"] = null;
  onmessage: Socket["onmessage"] = null;
  onclose: Socket["onclose"] = null;
  onerror: Socket["onerror"] = null;
  sent: string[] = [];
  closed = false;
  kept: Socket["onmessage"] = null;
  send(what: string): void {
    this.sent.push(what);
  }
  close(): void {
    this.closed = true;
  }
  say(what: object | string): void {
    this.onmessage?.({ data: typeof what === "string" ? what : JSON.stringify(what) });
  }
}

/** Time that stands still until the test moves it. */
class HandTimers {
  now = 0;
  /** How long the machine slept, in which no timer went on. */
  slept = 0;
  due: { at: number; call: () => void; id: number }[] = [];
  #id = 0;
  after(ms: number, call: () => void): number {
    this.#id += 1;
    this.due.push({ at: this.now + ms, call, id: this.#id });
    return this.#id;
  }
  cancel(timer: unknown): void {
    this.due = this.due.filter((d) => d.id !== timer);
  }
  chance(): number {
    return 0.5;
  }
  time(): number {
    return this.now + this.slept;
  }
  pass(ms: number): void {
    const end = this.now + ms;
    for (;;) {
      const next = this.due.filter((d) => d.at <= end).sort((a, b) => a.at - b.at)[0];
      if (!next) break;
      this.cancel(next.id);
      this.now = next.at;
      next.call();
    }
    this.now = end;
  }
}

function bench() {
  const sockets: FakeSocket[] = [];
  const timers = new HandTimers();
  const pictures: State[] = [];
  const statuses: string[] = [];
  const link = new Link(
    () => {
      const socket = new FakeSocket();
      sockets.push(socket);
      return socket;
    },
    timers,
    {
      picture: (state) => pictures.push(state),
      status: (status) => statuses.push(status),
    },
  );
  link.start();
  const newest = () => sockets.at(-1)!;
  return { sockets, timers, pictures, statuses, link, newest };
}

const snapshot = (seq: number, boot = "b0a7f00d") => {
  const frame = JSON.parse(text("pouring-far"));
  frame.seq = seq;
  frame.state.station.boot = boot;
  return frame;
};
const live = (net: string) => ({ ...snapshot(0).state.live, net_g: net });

test("every recorded snapshot is read as it stands", () => {
  assert.ok(snapshots.length >= 14, `only ${snapshots.length} frames`);
  for (const name of snapshots) assert.equal(readFrame(text(name)).kind, "snapshot", name);
});

test("a frame that is not as agreed is refused and the place is named", () => {
  const bad = snapshot(1);
  bad.state.live.net_g = 146.4;
  assert.throws(() => readFrame(JSON.stringify(bad)), /state\.live\.net_g: not a mass/);
  const worse = snapshot(1);
  worse.state.live.verdict = "fine";
  assert.throws(() => readFrame(JSON.stringify(worse)), /state\.live\.verdict/);
  for (const rubbish of ["", "{", "[]", "null", '{"kind":"snapshot","seq":"1"}', '{"kind":"other","seq":1}']) {
    assert.throws(() => readFrame(rubbish), FrameError, rubbish);
  }
});

test("a snapshot, then changes: sections replace whole, null is a value, other scales stay", () => {
  const { newest, pictures, statuses } = bench();
  newest().onopen?.();
  newest().say(snapshot(10));
  newest().say({ kind: "change", seq: 11, live: live("150.0") });
  const second = { ...snapshot(0).state.scales.bench, name: "fine" };
  newest().say({ kind: "change", seq: 12, scales: { fine: second } });
  newest().say({ kind: "change", seq: 13, live: null });
  assert.equal(pictures[1]?.live?.net_g, "150.0");
  assert.deepEqual(Object.keys(pictures[2]!.scales), ["bench", "fine"]);
  assert.equal(pictures[3]?.live, null);
  assert.equal(pictures[3]?.batch?.id, "kitchen-0007");
  assert.deepEqual(statuses, ["live"]);
});

test("hostile order: early, old, repeated and foreign changes leave the picture alone", () => {
  const { newest, pictures } = bench();
  newest().say({ kind: "change", seq: 9, live: live("1.0") });
  assert.equal(pictures.length, 0);
  newest().say(snapshot(10));
  newest().say({ kind: "change", seq: 12, live: live("12.0") });
  newest().say({ kind: "change", seq: 11, live: live("11.0") });
  newest().say({ kind: "change", seq: 12, live: live("99.0") });
  newest().say(snapshot(8));
  const foreign = snapshot(0, "otherboot").state.station;
  newest().say({ kind: "change", seq: 40, station: foreign, live: live("40.0") });
  assert.equal(pictures.at(-1)?.live?.net_g, "12.0");
});

test("hearing nothing for 2.5 s is a lost link; beats keep it alive", () => {
  const { newest, timers, statuses } = bench();
  newest().say(snapshot(10));
  for (let i = 0; i < 5; i += 1) {
    timers.pass(1000);
    newest().say({ kind: "beat", seq: 10 });
  }
  assert.deepEqual(statuses, ["live"]);
  timers.pass(STALE_MS - 1);
  assert.deepEqual(statuses, ["live"]);
  timers.pass(1);
  assert.equal(statuses.at(-1), "lost");
});

test("it comes back by itself, asks to resume, and old sockets are not listened to", () => {
  const { sockets, newest, timers, pictures, statuses } = bench();
  newest().onopen?.();
  newest().say(snapshot(10));
  const old = newest();
  const late = old.onmessage!;
  old.onclose?.();
  assert.equal(statuses.at(-1), "lost");
  timers.pass(BACK_OFF_MS.first);
  assert.equal(sockets.length, 2);
  newest().onopen?.();
  assert.deepEqual(JSON.parse(newest().sent[0]!), { kind: "resume", seq: 10, boot: "b0a7f00d" });
  late({ data: JSON.stringify({ kind: "change", seq: 50, live: live("50.0") }) });
  assert.equal(pictures.length, 1);
  newest().say({ kind: "beat", seq: 10 });
  assert.equal(statuses.at(-1), "lost", "a beat before the first picture proves nothing");
  newest().say({ kind: "change", seq: 12, live: live("12.0") });
  assert.equal(statuses.at(-1), "live");
  assert.equal(pictures.at(-1)?.live?.net_g, "12.0");
});

test("a restarted station begins counting again and is believed", () => {
  const { newest, timers, pictures } = bench();
  newest().say(snapshot(500));
  newest().onclose?.();
  timers.pass(BACK_OFF_MS.first);
  newest().onopen?.();
  newest().say(snapshot(2, "newboot"));
  newest().say({ kind: "change", seq: 3, live: live("3.0") });
  assert.equal(pictures.at(-1)?.station.boot, "newboot");
  assert.equal(pictures.at(-1)?.live?.net_g, "3.0");
});

test("an empty answer to resume brings the link back with the picture it had", () => {
  const { newest, timers, statuses, pictures } = bench();
  newest().say(snapshot(10));
  newest().onclose?.();
  timers.pass(BACK_OFF_MS.first);
  newest().onopen?.();
  newest().say({ kind: "change", seq: 10 });
  assert.equal(statuses.at(-1), "live");
  assert.equal(pictures.length, 1);
});

test("a beat that counts further than we have heard asks once for what was missed", () => {
  const { newest } = bench();
  newest().say(snapshot(10));
  newest().say({ kind: "beat", seq: 12 });
  newest().say({ kind: "beat", seq: 12 });
  assert.equal(newest().sent.length, 1);
  newest().say({ kind: "change", seq: 12, live: live("12.0") });
  newest().say({ kind: "beat", seq: 13 });
  assert.equal(newest().sent.length, 2);
});

test("an unreadable frame ends the socket, and the next one starts from a snapshot", () => {
  const { sockets, newest, timers, statuses, pictures } = bench();
  newest().say(snapshot(10));
  newest().say('{"kind":"change","seq":11,"live":{"net_g":5}}');
  assert.equal(statuses.at(-1), "lost");
  assert.ok(sockets[0]!.closed);
  timers.pass(BACK_OFF_MS.first);
  newest().onopen?.();
  assert.deepEqual(newest().sent, []);
  newest().say(snapshot(11));
  assert.equal(pictures.length, 2);
  assert.equal(statuses.at(-1), "live");
});

test("waits grow while the station is away, are bounded, and shrink again after it was back", () => {
  const { sockets, newest, timers } = bench();
  const born: number[] = [];
  for (let i = 0; i < 9; i += 1) {
    born.push(timers.now);
    newest().onerror?.();
    const before = sockets.length;
    while (sockets.length === before) timers.pass(50);
  }
  const gaps = born.slice(1).map((at, i) => at - born[i]!);
  assert.deepEqual(gaps, [250, 500, 1000, 2000, 4000, 4000, 4000, 4000]);
  newest().say(snapshot(1));
  newest().onclose?.();
  const before = sockets.length;
  timers.pass(BACK_OFF_MS.first);
  assert.equal(sockets.length, before + 1);
});

test("a server that opens and says nothing counts as lost and is tried again without resume", () => {
  const { sockets, newest, timers, statuses } = bench();
  newest().say(snapshot(10));
  newest().onclose?.();
  timers.pass(BACK_OFF_MS.first);
  newest().onopen?.();
  assert.equal(newest().sent.length, 1);
  timers.pass(STALE_MS + 500);
  assert.equal(sockets.length, 3);
  newest().onopen?.();
  assert.deepEqual(newest().sent, []);
  assert.equal(statuses.at(-1), "lost");
});

test("a stopped link is silent", () => {
  const { sockets, newest, timers, link, statuses } = bench();
  newest().say(snapshot(10));
  link.stop();
  timers.pass(60_000);
  assert.equal(sockets.length, 1);
  assert.deepEqual(statuses, ["live"]);
});

/** A frame as one who says "seen" gets it. */
const made = (frame: object, after: number) => ({ ...frame, after });
const SEEN = '{"kind":"seen"}';

test("each frame is answered, so that the station sends the next one; what says no after is not", () => {
  const { newest } = bench();
  newest().say(made(snapshot(10), 0));
  newest().say(made({ kind: "change", seq: 11, live: live("11.0") }, 0.1));
  newest().say(made({ kind: "beat", seq: 11 }, 1));
  assert.deepEqual(newest().sent, [SEEN, SEEN, SEEN]);
  newest().say({ kind: "beat", seq: 11 });
  assert.equal(newest().sent.length, 3);
});

test("what comes late is not live, however much of it comes; the same way comes back when it is quick", () => {
  const { sockets, newest, timers, statuses, pictures } = bench();
  newest().say(made(snapshot(10), 0));
  // The way gets slower: each frame was made as soon as the one before was said to be seen.
  for (const [n, ms] of [1000, 2000, 2400].entries()) {
    timers.pass(ms);
    newest().say(made({ kind: "change", seq: 11 + n, live: live(`${11 + n}.0`) }, 0));
  }
  assert.equal(statuses.at(-1), "live");
  timers.pass(99);
  assert.equal(statuses.at(-1), "live", "made 2.499 s ago at the most");
  timers.pass(1);
  assert.equal(statuses.at(-1), "lost", "it may have been made 2.5 s ago, though it came just now");
  newest().say(made({ kind: "beat", seq: 13 }, 0.05));
  assert.equal(statuses.at(-1), "live");
  assert.equal(sockets.length, 1);
  assert.equal(pictures.at(-1)?.live?.net_g, "13.0");
});

test("a station that waits for news does not make a picture old", () => {
  const { newest, timers, statuses } = bench();
  newest().say(made(snapshot(10), 0));
  for (let n = 0; n < 5; n += 1) {
    timers.pass(1400); // a second without news, and 0.4 s of way
    newest().say(made({ kind: "beat", seq: 10 }, 1));
  }
  assert.deepEqual(statuses, ["live"]);
});

test("a machine that slept shows nothing from before its sleep", () => {
  const { sockets, newest, timers, statuses, link } = bench();
  newest().say(made(snapshot(10), 0));
  timers.slept = 60_000;
  newest().say(made({ kind: "change", seq: 11, live: live("11.0") }, 0));
  assert.equal(statuses.at(-1), "lost", "it was on its way before the sleep");
  newest().say(made({ kind: "change", seq: 12, live: live("12.0") }, 0));
  assert.equal(statuses.at(-1), "live");
  timers.slept = 120_000;
  link.look();
  assert.equal(statuses.at(-1), "lost");
  timers.pass(BACK_OFF_MS.first);
  assert.equal(sockets.length, 2);
});

test("a page that is put to sleep is lost at once, and goes on when it wakes", () => {
  const { sockets, newest, timers, statuses, link } = bench();
  newest().say(snapshot(10));
  link.sleep();
  assert.equal(statuses.at(-1), "lost");
  timers.pass(60_000);
  assert.equal(sockets.length, 1);
  link.retry();
  newest().say(snapshot(11));
  assert.equal(statuses.at(-1), "live");
});

test("a way that is too slow for a first picture is given more time", () => {
  const { sockets, newest, timers, statuses } = bench();
  timers.pass(STALE_MS + BACK_OFF_MS.first);
  assert.equal(sockets.length, 2);
  timers.pass(4000);
  assert.equal(sockets.length, 2);
  newest().say(made(snapshot(10), 0.5));
  assert.equal(statuses.at(-1), "lost", "it took longer than a picture is good for");
  timers.pass(800);
  newest().say(made({ kind: "change", seq: 11, live: live("11.0") }, 0));
  assert.equal(statuses.at(-1), "live");
});
