// Contrast of every pair of colours the page puts together, worked out from tokens.css.
// Formulas and limits: WCAG 2.2, "relative luminance" and "contrast ratio", success criteria 1.4.3
// (text 4.5:1) and 1.4.11 (drawings and edges of controls 3:1). From memory.

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import test from "node:test";

const css = readFileSync(join(process.cwd(), "src", "style", "tokens.css"), "utf8");

function tokens(block: string): Record<string, string> {
  return Object.fromEntries(
    [...block.matchAll(/--([a-z-]+):\s*(#[0-9a-f]{6});/gi)].map((m) => [m[1]!, m[2]!]),
  );
}

/** What stands between the braces of this rule. */
const of = (head: string) => css.split(`${head} {\n  :root {`)[1]!.split("}")[0]!;
const light = tokens(css.split("@media")[0]!);
const dark = { ...light, ...tokens(of("@media (prefers-color-scheme: dark)")) };
const strong = { ...light, ...tokens(of("@media (prefers-contrast: more)")) };
const strongDark = { ...dark, ...tokens(of("@media (prefers-contrast: more)")), ...tokens(of("@media (prefers-contrast: more) and (prefers-color-scheme: dark)")) };
/** Name, colours, and what text and drawings have to stand out by. 7 to 1 is 1.4.6, asked for by whoever wants more. */
const SCHEMES = [
  ["light", light, 4.5, 3],
  ["dark", dark, 4.5, 3],
  ["more contrast", strong, 7, 4.5],
  ["more contrast, dark", strongDark, 7, 4.5],
] as const;

function luminance(hex: string): number {
  const [r, g, b] = [1, 3, 5]
    .map((at) => parseInt(hex.slice(at, at + 2), 16) / 255)
    .map((c) => (c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4));
  return 0.2126 * r! + 0.7152 * g! + 0.0722 * b!;
}

function contrast(one: string, other: string): number {
  const [hi, lo] = [luminance(one), luminance(other)].sort((a, b) => b - a);
  return (hi! + 0.05) / (lo! + 0.05);
}

const TONES = ["quiet", "flow", "good", "short", "over", "close", "stop"];
const TEXT: [string, string][] = [
  ["ink", "ground"], ["ink", "board"], ["ink", "field"], ["soft", "ground"], ["soft", "board"],
  ["cobalt", "board"], ["cobalt", "ground"], ["on-cobalt", "cobalt"], ["warn-ink", "warn-ground"],
  ["warn-ink", "board"], ["warn-ink", "ground"], ["ground", "ink"],
  ...TONES.map((tone): [string, string] => ["on-tone", tone]),
  ...TONES.map((tone): [string, string] => [tone, "board"]),
  ["on-slow", "slow"], ["on-tone", "halt"], ["halt", "board"],
];
const DRAWN: [string, string][] = [
  ["line", "board"], ["line", "ground"], ["focus", "board"], ["focus", "ground"], ["ink", "track"],
  ["flow", "track"], ["good", "track"], ["over", "track"], ["line", "field"],
  ...TONES.map((tone): [string, string] => [tone, "ground"]),
  // the cue: its rim and its bar, by their edges
  ["halt", "ground"], ["slow-edge", "ground"], ["slow-edge", "board"],
];

/** The stripes of the cue: its colour with so much of its ink (`cue.css`), in sRGB. */
const STRIPE = 0.17;
const CUES: [string, string][] = [["flow", "on-cobalt"], ["slow", "on-slow"]];

for (const [name, scheme, text, drawn] of SCHEMES) {
  test(`${name}: text stands out ${text} to 1 and drawings ${drawn} to 1`, () => {
    for (const [pairs, least] of [[TEXT, text], [DRAWN, drawn]] as const) {
      for (const [front, back] of pairs) {
        assert.ok(scheme[front] && scheme[back], `${front} or ${back} is not in tokens.css`);
        const ratio = contrast(scheme[front], scheme[back]);
        assert.ok(ratio >= least, `${front} on ${back}: ${ratio.toFixed(2)}, wanted ${least}`);
      }
    }
  });
}

/** `color-mix(in srgb, one, other share)`. */
function mixed(one: string, other: string, share: number): string {
  const part = (hex: string, at: number) => parseInt(hex.slice(at, at + 2), 16);
  return `#${[1, 3, 5]
    .map((at) => Math.round(part(one, at) * (1 - share) + part(other, at) * share))
    .map((c) => c.toString(16).padStart(2, "0"))
    .join("")}`;
}

for (const [name, scheme] of SCHEMES) {
  test(`${name}: the word of the cue stands out 4.5 to 1 from its stripes`, () => {
    const css = readFileSync(join(process.cwd(), "src", "style", "cue.css"), "utf8");
    assert.ok(css.includes(`color-mix(in srgb, var(--cue), var(--on-cue) ${STRIPE * 100}%)`));
    for (const [cue, ink] of CUES) {
      const ratio = contrast(scheme[ink]!, mixed(scheme[cue]!, scheme[ink]!, STRIPE));
      assert.ok(ratio >= 4.5, `${ink} on the stripes of ${cue}: ${ratio.toFixed(2)}`);
    }
  });
}

test("the measure itself: black on white is 21 to 1, and a known grey is at the limit", () => {
  assert.equal(contrast("#000000", "#ffffff").toFixed(1), "21.0");
  assert.equal(contrast("#767676", "#ffffff").toFixed(2), "4.54");
});
