// The live link to the station: one websocket that looks after itself.
//
// 1. What it tells is either the newest picture or that there is none: a page that has heard
//    nothing for 2.5 s is told "lost" and must not show the last weight as if it were live.
// 2. Only the newest socket is listened to; a late word of an older one is dropped.
// 3. A change is taken only on top of a snapshot of the same start of the station, and only if it
//    is newer. A beat that counts further than we have heard means that something was missed.
// 4. A frame that is not as agreed ends that socket, and the next begins without "resume".
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
}

export type LinkStatus = "connecting" | "live" | "lost";

/** A frame of a picture `S`, whatever it is of. */
export type Told<S> = { kind: "snapshot"; seq: number; state: S } | ({ kind: "change"; seq: number } & Partial<S>) | { kind: "beat"; seq: number };

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

/** A page that hears nothing for this long shows the link as lost, in ms. */
export const STALE_MS = 2500;
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
    this.#watch();
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
    if (frame.kind === "beat") this.#beat(frame.seq);
    else if (frame.kind === "snapshot") this.#snapshot(frame.seq, frame.state);
    else this.#change(frame);
  }

  #snapshot(seq: number, state: S): void {
    const sameStart = this.#state !== null && this.#wire.boot(this.#state) === this.#wire.boot(state);
    if (sameStart && seq < this.#seq) return;
    this.#take(seq, state);
  }

  #change(frame: { seq: number } & Partial<S>): void {
    const before = this.#state;
    if (before === null) return;
    const boot = this.#wire.boot(frame);
    if (boot !== undefined && boot !== this.#wire.boot(before)) return;
    if (frame.seq < this.#seq) return;
    if (frame.seq === this.#seq) {
      // Nothing newer: an answer to "resume" that says our picture still holds.
      this.#take(frame.seq, before);
      return;
    }
    this.#take(frame.seq, this.#wire.apply(before, frame));
  }

  #beat(seq: number): void {
    // Before the first picture on this socket a beat proves nothing: the station may have restarted.
    if (!this.#fresh) return;
    if (seq > this.#seq && !this.#asked) {
      this.#asked = true;
      this.#resume();
    }
    this.#watch();
  }

  #take(seq: number, state: S): void {
    const news = state !== this.#state;
    this.#seq = seq;
    this.#state = state;
    this.#fresh = true;
    this.#asked = false;
    this.#wait = BACK_OFF_MS.first;
    this.#watch();
    if (news) this.#heard.picture(state);
    this.#tell("live", "");
  }

  #watch(): void {
    this.#timers.cancel(this.#stale);
    this.#stale = this.#timers.after(STALE_MS, () => {
      // Silence before any picture on this socket: what we asked for may not exist any more.
      if (!this.#fresh) this.#state = null;
      this.#lost("silent");
    });
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
