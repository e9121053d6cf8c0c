// The worker that keeps the page: what it answers itself, and what it passes on.

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import test from "node:test";

const SOURCE = readFileSync(join(process.cwd(), "src", "worker", "sw.js"), "utf8");
const HOME = "https://kitchen.example/weighd/";
const GONE = Symbol("no answer");

interface Asked {
  method: string;
  mode: string;
  url: string;
}

/** What the worker answers, where the station gives `fetched`; nothing where it keeps out of it. */
async function answered(asked: Partial<Asked>, fetched: unknown, kept: Record<string, unknown> = { "./": "kept page" }): Promise<unknown> {
  const on: Record<string, (event: object) => void> = {};
  const self = { location: { href: `${HOME}sw.js` }, addEventListener: (name: string, call: () => void) => (on[name] = call) };
  const named = (of: Asked | string) => (typeof of === "string" ? of : of.url.replace(HOME, "./"));
  const caches = { match: async (of: Asked | string) => kept[named(of)] };
  const fetch = async () => {
    if (fetched === GONE) throw new TypeError("failed to fetch");
    return fetched;
  };
  const source = SOURCE.replace("__FILES__", '["./", "./assets/a.js", "./icon.svg"]');
  new Function("self", "caches", "fetch", "Response", source)(self, caches, fetch, { error: () => "network error" });
  let said: unknown;
  on["fetch"]!({ request: { method: "GET", mode: "navigate", url: HOME, ...asked }, respondWith: (it: unknown) => (said = it) });
  return said;
}

test("the page is the station's own while it answers, and the kept one while it does not", async () => {
  const page = { status: 200 };
  assert.equal(await answered({}, page), page);
  assert.equal(await answered({}, GONE), "kept page");
  for (const status of [502, 503, 504]) assert.equal(await answered({}, { status }), "kept page");
  assert.equal(await answered({}, GONE, {}), "network error");
});

test("what stands before the station is passed on: its sign-in, its refusal", async () => {
  // A redirect that a navigation does not follow itself has status 0 and this type (Fetch standard, 2.2.6, from memory).
  const signIn = { status: 0, type: "opaqueredirect" };
  assert.equal(await answered({}, signIn), signIn);
  for (const status of [401, 403, 404, 500]) {
    const answer = { status };
    assert.equal(await answered({}, answer), answer);
  }
});

test("files are answered from what is kept, and nothing that the station tells", async () => {
  const file = { mode: "cors", url: `${HOME}assets/a.js` };
  assert.equal(await answered(file, "fresh", { "./assets/a.js": "kept file" }), "kept file");
  assert.equal(await answered(file, "fresh", {}), "fresh");
  for (const url of [`${HOME}api/state`, `${HOME}assets/of-another-page.js`, HOME, "https://elsewhere.example/icon.svg"]) {
    assert.equal(await answered({ mode: "cors", url }, "fresh"), undefined, url);
  }
  assert.equal(await answered({ ...file, method: "POST" }, "fresh"), undefined);
});
