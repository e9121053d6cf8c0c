import assert from "node:assert/strict";
import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import test from "node:test";
import { day, inSteps, mass, massWithUnit, between, number, numbers, signed, stamp, typedMass, unsureWithUnit, when } from "../src/core/numbers.ts";
import { unitFor, writeAs } from "../src/core/locale.ts";
import { LANGUAGES, languageOf, showingOf, tagOf } from "../src/core/settings.ts";
import { texts } from "../src/core/texts.ts";
import { foreign, pieces, putOver, same } from "../src/core/translation.ts";
import { words } from "../src/core/words.ts";
import { de } from "../src/lang/de/index.ts";

type Leaf = [path: string, value: unknown];
function leaves(it: unknown, path = ""): Leaf[] {
  if (typeof it !== "object" || it === null) return [[path, it]];
  return Object.entries(it).flatMap(([key, value]) => leaves(value, path ? `${path}.${key}` : key));
}

/** Taken before anything is put over it. */
const own = (it: object, path: string) => path !== "page" || !(Object.values(texts) as object[]).includes(it);
const ENGLISH = Object.entries(texts).flatMap(([name, group]) =>
  Object.entries(group).flatMap(([key, value]) =>
    // words.ts holds the other files' words too: those stand under their own names.
    ["notice", "refusal"].includes(key) || (name === "page" && typeof value === "object" && !own(value as object, name)) ? [] : leaves(value, `${name}.${key}`),
  ),
);
const GERMAN = new Map(leaves(de));
const SOURCE = (it: unknown) => (typeof it === "function" ? it.toString() : "");

/** What is the same in both: names of keys and units, words German has taken over, and signs. */
const ALIKE = new Set([
  "T", "A", "U", "O", "L", "K", "S", "Esc", "?", "/", "", "Name", "Max", "Code", "Station", "Simulation", "OK", "PIN", "dry ice",
  "g/mL", "2 g, 1 %, +1 / -2 g", "5, 34..36, <=200 g", "-5", "-6", "-8", "-10", "-12", "-14", "-18",
]);

test("every word has its German, and German has no word that English has not", () => {
  const missing = ENGLISH.filter(([path]) => !GERMAN.has(path)).map(([path]) => path);
  const more = [...GERMAN.keys()].filter((path) => !ENGLISH.some(([one]) => one === path));
  assert.deepEqual(missing, [], "not in German yet: see src/lang/de, and DEVELOPERS.md, How to add a language");
  assert.deepEqual(more, []);
});

/** Spread into refusals.ts, and translated with it. */
const SPREAD = new Set(["sharedRefusals", "sharedNotices"]);

test("every word object of the page stands where a translation finds it", async () => {
  const reached = new Set<unknown>();
  const reach = (it: unknown) => {
    if (typeof it !== "object" || it === null || reached.has(it)) return;
    reached.add(it);
    Object.values(it).forEach(reach);
  };
  reach(texts);
  const folder = join(process.cwd(), "src", "core");
  const lost: string[] = [];
  for (const file of readdirSync(folder)) {
    const module = (await import(new URL(`../src/core/${file.replace(/\.ts$/, ".js")}`, import.meta.url).href)) as object;
    for (const [name, it] of Object.entries(module)) {
      const said = leaves(it).some(([, leaf]) => typeof leaf === "string" && /^[A-Z][a-z]+ [a-z]/.test(leaf));
      if (typeof it === "object" && said && !reached.has(it) && !SPREAD.has(name)) lost.push(`${file}: ${name}`);
    }
  }
  assert.deepEqual(lost, [], "not in texts.ts");
});

test("nothing is left in English, and what is a function stays one with the same parameters", () => {
  for (const [path, english] of ENGLISH) {
    const german = GERMAN.get(path);
    if (german === undefined) continue;
    if (typeof english === "function") {
      assert.ok(german === same || typeof german === "function", path);
    } else {
      // A refusal may be a sentence of its own in one language and keep the station's in the other.
      assert.equal(typeof german === "function" && path.startsWith("refusals") ? "string" : typeof german, typeof english, path);
      if (german === english) assert.ok(ALIKE.has(english as string), `${path}: ${String(english)}`);
    }
  }
});

test("what a function is given is used in German as in English", () => {
  const used = (it: unknown) => {
    const source = SOURCE(it);
    const head = /^(?:async\s*)?\(?([^)=]*)\)?\s*=>/.exec(source)?.[1] ?? /^[^(]*\(([^)]*)\)/.exec(source)?.[1] ?? "";
    const names = head.split(",").map((one) => one.trim().replace(/[={].*$/, "")).filter((one) => /^[A-Za-z_$][\w$]*$/.test(one) && !one.startsWith("_"));
    const body = source.slice(source.indexOf("=>") + 2);
    return names.map((name) => new RegExp(`(?<![\\w$.])${name.replace(/\$/g, "\\$")}(?![\\w$])`).test(body));
  };
  for (const [path, english] of ENGLISH) {
    const german = GERMAN.get(path);
    if (typeof english !== "function" || typeof german !== "function") continue;
    const [one, two] = [used(english), used(german)];
    // Words that a language needs no grammar for may leave a parameter out at the end, never one that English says.
    for (const [n, said] of two.entries()) assert.ok(said, `${path}: parameter ${n + 1} is not used`);
    assert.ok(two.length >= one.length || path.startsWith("refusals"), `${path}: ${two.length} of ${one.length} parameters`);
  }
});

