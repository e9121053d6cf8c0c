import assert from "node:assert/strict";
import test from "node:test";
import { writeAs } from "../src/core/locale.ts";
import { refusal } from "../src/core/refusals.ts";
import { sayer } from "../src/core/sayings.ts";
import { pieces } from "../src/core/translation.ts";
import { refusals } from "../src/lang/de/refusals.ts";
import { aboutRecords, atTheBoard, inFields, inProcess, said, says } from "../src/lang/de/sayings.ts";

writeAs("de-DE", "g");

const refused = (code: string, detail: string): string => {
  const it = refusals.refusals[code as "other-vessel"];
  return typeof it === "function" ? it(detail) : String(it);
};

test("a sentence of the station is said again with what it filled in", () => {
  assert.equal(said("That is milk; sucrose is being weighed."), "Das ist milk; gewogen wird sucrose.");
  assert.equal(
    said("251.3 g stand on the scale, but bowl A weighs 240 g: 11.3 g more, where 1.5 g are allowed for."),
    "Auf der Waage stehen 251,3\u00a0g, und bowl A wiegt 240\u00a0g: 11,3\u00a0g mehr, erlaubt sind 1,5\u00a0g.",
  );
  assert.equal(said("It failed. It was colder than 4 °C."), "Es ist misslungen. Es war kälter als 4 °C.");
  assert.equal(said("batter: nothing known of it."), null);
});

test("of two sentences that fit, the one with more words of its own is taken", () => {
  assert.match(said("This lot of milk was to be used by 2026-11-02, since it was opened on 2026-10-30 and keeps 3 days.")!, /haltbar 3 Tage\.$/);
  assert.equal(said('no ingredient is called "x"; add [ingredients.x] here or to the ingredient list'), "eine Zutat „x“ gibt es nicht; hier oder in der Zutatenliste anlegen");
  const say = sayer({ "{} is {}": "A {1} {2}", "{} is {} of {}": "B {3}" }, (g) => g);
  assert.equal(say("it is one of two"), "B two");
});

test("said again it stands for our first sentence, and what to do follows", () => {
  assert.equal(refused("other-ingredient", "That is milk; sucrose is being weighed."), "Das ist milk; gewogen wird sucrose. Beiseitestellen.");
  assert.equal(refused("nothing-wrong", "addition 2: 364.3 g of Sucrose are in, and up to 365.8 g are allowed."), "364,3\u00a0g Sucrose sind darin, bis 365,8\u00a0g sind erlaubt. Angeben, was war: Es ging aus, oder es war eine falsche Zutat.");
  const unknown = refused("other-ingredient", "Something new of the station.");
  assert.deepEqual(pieces(unknown).map((it) => it.foreign), [false, true]);
  assert.ok(pieces(says("Something else.")).every((it) => it.foreign));
});

test("in English too, amounts stand in the unit that is shown", () => {
  const sentence = "addition 2: 364.3 g count as Sucrose; 12 g/mL and 5 grams are none.";
  writeAs("en-GB", "oz");
  assert.equal(refusal("counts-as-added", sentence, ""), "12.850\u00a0oz count as Sucrose; 12 g/mL and 5 grams are none.");
  writeAs("en-GB", "g");
  assert.equal(refusal("counts-as-added", sentence, ""), "364.3\u00a0g count as Sucrose; 12 g/mL and 5 grams are none.");
  writeAs("de-DE", "g");
});

test("what is filled in is used, and no slot is asked for that the sentence has not", () => {
  for (const [key, german] of Object.entries({ ...atTheBoard, ...inProcess, ...aboutRecords, ...inFields })) {
    const slots = key.split("{}").length - 1;
    const used = [...german.matchAll(/\{(\d)/g)].map((it) => Number(it[1]));
    assert.ok(used.every((n) => n >= 1 && n <= slots), key);
    assert.ok(slots - new Set(used).size <= 1, `${key}: what the station filled in is lost`);
    assert.ok(!key.endsWith("."), key);
  }
});
