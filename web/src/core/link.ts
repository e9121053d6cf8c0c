// The live link to the station: one websocket that looks after itself.
//
// 1. What it tells is either the newest picture or that there is none: a page whose picture was made
//    more than 2.5 s ago is told "lost" and must not show the last weight as if it were live. How old
//    it is at most follows from when we said "seen" and how long after that it was made ("after"): a
//    slow way makes pictures old, however many of them arrive.
// 2. Only the newest socket is listened to; a late word of an older one is dropped.
// 3. A change is taken only on top of a snapshot of the same start of the station, and only if it
//    is newer. A beat that counts further than we have heard means that something was missed.
// 4. A frame that is not as agreed ends that socket, and the next begins without "resume".
// 5. Each frame is answered with "seen", and the station sends the next only then: nothing waits on
//    the way. One that says no "after" is not answered.
// No DOM and no clock of its own: socket and timers are handed in.

import type { State } from "./frames.ts";
import { apply, FrameError, readFrame } from "./read.ts";

export interface Socket {
  send(text: string): void;
  close(): void;
  onopen: (() => void) | null;
  onmessage: ((event: { data: unknown }) => void) | null;
  onclose: (() => void) | null;
  onerror: (() => void) | null;
}

export interface Timers {
  after(ms: number, call: () => void): unknown;
  cancel(timer: unknown): void;
  /** 0 <= chance < 1, so that many pages do not knock all at once. */
  chance(): number;
  /** In ms; never falls, and goes on while the machine sleeps. */
  time(): number;
}

export type LinkStatus = "connecting" | "live" | "lost";

/** A frame of a picture `S`, whatever it is of; `after`: how long after our last word it was made, in s. */
export type Told<S> = { after?: number } & (
  | { kind: "snapshot"; seq: number; state: S }
  | ({ kind: "change"; seq: number } & Partial<S>)
  | { kind: "beat"; seq: number }
);

/** How frames of such a picture are read and put together. */
export interface Wire<S> {
  /** Raises FrameError. */
  read(text: string): Told<S>;
  apply(before: S, change: Partial<S>): S;
  /** Tells one run of the station from the next, where a part of the picture says it. */
  boot(part: Partial<S>): string | undefined;
}

const OF_STATION: Wire<State> = { read: readFrame, apply, boot: (part) => part.station?.boot };

export interface Heard<S = State> {
  picture(state: S): void;
  status(status: LinkStatus, why: string): void;
}

/** A page whose picture is older than this shows the link as lost, in ms; and so long it listens to silence. */
export const STALE_MS = 2500;
/** On a way that is slow to bring a first picture it listens longer each time, up to this, in ms. */
export const PATIENCE_MS = 10000;
const SEEN = '{"kind":"seen"}';
/** First wait before knocking again, and the longest, in ms. */
export const BACK_OFF_MS = { first: 250, most: 4000 };

export class Link<S = State> {
  #wire: Wire<S>;
  #open: () => Socket;
  #timers: Timers;
  #heard: Heard<S>;
  #socket: Socket | null = null;
  #state: S | null = null;
  #seq = -1;
  #fresh = false;
  #asked = false;
  #wait = BACK_OFF_MS.first;
  #patience = STALE_MS;
  /** When we last said something that a frame may answer: that one was seen, or that we are there. */
  #said = 0;
  /** The picture was made when it was no later than this; and when a silence has been too long. */
  #good = -Infinity;
  #silent = Infinity;
  #stale: unknown = null;
  #again: unknown = null;
  #stopped = false;
  #status: LinkStatus = "connecting";

  /** `wire` is that of a station's own picture unless another is given. */
  constructor(open: () => Socket, timers: Timers, heard: Heard<S>, wire?: Wire<S>) {
    this.#wire = wire ?? (OF_STATION as unknown as Wire<S>);
    this.#open = open;
    this.#timers = timers;
    this.#heard = heard;
  }

  start(): void {
    this.#stopped = false;
    this.#connect();
  }

  stop(): void {
    this.#stopped = true;
    this.#drop();
    this.#timers.cancel(this.#again);
  }

