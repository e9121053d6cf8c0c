import assert from "node:assert/strict";
import test from "node:test";
import { newKey, type Outside, PAUSES_MS, Requests, type Response } from "../src/core/commands.ts";

type Reply = Response | Error;

const json = (status: number, body: unknown): Response => ({
  ok: status < 300,
  status,
  json: async () => body,
});

function outside(...replies: Reply[]) {
  const calls: { path: string; key: string | undefined; body: unknown }[] = [];
  const pauses: number[] = [];
  let keys = 0;
  const it: Outside = {
    fetch: async (path, init) => {
      calls.push({
        path,
        key: init?.headers?.["Idempotency-Key"],
        body: init?.body === undefined ? undefined : JSON.parse(init.body),
      });
      const reply = replies.shift() ?? new Error("no reply scripted");
      if (reply instanceof Error) throw reply;
      return reply;
    },
    pause: async (ms) => void pauses.push(ms),
    key: () => `key-${(keys += 1)}`,
  };
  return { requests: new Requests(it), calls, pauses };
}

test("a command whose answer was lost goes again with the same key and acts as one", async () => {
  const { requests, calls } = outside(
    new TypeError("failed to fetch"),
    json(502, null),
    json(200, { seq: 7, entry: 91 }),
  );
  const answer = await requests.command("kitchen-0007", { do: "accept", addition: 2 });
  assert.deepEqual(answer, { kind: "ok", value: { seq: 7, entry: 91 } });
  assert.deepEqual(calls.map((c) => c.key), ["key-1", "key-1", "key-1"]);
  assert.deepEqual(calls[2], {
    path: "api/batches/kitchen-0007/commands",
    key: "key-1",
    body: { do: "accept", addition: 2 },
  });
});

test("two commands have two keys", async () => {
  const { requests, calls } = outside(json(200, {}), json(200, {}));
  await requests.command("b", { do: "tare" });
  await requests.command("b", { do: "tare" });
  assert.deepEqual(calls.map((c) => c.key), ["key-1", "key-2"]);
});

test("a refusal is not tried again and keeps its code", async () => {
  const body = { title: "x", status: 409, code: "needs-reason", detail: "Say why.", remedy: "Give one." };
  const { requests, calls } = outside(json(409, body));
  const answer = await requests.command("b", { do: "accept" });
  assert.equal(calls.length, 1);
  assert.deepEqual(answer, {
    kind: "refused",
    problem: { status: 409, code: "needs-reason", detail: "Say why.", remedy: "Give one.", where: "" },
  });
});

test("the station's own 503 is its answer; a gateway's is not", async () => {
  const own = outside(json(503, { code: "store-failed", detail: "The disk is full." }));
  assert.equal((await own.requests.command("b", { do: "accept" })).kind, "refused");
  const gateway = outside(json(503, null), json(200, { seq: 1, entry: null }));
  assert.equal((await gateway.requests.command("b", { do: "accept" })).kind, "ok");
});

test("a station that did not get round to it is asked again with the same key", async () => {
  const slow = outside(json(503, { code: "no-answer", detail: "x" }), json(200, { seq: 2, entry: 9 }));
  assert.equal((await slow.requests.command("b", { do: "accept" })).kind, "ok");
  assert.deepEqual(slow.calls.map((c) => c.key), ["key-1", "key-1"]);
});

test("after the last try the person is told, and the waits were the ones promised", async () => {
  const { requests, calls, pauses } = outside();
  assert.deepEqual(await requests.command("b", { do: "tare" }), { kind: "unreachable" });
  assert.equal(calls.length, PAUSES_MS.length + 1);
  assert.deepEqual(pauses, PAUSES_MS);
});

test("an id with odd characters stays one part of the path", async () => {
  const { requests, calls } = outside(json(200, {}));
  await requests.command("a/b?c", { do: "tare" });
  assert.equal(calls[0]?.path, "api/batches/a%2Fb%3Fc/commands");
});

test("without randomUUID a key is still a version 4 UUID (RFC 9562), and never the same", () => {
  const source = { getRandomValues: (b: Uint8Array<ArrayBuffer>) => globalThis.crypto.getRandomValues(b) };
  const keys = new Set(Array.from({ length: 500 }, () => newKey(source)));
  assert.equal(keys.size, 500);
  for (const key of keys) {
    assert.match(key, /^[0-9a-f]{8}-[0-9a-f]{4}-4[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/);
  }
});
