// Requests to the station. Every command carries a key; sent again because the network failed, it
// goes with the SAME key, so that the station acts once however often it is asked.

export interface Problem {
  code: string;
  detail: string;
  remedy: string;
  where: string;
  status: number;
  /** Every fault of a draft with its place, where there are several. */
  errors?: { where: string; message: string }[];
  /** For "needs-right": which, and who has it. */
  right?: string;
  who_may?: string[];
  /** For a PIN that has to wait: how many seconds. */
  wait_s?: number;
}

export type Answer<T> =
  | { kind: "ok"; value: T }
  | { kind: "refused"; problem: Problem }
  | { kind: "unreachable" };

export interface Response {
  ok: boolean;
  status: number;
  json(): Promise<unknown>;
}

export interface Outside {
  fetch(
    path: string,
    init?: { method?: string; headers?: Record<string, string>; body?: string; signal?: AbortSignal },
  ): Promise<Response>;
  pause(ms: number): Promise<void>;
  key(): string;
  /** Somebody who may is asked for: a token for this one act, nothing where they signed in, null
   *  where nobody allowed it. */
  allow?(problem: Problem): Promise<string | null>;
}

export interface Command {
  do: string;
  addition?: number | null;
  by?: string | null;
  reason?: string;
  lot?: string;
  /** For "use scale": the one to weigh on instead. */
  scale?: string;
  /** Said after a question back: tare all the same. */
  confirm?: boolean;
  /** For tare: the known vessel that stands there. */
  vessel?: string;
  /** For a batch in process. */
  step?: number;
  temperature?: string;
  held?: string;
  ago?: string;
  value?: number;
  confirmed?: string[];
  pair?: string;
  from_step?: number;
  note?: string;
  /** For a step with dry ice: the room and what else is reckoned with, and the scale it stands on. */
  dry_ice?: Record<string, string>;
  /** For "countersign": the newest entry that was looked at. */
  entry?: number;
  /** For "put right": what was chosen. */
  change?: object;
}

/** Waits between tries of one command, in ms: five tries, then the person is told. */
export const PAUSES_MS = [300, 700, 1500, 3000];
/** A try that has had no answer for this long counts as failed, in ms: a little more than the
 *  station itself waits before it says "no-answer". */
export const ANSWER_MS = 11000;

const MAYBE_LATER = new Set([502, 503, 504]);

/** A random key; works without a secure context, where crypto.randomUUID is missing. */
export function newKey(source: {
  getRandomValues(bytes: Uint8Array<ArrayBuffer>): Uint8Array;
  randomUUID?: () => string;
}): string {
  if (typeof source.randomUUID === "function") return source.randomUUID();
  const bytes = source.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6]! & 0x0f) | 0x40; // version 4, RFC 9562
  bytes[8] = (bytes[8]! & 0x3f) | 0x80;
  const hex = Array.from(bytes, (b) => b.toString(16).padStart(2, "0")).join("");
  return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
}

function problem(status: number, body: unknown): Problem {
  const it = (typeof body === "object" && body !== null ? body : {}) as Record<string, unknown>;
  const text = (name: string) => (typeof it[name] === "string" ? (it[name] as string) : "");
  return {
    status,
    code: text("code") || `status-${status}`,
    detail: text("detail") || text("title"),
    remedy: text("remedy"),
    where: text("where"),
    ...(typeof it["right"] === "string" ? { right: it["right"] } : {}),
    ...(Array.isArray(it["who_may"]) ? { who_may: it["who_may"].map(String) } : {}),
    ...(typeof it["wait_s"] === "number" ? { wait_s: it["wait_s"] } : {}),
    ...(Array.isArray(it["errors"]) ? { errors: it["errors"] as { where: string; message: string }[] } : {}),
  };
}

/** An answer of the station's own that settles the matter; "no-answer" asks to be sent again. */
function settles(body: unknown): boolean {
  return typeof body === "object" && body !== null && "code" in body && body.code !== "no-answer";
}

type Init = NonNullable<Parameters<Outside["fetch"]>[1]>;

export class Requests {
  constructor(private outside: Outside) {}

  /** Ask for something; asked once, since the page can simply ask again. */
  async get<T>(path: string): Promise<Answer<T>> {
    return (await this.#once<T>(path, {})) ?? { kind: "unreachable" };
  }

  /** Ask about something that is sent along and not kept; asked once. */
  async ask<T>(path: string, body: object): Promise<Answer<T>> {
    const headers = { "Content-Type": "application/json" };
    return (await this.#once<T>(path, { method: "POST", headers, body: JSON.stringify(body) })) ?? { kind: "unreachable" };
  }

  /** Change a file that was read as `tag` (null: a new one), until it is answered; sent twice acts once. */
  async change<T>(method: "PUT" | "DELETE" | "POST", path: string, tag: string | null, body?: object): Promise<Answer<T>> {
    const match: Record<string, string> = tag === null ? { "If-None-Match": "*" } : { "If-Match": `"${tag}"` };
    const init = {
      method,
      headers: { "Content-Type": "application/json", ...match },
      ...(body ? { body: JSON.stringify(body) } : {}),
    };
    return this.#allowed<T>(path, init);
  }

  /** Send a command until it is answered, with one key throughout. */
  async send<T>(path: string, body: object): Promise<Answer<T>> {
    const init = {
      method: "POST",
      headers: { "Content-Type": "application/json", "Idempotency-Key": this.outside.key() },
      body: JSON.stringify(body),
    };
    return this.#allowed<T>(path, init);
  }

  command(batch: string, command: Command): Promise<Answer<{ seq: number; entry: number | null }>> {
    return this.send(`api/batches/${encodeURIComponent(batch)}/commands`, command);
  }

  open(order: {
    formula: string;
    batch_g?: string | null;
    size?: string;
    rounded?: boolean;
    operator: string;
    scale: string | null;
    method?: string | null;
    vessel?: string | null;
    plan?: boolean;
    bowl_g?: string | null;
    dish_g?: string | null;
  }): Promise<Answer<{ batch: string; seq: number }>> {
    return this.send("api/batches", order);
  }

  /** Until it is answered; where it needs a right, once more after somebody allowed it. */
  async #allowed<T>(path: string, init: Init): Promise<Answer<T>> {
    const answer = await this.#until<T>(path, init);
    if (answer.kind !== "refused" || answer.problem.code !== "needs-right" || !this.outside.allow) return answer;
    const lent = await this.outside.allow(answer.problem);
    if (lent === null) return answer;
    return this.#until<T>(path, lent ? { ...init, headers: { ...init.headers, "Weighd-Lent": lent } } : init);
  }

  async #until<T>(path: string, init: Init): Promise<Answer<T>> {
    for (const pause of [0, ...PAUSES_MS]) {
      if (pause) await this.outside.pause(pause);
      const answer = await this.#once<T>(path, init);
      if (answer !== null) return answer;
    }
    return { kind: "unreachable" };
  }

  async #once<T>(path: string, init: Init): Promise<Answer<T> | null> {
    const late = new AbortController();
    const timer = setTimeout(() => late.abort(), ANSWER_MS);
    try {
      const response = await this.outside.fetch(path, { ...init, signal: late.signal });
      if (response.ok) return { kind: "ok", value: (await response.json()) as T };
      const body: unknown = await response.json().catch(() => null);
      // A gateway that cannot reach the station answers so, without a problem of the station's own.
      if (MAYBE_LATER.has(response.status) && !settles(body)) return null;
      return { kind: "refused", problem: problem(response.status, body) };
    } catch {
      return null;
    } finally {
      clearTimeout(timer);
    }
  }
}
