// Fassungen einer Rezeptur, und zwei nebeneinander.

import { number } from "../../core/numbers.ts";
import type { TextsOf } from "../../core/texts.ts";
import { foreign, same } from "../../core/translation.ts";

const NBSP = "\u00a0";

export const revisionsTerms: TextsOf<"revisionsTerms"> = {
  named: {
    name: "Name",
    kind: "Klasse",
    note: "Notiz",
    scenario: "Szenario",
    cautions: "Warnhinweise",
    caution: "Warnhinweis",
    allergens: "Allergene",
    tolerance: "Toleranz",
    method: "Art des Wägens",
    carrier: "Träger",
    limits: "Grenzen",
    how: "Was zu tun ist",
    with: "Womit",
    table: "Tabelle der Paare",
    "product.keeps_days": "Haltbar, in Tagen",
    "product.storage": "Lagerung",
    "product.gtin": "Artikelnummer",
  },
  where: {
    page: "auf der Seite gesichert",
    ingredients: "eine Zutat wurde geändert",
    file: "in der Datei gefunden",
    batch: "eine Charge wurde damit begonnen",
    shared: "veröffentlicht",
  },
  marks: {
    same: "unverändert", more: "mehr", less: "weniger", added: "dazu", removed: "heraus", changed: "geändert", moved: "verschoben",
  },
  bits: {
    none: "nichts",
    unknown: "nicht bekannt",
    points: (text) => `${text} Punkte`,
    by: (name) => `von ${name}`,
    at: (station) => `in ${station}`,
    orMore: (least) => `${least} oder mehr`,
    orLess: (most) => `${most} oder weniger`,
    to: (least, most) => `${least} bis ${most}`,
    every: "jedes Gefrorene",
    now: "wie jetzt",
  },
};

const named = (of: string) => (revisionsTerms.named as Record<string, string>)[of] ?? of;

export const revisions: TextsOf<"revisions"> = {
  title: "Fassungen",
  lead: "Jede bleibt, wie sie war. Zwei auswählen, und beide nebeneinander sehen.",
  only: "Bisher ist nur diese bekannt. Ist die Rezeptur einmal geändert, stehen hier beide nebeneinander.",
  none: "Noch ist nichts von ihr aufgehoben.",
  gone: "Eine Datei dieser Rezeptur gibt es hier nicht. Ihre Fassungen bleiben.",
  toEditor: "Zur Rezeptur",
  toList: "Alle Fassungen",
  now: "jetzt",
  called: same,
  met: same,
  batches: (n) => (n === 0 ? "keine Charge" : n === 1 ? "1 Charge" : `${n} Chargen`),
  more: (n) => `und ${n} weitere`,
  away: (n) => (n === 1 ? "1 Charge ist ausgelagert: Ihre Fassung steht im Archiv." : `${n} Chargen sind ausgelagert: Ihre Fassungen stehen im Archiv.`),
  left: (where) => `Ausgelassen: ${where}.`,
  chosen: (n) => (n === 2 ? "Beide nebeneinander zeigen" : "Zwei auswählen"),
  again: "Diese wieder aufnehmen",
  isNow: "So ist die Rezeptur jetzt.",

  both: "Nebeneinander",
  before: "Vorher",
  after: "Nachher",
  change: "Unterschied",
  what: "Was sich unterscheidet",
  nothing: "Zwischen diesen beiden ist kein Unterschied.",
  onlySize: "Nur die Menge ist anders: Jeder Anteil ist, wie er war.",
  counted: (n, of) => (n === 0 ? `Keine von ${of} Zugaben ist anders.` : n === 1 ? `1 von ${of} Zugaben ist anders.` : `${n} von ${of} Zugaben sind anders.`),
  allergens: { new: (names) => `Neue Allergene: ${names.join(", ")}.`, gone: (names) => `Nicht mehr darin: ${names.join(", ")}.` },
  additions: "Zugaben",
  steps: "Nach dem Wägen",
  texts: "Was dabeisteht",
  all: "Insgesamt",
  missing: "nicht darin",
  amount: same,
  share: same,
  grams: same,
  points: same,
  mark: same,
  asked: (limits) => foreign(limits),
  place: (from, to) => `von Platz ${from} nach ${to} verschoben`,
  text: (it) => `${named(it.of)}: ${it.then || "nichts"}, jetzt ${it.now || "nichts"}`,
  of: same,
  noText: "nichts",
  fact: (name, it) =>
    `${name} in 100${NBSP}g: ${it.then === null ? "nicht bekannt" : number(it.then)}, jetzt ${it.now === null ? "nicht bekannt" : number(it.now)}`,
  comes: "Was jede ergibt",
  quantity: "Größe",
  rows: same,
  curve: (then, now) => `Wie es gefriert. Vorher: ${then} Nachher: ${now}`,
  held: "Gehalten an die Grenzen von",
  own: "der eigenen Klasse der Rezeptur",
  unknownClass: (name) => `Eine Klasse \u201e${name}\u201c gibt es hier nicht mehr.`,
  limits: same,
  kept: (it) => {
    const inside = (key: "then" | "now") => it.limits.filter((one) => one[key].standing === "inside").length;
    return `Von ${it.limits.length} Grenzen waren vorher ${inside("then")} eingehalten, nachher ${inside("now")}.`;
  },
  usual: "Üblich für",
  limit: "Grenze",
  noLimits: "Es sind keine Grenzen bekannt, an die sie zu halten wäre.",
  prices: (it) => {
    if (!it.prices.known) return "Keine Kosten: Hier sind keine Preise bekannt.";
    return `Kosten auf beiden Seiten nach heutigen Preisen${it.prices.date ? `, die seit ${it.prices.date} gelten` : ""}.`;
  },
  unsure: (it) => {
    const of = Object.keys(it.missing).map((id) => it.additions.find((one) => one.ingredient === id)?.name ?? id);
    return of.length === 0 ? "" : `Nicht alles bekannt von: ${of.join(", ")}.`;
  },
  method: (it) => `Gefrieren nach ${foreign(it.method)}. Ein Anhalt, keine Messung.`,

  taken: (revision) => `Fassung ${revision.slice(0, 6)} steht in den Feldern. Noch ist nichts gesichert; ist sie es, so ist sie die neueste Fassung.`,
  otherwise: (it) =>
    it.why === "gone" ? `${it.name} steht nicht mehr in der Liste der Zutaten.` : `${it.name} heißt oder enthält inzwischen etwas anderes; es gilt, was in der Liste steht.`,
  stays: (keys) => `Das war damals anders, und bleibt, wie es in der Datei steht: ${keys.map((key) => key.replaceAll("_", " ")).join(", ")}.`,

  since: {
    changed: "Seit dieser Charge wurde die Rezeptur geändert.",
    see: "Sehen, was sich geändert hat",
    same: "Die Rezeptur ist noch so, wie sie für diese Charge war.",
    gone: "Eine Datei dieser Rezeptur gibt es hier nicht.",
  },
};