test("a function that is said to have no words of its own has none", () => {
  const wordy = /\b(?:the|is|are|of|and|not|from|with|now|too|was)\b/;
  const codes = new Set(['"accept with reason"', '"too close to call"', '"out of tolerance"']);
  for (const [path, german] of GERMAN) {
    if (german !== same) continue;
    const source = SOURCE(ENGLISH.find(([one]) => one === path)![1]).replace(/\$\{[^{}]*\}/g, "");
    const literals = (source.match(/"(?:[^"\\]|\\.)*"|`(?:[^`\\]|\\.)*`/g) ?? []).filter((it) => !codes.has(it));
    for (const it of literals) assert.ok(!wordy.test(it), `${path}: ${it}`);
  }
});

test("plurals are those of the language: one, and more than one", () => {
  // German has "one" and "other" (Unicode CLDR, plural rules), which Intl knows from it.
  const rules = new Intl.PluralRules("de");
  const pairs: [string, (n: number) => string][] = [];
  for (const [path, german] of GERMAN) {
    if (typeof german !== "function" || german.length !== 1) continue;
    if (/^\(?n\)? => \(?n === 1 \?/.test(SOURCE(german))) pairs.push([path, german as (n: number) => string]);
  }
  assert.ok(pairs.length > 10);
  // "put 1 in" and "put 2 in" are one form in German.
  const oneForm = new Set(["pasting.take"]);
  for (const [path, say] of pairs) {
    assert.equal(rules.select(1), "one");
    if (!oneForm.has(path)) assert.notEqual(say(1).replace("1", "2"), say(2), path);
    for (const n of [2, 5, 11, 101]) assert.equal(rules.select(n), "other", path);
  }
});

test("no language changes what is recorded: codes and keys stay English", () => {
  assert.equal(texts.dryIce.means, "dry ice");
  assert.equal((de.dryIce as { means: string }).means, "dry ice");
});

test("the page's own files hold no words: they all stand where a translation finds them", () => {
  const folder = join(process.cwd(), "src", "app");
  for (const file of readdirSync(folder).filter((it) => it.endsWith(".tsx"))) {
    const text = readFileSync(join(folder, file), "utf8").replace(/\/\*[\s\S]*?\*\/|^\s*\/\/.*$/gm, "");
    // Text between tags on one line, and attributes that people read.
    for (const found of text.matchAll(/<(?:p|span|h[1-3]|b|strong|small|button|a|label|legend|li|dt|dd|th|td|summary|option)[^<>]*>\s*([A-Za-z][^<>{}]{2,})</g)) {
      assert.fail(`${file}: ${found[1]}`);
    }
    for (const found of text.matchAll(/(?:aria-label|placeholder|title|alt)="([A-Za-z][^"]*)"/g)) assert.fail(`${file}: ${found[1]}`);
  }
});

test("the language is the one chosen, else the first the browser asks for that there is", () => {
  assert.equal(languageOf("", ["fr-FR", "de-AT", "en"]), "de");
  assert.equal(languageOf("en", ["de"]), "en");
  assert.equal(languageOf("xx", ["fr"]), "en");
  assert.equal(tagOf("de", ["en-US", "de-CH"]), "de-CH");
  assert.equal(tagOf("de", ["en-US"]), "de-DE");
  assert.equal(tagOf("de", ["de-!"]), "de-DE");
  assert.equal(showingOf("stone"), "g");
  assert.deepEqual(Object.keys(LANGUAGES), ["en", "de"]);
});

test("decimal mark by the language; groups by a thin space in each (SI brochure, 5.4.4); no digit is lost", () => {
  writeAs("de-DE", "g");
  assert.equal(mass("12345.60"), "12\u202f345,60");
  assert.equal(signed("-0.40"), "\u22120,40");
  assert.equal(number("0.000001234567890123456789"), "0,000001234567890123456789");
  assert.equal(numbers("68.5 \u00b0C, -5 to -6.5, at 2026-11-27"), "68,5 \u00b0C, \u22125 to \u22126,5, at 2026-11-27");
  assert.equal(typedMass("1,5"), "1.5");
  assert.equal(typedMass("1.5"), "1.5");
  assert.equal(typedMass(mass("12345.60")), "12345.60");
  writeAs("en-GB", "g");
  assert.equal(mass("12345.60"), "12\u202f345.60");
});

test("times as Intl writes them in the language; months are words where 11/12 could be two days", () => {
  const at = new Date(2026, 10, 27, 14, 5, 9).toISOString();
  const later = new Date(2026, 10, 28);
  writeAs("de-DE", "g");
  assert.equal(when(at, later), "27.11.2026 14:05");
  assert.equal(when(at, new Date(2026, 10, 27)), "14:05");
  assert.equal(stamp(at), "27.11.2026 14:05:09");
  assert.equal(day("2026-11-30"), "30.11.2026");
  assert.equal(day("soon"), "soon");
  writeAs("en-GB", "g");
  assert.equal(day("2026-11-30"), "30 Nov 2026");
  assert.equal(when(null), "\u2013\u2013\u2013");
});

test("ounces and pounds are those of NIST Handbook 44, appendix C, to every digit", () => {
  writeAs("en-GB", "oz");
  // 1 oz = 28.349523125 g and 1 lb = 453.59237 g, exactly.
  assert.equal(massWithUnit("28.349523125"), "1.00000000000\u00a0oz");
  assert.equal(massWithUnit("28.3"), "0.998\u00a0oz");
  assert.equal(mass("-100"), "\u22123.53");
  assert.equal(unsureWithUnit("0.05"), "0.0018\u00a0oz");
  writeAs("en-GB", "lb");
  assert.equal(massWithUnit("453.59237"), "1.00000000\u00a0lb");
  assert.equal(massWithUnit("907.2"), "2.0000\u00a0lb");
  writeAs("de-DE", "kg");
  assert.equal(massWithUnit("1234.5"), "1,2345\u00a0kg");
  writeAs("de-DE", "g-kg");
  assert.equal(massWithUnit("999.9"), "999,9\u00a0g");
  assert.equal(massWithUnit("1000.0"), "1,0000\u00a0kg");
  assert.equal(unitFor("-0999.9"), "g");
  writeAs("en-GB", "g");
});

test("a limit that is shown in another unit allows nothing that the record does not", () => {
  const back = { oz: 28349523125n, lb: 453592370000n, kg: 1000000000000n };
  const nano = (text: string) => {
    const [whole, part = ""] = text.replaceAll("\u202f", "").split(".");
    return [BigInt(whole! + part), BigInt(10 ** part.length)] as const;
  };
  for (const unit of ["oz", "lb", "kg"] as const) {
    writeAs("en-GB", unit);
    for (let g = 1; g < 4000; g += 37) {
      for (const [low, high, interval] of [[`${g}.3`, `${g + 5}.7`, "0.1"], [`${g}`, `${g + 12}`, "1"], [`${g}.25`, `${g}.85`, null]] as const) {
        const [from, to, of] = between(low, high, interval);
        assert.equal(of, unit);
        const [[f, fd], [t, td]] = [nano(from), nano(to)];
        const [[l, ld], [h, hd]] = [nano(low), nano(high)];
        assert.ok(f * back[unit] * ld >= l * 1000000000n * fd, `${low} g: from ${from} ${unit}`);
        assert.ok(t * back[unit] * hd <= h * 1000000000n * td, `${high} g: to ${to} ${unit}`);
      }
    }
  }
  writeAs("en-GB", "g");
});

test("one step of the scale shows in every unit", () => {
  for (const unit of ["oz", "lb", "kg", "g-kg"] as const) {
    writeAs("en-GB", unit);
    for (const [one, two] of [["100.0", "100.1"], ["100", "101"], ["2000.00", "2000.01"]]) {
      assert.notEqual(mass(one), mass(two), `${unit}: ${one}`);
      assert.equal(mass(one).length, mass(two).length);
    }
  }
  writeAs("en-GB", "g");
  assert.equal(inSteps("12.34", "0.1"), "12.3");
});

test("the station's own words are marked, and nothing else", () => {
  const text = `Das geht nicht. ${foreign("The scale is in use.")} Ende`;
  assert.deepEqual(pieces(text), [
    { text: "Das geht nicht. ", foreign: false },
    { text: "The scale is in use.", foreign: true },
    { text: " Ende", foreign: false },
  ]);
  assert.deepEqual(pieces("plain"), [{ text: "plain", foreign: false }]);
  assert.equal(foreign(""), "");
});

// The last one: from here on the words are German.
test("German is put over the English; what has none stays English", () => {
  putOver(texts, de);
  writeAs("de-DE", "oz");
  assert.equal(words.nav.bench, "Wägen");
  assert.equal(words.cue("slow"), "Langsam");
  assert.equal(words.weigh.between("99.0", "101.0", "0.1"), "3,493 bis 3,562\u00a0oz");
  assert.match(words.refusal("not-settled", "DETAIL.", "REMEDY."), /^Noch nicht beruhigt/);
  assert.equal(words.refusal("brand-new", "It says.", "Do this."), foreign("It says. Do this."));
  putOver(texts, { page: { nav: { bench: same, nothing: "x" } } });
  assert.equal(words.nav.bench, "Wägen");
  assert.ok(!("nothing" in words.nav));
});
