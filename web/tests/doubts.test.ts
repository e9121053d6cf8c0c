import assert from "node:assert/strict";
import { test } from "node:test";
import { doubts } from "../src/core/doubts.ts";
import type { Warning } from "../src/core/frames.ts";

const plain = (text: string) => text.replace(/\u00a0/g, " ");
const fine: Warning = {
  addition: 2,
  code: "too-fine",
  text: "as the station says it",
  scale: "bench",
  least_g: "6.59",
  finest_g: "0.14",
  least_batch_g: "1390",
  other_scale: null,
};

test("a tolerance too fine: from which amount up, and every way out", () => {
  assert.equal(
    plain(doubts.warning(fine)),
    "The scale bench can judge this tolerance from 6.59 g up. " +
      "Use a finer scale, a tolerance of 0.14 g or wider or a batch from 1390 g up.",
  );
  assert.equal(
    plain(doubts.warning({ ...fine, least_g: null, least_batch_g: null, other_scale: "fine" })),
    "The scale bench cannot judge this tolerance at any amount. " +
      "Use the scale fine or a tolerance of 0.14 g or wider.",
  );
});

test("a warning that this page does not know is shown as the station says it", () => {
  assert.equal(doubts.warning({ addition: null, code: "new", text: "Something new." }), "Something new.");
});

test("how many additions are too fine", () => {
  assert.equal(doubts.tooFine([fine]), "1 addition is too fine for the scale bench");
  assert.equal(doubts.tooFine([fine, fine]), "2 additions are too fine for the scale bench");
  assert.equal(doubts.tooFine([{ ...fine, code: "below-min" }]), "");
});

test("what an uncertainty is made of", () => {
  assert.equal(
    plain(doubts.uncertainty("0.122477", [["rounding", "0.040826"], ["permissible_error", "0.057735"], ["new", "0.1"]])),
    "0.12 g (standard): rounding 0.041 g, permissible error 0.058 g, new 0.10 g",
  );
  assert.equal(plain(doubts.uncertainty("0.0409", [])), "0.041 g (standard)");
});

test("the guard band, and what is accepted as the display can show it", () => {
  assert.equal(plain(doubts.guard("guarded, k = 2", "0.085802")), "guarded, k = 2: guard band 0.086 g");
  assert.equal(doubts.guard("simple, k = 2", null), "simple, k = 2");
  assert.equal(plain(doubts.accepts("95.125802", "96.874198", "0.1")), "95.2 to 96.8 g");
  assert.equal(doubts.accepts("2.1", "1.9", "0.1"), "no amount: the guard bands leave no room");
});