  /** Knock now instead of waiting: the person pressed "try now", or the network came back. */
  retry(): void {
    if (this.#status === "live" || this.#stopped) return;
    this.#wait = BACK_OFF_MS.first;
    this.#timers.cancel(this.#again);
    this.#drop();
    this.#connect();
  }

  /** Is what is shown still good? Asked when timers may have slept, as those of a page in the back do. */
  look(): void {
    if (this.#stopped || this.#socket === null) return;
    const now = this.#timers.time();
    if (now >= this.#silent) this.#tooSilent();
    else if (this.#status === "live" && now >= this.#good) this.#tell("lost", "late");
  }

  /** The page is put to sleep: when it wakes it must not show what was. `retry` goes on. */
  sleep(): void {
    this.#timers.cancel(this.#again);
    this.#drop();
    this.#tell("lost", "asleep");
  }

  #connect(): void {
    let socket: Socket;
    try {
      socket = this.#open();
    } catch {
      this.#lost("unreachable");
      return;
    }
    this.#socket = socket;
    this.#fresh = false;
    this.#asked = false;
    this.#said = this.#timers.time();
    this.#watch(-Infinity, this.#patience);
    const mine = (call: () => void) => () => {
      if (this.#socket === socket) call();
    };
    socket.onopen = mine(() => this.#resume());
    socket.onclose = mine(() => this.#lost("closed"));
    socket.onerror = mine(() => this.#lost("unreachable"));
    socket.onmessage = (event) => {
      if (this.#socket === socket) this.#message(String(event.data));
    };
  }

  #resume(): void {
    if (this.#state === null) return;
    const boot = this.#wire.boot(this.#state);
    this.#socket?.send(JSON.stringify({ kind: "resume", seq: this.#seq, boot }));
  }

  #message(text: string): void {
    let frame: Told<S>;
    try {
      frame = this.#wire.read(text);
    } catch (error) {
      if (!(error instanceof FrameError)) throw error;
      this.#state = null;
      this.#lost(`unreadable: ${error.message}`);
      return;
    }
    const made = this.#madeAt(frame.after);
    if (frame.kind === "beat") this.#beat(frame.seq, made);
    else if (frame.kind === "snapshot") this.#snapshot(frame.seq, frame.state, made);
    else this.#change(frame, made);
  }

  /** When a frame was made, at the earliest; says that it was seen. */
  #madeAt(after: number | undefined): number {
    const now = this.#timers.time();
    if (after === undefined) return now;
    const made = Math.min(now, this.#said + after * 1000);
    this.#said = now;
    this.#socket?.send(SEEN);
    return made;
  }

  #snapshot(seq: number, state: S, made: number): void {
    const sameStart = this.#state !== null && this.#wire.boot(this.#state) === this.#wire.boot(state);
    if (sameStart && seq < this.#seq) return;
    this.#take(seq, state, made);
  }

  #change(frame: { seq: number } & Partial<S>, made: number): void {
    const before = this.#state;
    if (before === null) return;
    const boot = this.#wire.boot(frame);
    if (boot !== undefined && boot !== this.#wire.boot(before)) return;
    if (frame.seq < this.#seq) return;
    if (frame.seq === this.#seq) {
      // Nothing newer: an answer to "resume" that says our picture still holds.
      this.#take(frame.seq, before, made);
      return;
    }
    this.#take(frame.seq, this.#wire.apply(before, frame), made);
  }

  #beat(seq: number, made: number): void {
    // Before the first picture on this socket a beat proves nothing: the station may have restarted.
    if (!this.#fresh) return;
    if (seq > this.#seq && !this.#asked) {
      this.#asked = true;
      this.#resume();
    }
    this.#watch(made, STALE_MS);
    if (seq <= this.#seq) this.#judge();
  }

  #take(seq: number, state: S, made: number): void {
    const news = state !== this.#state;
    this.#seq = seq;
    this.#state = state;
    this.#fresh = true;
    this.#asked = false;
    this.#wait = BACK_OFF_MS.first;
    this.#patience = STALE_MS;
    this.#watch(made, STALE_MS);
    if (news) this.#heard.picture(state);
    this.#judge();
  }

  #judge(): void {
    if (this.#timers.time() < this.#good) this.#tell("live", "");
    else this.#tell("lost", "late");
  }

  /** What was made at `made` is good for so long; and so long a silence from now on is one too long. */
  #watch(made: number, patience: number): void {
    const now = this.#timers.time();
    this.#good = made + STALE_MS;
    this.#silent = now + patience;
    this.#wake();
  }

  #wake(): void {
    const now = this.#timers.time();
    const next = now < this.#good ? Math.min(this.#good, this.#silent) : this.#silent;
    this.#timers.cancel(this.#stale);
    this.#stale = this.#timers.after(Math.max(1, next - now), () => {
      this.look();
      if (this.#socket !== null) this.#wake();
    });
  }

  #tooSilent(): void {
    // Silence before any picture on this socket: what we asked for may not exist any more.
    if (!this.#fresh) {
      this.#state = null;
      this.#patience = Math.min(this.#patience * 2, PATIENCE_MS);
    }
    this.#lost("silent");
  }

  #lost(why: string): void {
    this.#drop();
    this.#tell("lost", why);
    if (this.#stopped) return;
    this.#timers.cancel(this.#again);
    const wait = this.#wait * (0.75 + this.#timers.chance() / 2);
    this.#wait = Math.min(this.#wait * 2, BACK_OFF_MS.most);
    this.#again = this.#timers.after(wait, () => this.#connect());
  }

  #drop(): void {
    this.#timers.cancel(this.#stale);
    this.#silent = Infinity;
    const socket = this.#socket;
    this.#socket = null;
    if (socket === null) return;
    socket.onopen = socket.onmessage = socket.onclose = socket.onerror = null;
    try {
      socket.close();
    } catch {
      // A socket that never opened may refuse to be closed; it is dropped either way.
    }
  }

  #tell(status: LinkStatus, why: string): void {
    if (status === this.#status && status === "live") return;
    this.#status = status;
    this.#heard.status(status, why);
  }
}
