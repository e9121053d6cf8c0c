import assert from "node:assert/strict";
import test from "node:test";
import { type Problem, Requests, type Response } from "../src/core/commands.ts";
import { helpers, may, NOBODY, people, type People, pressed } from "../src/core/people.ts";
import { words } from "../src/core/words.ts";

const ada = { name: "Ada", rights: ["correct"], since: "2026-11-25T09:00:00.000Z", retired: "" };
const listed: People = { ...NOBODY, listed: true, people: [ada], me: { ...ada, left_s: 60 } };

test("keys of a PIN: digits up to twelve, one taken back, all gone, anything else nothing", () => {
  assert.equal([..."4711"].reduce(pressed, ""), "4711");
  assert.equal(pressed("123456789012", "3"), "123456789012");
  assert.equal(pressed("47", "Backspace"), "4");
  assert.equal(pressed("", "Backspace"), "");
  assert.equal(pressed("47", "Delete"), "");
  for (const other of ["a", "Enter", "١", "12", " "]) assert.equal(pressed("47", other), "47");
});

test("where nobody is listed everybody may; else who is signed in, as far as their rights go", () => {
  assert.ok(may(NOBODY, "correct"));
  assert.ok(may(listed, "correct"));
  assert.ok(!may(listed, "look after people"));
  assert.ok(!may({ ...listed, me: null }, "correct"));
  assert.deepEqual(helpers(["Ada", "Bo"], "Ada"), ["Bo"]);
});

test("every right has words of its own", () => {
  for (const right of ["accept out of tolerance", "correct", "countersign", "discard batches", "release lots",
    "change formulas", "look after scales", "look after people"]) {
    assert.match(people.allow.body(right), /^[A-Z].*somebody who may.*\.$/, right);
    assert.notEqual(people.right(right), right);
  }
  assert.match(people.allow.body("fly"), /"fly"/);
  assert.equal(words.refusal("last-keeper", "Ada is the last.", ""), "Ada is the last. Give somebody else that right first.");
});

const refused = { title: "x", status: 403, code: "needs-right", detail: "No.", right: "correct", who_may: ["Bo"] };
const json = (status: number, body: unknown): Response => ({ ok: status < 300, status, json: async () => body });

function asks(allow: (problem: Problem) => Promise<string | null>, ...replies: Response[]) {
  const sent: Record<string, string>[] = [];
  const requests = new Requests({
    fetch: async (_, init) => {
      sent.push(init?.headers ?? {});
      return replies.shift() ?? json(200, { seq: 1, entry: 2 });
    },
    pause: async () => undefined,
    key: () => "one-key",
    allow,
  });
  return { requests, sent };
}

test("what needs a right goes again under the same key with the token of whoever allowed it", async () => {
  const { requests, sent } = asks(async (it) => `token for ${it.right} of ${it.who_may?.join()}`, json(403, refused));
  assert.equal((await requests.command("b", { do: "correct" })).kind, "ok");
  assert.deepEqual(sent.map((it) => it["Idempotency-Key"]), ["one-key", "one-key"]);
  assert.deepEqual(sent.map((it) => it["Weighd-Lent"]), [undefined, "token for correct of Bo"]);
});

test("who signed in needs no token, and what nobody allows stays refused", async () => {
  const signed = asks(async () => "", json(403, refused));
  assert.equal((await signed.requests.change("PUT", "api/limits/x", null, {})).kind, "ok");
  assert.deepEqual(signed.sent.map((it) => "Weighd-Lent" in it), [false, false]);
  const none = asks(async () => null, json(403, refused));
  const answer = await none.requests.command("b", { do: "correct" });
  assert.equal(answer.kind === "refused" && answer.problem.code, "needs-right");
  assert.equal(none.sent.length, 1);
  const twice = asks(async () => "t", json(403, refused), json(403, refused));
  assert.equal((await twice.requests.command("b", { do: "correct" })).kind, "refused");
  assert.equal(twice.sent.length, 2);
});
