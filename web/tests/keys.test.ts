import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import test from "node:test";
import { type At, listed, possible, ROWS, wish } from "../src/core/keys.ts";
import { counts, isPedal, nameOf, type PedalKey, readPedal, refusedKey, SETTLE_MS, takenFrom } from "../src/core/pedal.ts";
import { handOf } from "../src/core/settings.ts";

const at = (more: Partial<At> = {}): At => ({ screen: "bench", big: false, can: [], first: false, ways: 0, measures: false, ...more });
const press = (key: string) => ({ key, repeat: false, ctrlKey: false, metaKey: false, altKey: false });
const free = { typing: false, control: false, dialog: false };
const key = (key: string, code = key, more: Partial<PedalKey> = {}): PedalKey => ({ key, code, ctrlKey: false, altKey: false, shiftKey: false, metaKey: false, ...more });

test("the list of keys is the table that keys act by: what it says acts now, what it leaves out does not", () => {
  for (const screen of ["bench", "process", "check", "records", "find", "wall"] as const) {
    for (const can of [[], ["tare", "abandon"], ["accept", "name lot"], ["accept with reason", "top up", "take out"]] as const) {
      for (const more of [{}, { big: true, ways: 2, measures: true, first: true }]) {
        const here = at({ screen, can, ...more });
        const { now, not } = listed(here);
        assert.equal(now.length + not.length, ROWS.length);
        for (const row of now.filter((it) => it.wish !== "shut")) {
          for (const one of row.keys) assert.equal(wish(press(one), free, screen), row.wish, `${screen}: ${one}`);
        }
        for (const row of not) {
          const asked = row.keys.map((one) => wish(press(one), free, screen));
          assert.ok(asked.every((it) => it !== row.wish || !possible(it, here)), `${screen}: ${row.wish}`);
        }
      }
    }
  }
  assert.deepEqual(listed(at({ can: ["tare"] })).now.map((it) => it.wish), ["tare", "sound", "find", "keys", "shut"]);
  // T leads to the field for a temperature where there is one, and tares nothing there.
  assert.equal(wish(press("t"), free, "process"), "temperature");
  assert.equal(wish(press(" "), free, "records"), null);
});

test("keys are bound by nothing but the table", () => {
  const source = readFileSync(join(process.cwd(), "src", "app", "keyboard.ts"), "utf8");
  const named = [...source.matchAll(/key === "([^"]+)"/g)].map((it) => it[1]);
  assert.deepEqual([...new Set(named)].sort(), [" ", "Enter"], "a key of its own in keyboard.ts");
});

test("a pedal is known again by where its key lies and by its modifiers", () => {
  const b = key("b", "KeyB");
  assert.ok(isPedal(b, key("B", "KeyB")), "Caps Lock changes nothing");
  assert.ok(!isPedal(b, key("b", "KeyB", { ctrlKey: true })));
  assert.ok(!isPedal(b, key("n", "KeyN")));
  assert.ok(isPedal(key("PageDown", ""), key("PageDown", "Numpad3")), "a browser that says no code");
  assert.ok(!isPedal(null, b));
  assert.deepEqual(readPedal(JSON.stringify(b)), b);
  for (const kept of ["", "{}", "null", "[1]", '{"key": "b"}', JSON.stringify(key("Tab"))]) assert.equal(readPedal(kept), null, kept);
  assert.equal(nameOf(key("F9", "F9", { ctrlKey: true, shiftKey: true })), "Ctrl + Shift + F9");
  assert.equal(nameOf(key(" ", "Space")), "Space");
});

test("keys that would break the page are no pedal's, each with its reason", () => {
  const why = (name: string, more: Partial<PedalKey> = {}) => refusedKey(key(name, name, more));
  for (const [name, reason] of [["Tab", "tab"], ["Escape", "escape"], ["ArrowDown", "arrow"], ["Shift", "modifier"], ["AltGraph", "modifier"], ["CapsLock", "lock"], ["F5", "browser"], ["BrowserBack", "browser"], ["Unidentified", "unknown"]] as const) {
    assert.equal(why(name), reason, name);
  }
  for (const name of ["b", "1", "PageDown", "Enter", " ", "F8", "F13", "F24", "Insert", "MediaPlayPause"]) assert.equal(why(name), null, name);
  assert.equal(why("w", { ctrlKey: true }), "browser");
  assert.equal(why("F4", { altKey: true }), "browser");
  assert.equal(why("F9", { ctrlKey: true }), null);
  assert.deepEqual(takenFrom(key("T", "KeyT")), ["tare", "temperature"]);
  assert.deepEqual(takenFrom(key("Enter")), []);
});

test("a press counts half a second after what it would do became another, and no letter in the midst of others", () => {
  assert.ok(!counts(1000 + SETTLE_MS - 1, 1000, -Infinity, false));
  assert.ok(counts(1000 + SETTLE_MS, 1000, -Infinity, false));
  assert.ok(!counts(5000, 0, 4960, true), "a scanner's letter");
  assert.ok(counts(5000, 0, 4960, false), "F9 is none");
  assert.ok(counts(5000, 0, 4940, true));
});

test("the hand is the right one unless the left was chosen", () => {
  assert.deepEqual(["left", "right", "", "both"].map(handOf), ["left", "right", "right", "right"]);
});
