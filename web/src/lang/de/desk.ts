// The desk: formulas, ingredients, limits; lists pasted, targets solved, what a mix is.

import { number } from "../../core/numbers.ts";
import { massWithUnit } from "../../core/numbers.ts";
import { type Mix, tenth } from "../../core/mix.ts";
import { pantry as english, whole } from "../../core/pantry.ts";
import type { TextsOf } from "../../core/texts.ts";
import { foreign, same } from "../../core/translation.ts";
import { says } from "./sayings.ts";

const parts: Record<string, string> = {
  water: "Wasser",
  fat: "Fett",
  msnf: "Fettfreie Milch\u00adtrockenmasse",
  whey_solids: "Molken\u00adtrockenmasse",
  stabiliser: "Stabilisator",
  other_solids: "Übrige Trockenmasse",
  alcohol: "Alkohol",
  salt: "Salz",
  sugars: "Zucker",
  milk_fat: "Milchfett",
  lactose: "Milchzucker",
  protein: "Eiweiß",
  ash: "Asche, ohne das Salz",
};
const facts: Record<string, string> = { composition: "Zusammensetzung", density_g_ml: "Dichte", cost_per_kg: "Preis", shelf_life_days: "Haltbarkeit" };

export const pantryTerms: TextsOf<"pantryTerms"> = {
  PARTS: parts,
  HINTS: {
    msnf: "mit ihrem Milchzucker",
    milk_fat: "vom Fett",
    lactose: "von Milch- und Molkentrockenmasse",
    protein: "von der Trockenmasse",
    ash: "von der Trockenmasse",
  },
  FACTS: facts,
  QUANTITIES: {
    total_solids: "Trockenmasse gesamt",
    sweetness: "Süße, als Saccharose",
    sucrose_equivalent: "Saccharose-Äquivalente",
    lactose_in_water: "Milchzucker im Wasser",
    msnf_in_serum: "Fettfreie Milch\u00adtrockenmasse im Serum",
    freezing_point: "Gefrierpunkt",
    density: "Dichte mit Luft",
    solids_per_litre: "Trockenmasse je Liter mit Luft",
  },
  sugar: (name) => `${name} (Zucker)`,
};

const list = (names: string[]) => names.join(", ");
const fact = (key: string) => facts[key] ?? english.call(key);

export const pantry: TextsOf<"pantry"> = {
  nav: "Rezepturen",
  tabs: { label: "Was zu pflegen ist", formulas: "Rezepturen", ingredients: "Zutaten", limits: "Grenzen" },
  call: same,
  hint: same,
  fact,
  save: "Speichern",
  saving: "Wird gespeichert\u2026",
  fault: says,
  saved: "Gespeichert.",
  saveWithKey: "Strg und Enter speichern auch.",
  notSaved: "Noch nicht gespeichert.",
  reload: "Datei neu lesen",
  reloadHint: "Was hier geändert wurde, geht dann verloren.",
  mend: "Erst in Ordnung bringen, was markiert ist.",
  remove: "Entfernen",
  sure: "Sicher? Noch einmal drücken",
  back: "Zurück zur Liste",
  formulas: {
    title: "Rezepturen",
    create: "Neue Rezeptur",
    none: "Noch keine Rezepturen.",
    edit: "Diese Rezeptur ändern",
    broken: "So nicht zu gebrauchen",
    unknown: "Die Datei lässt sich hier nicht öffnen. Mit einem Texteditor in Ordnung bringen.",
  },
  formula: {
    fresh: "Neue Rezeptur",
    name: "Name",
    file: "Name der Datei",
    fileHint: "Buchstaben, Ziffern und Bindestriche",
    kind: "Klasse",
    kindHint: "deren Grenzen gelten",
    noKind: "keine",
    note: "Notiz",
    cautions: "Warnhinweise",
    cautionsHint: "je Zeile einer; vor dem Wägen gezeigt",
    additions: "Zugaben",
    additionsHint: "in der Reihenfolge des Wägens",
    ingredient: "Zutat",
    choose: "wählen\u2026",
    amount: "Gramm",
    amountHint: "oder mit Einheit: 1,2 kg",
    share: "Anteil",
    percent: same,
    tolerance: "Toleranz",
    toleranceHint: "2 g, 1 %, +1 / -2 g",
    more: "Art der Wägung und Träger",
    out: "Als Differenz gewogen, aus dem eigenen Behälter",
    carrier: "Träger",
    carrierHint: "mischt sich gleichmäßig damit, wenn es für eine Waage zu wenig ist",
    noCarrier: "keiner",
    up: (n) => `Zugabe ${n} nach oben`,
    down: (n) => `Zugabe ${n} nach unten`,
    drop: (n) => `Zugabe ${n} herausnehmen`,
    add: "Zutat hinzufügen",
    total: (grams) => (grams === null ? "Summe: noch nicht bekannt" : `Summe: ${whole(grams)}\u00a0g`),
    weigh: "Wägen",
    copy: "Als neue kopieren",
    putAway: "Weglegen",
    putAwayHint: "Ihre Datei wandert in den Ordner .removed.",
    kept: (keys) => `Bleibt in der Datei, wie es ist: ${list(keys.map((key) => key.replaceAll("_", " ")))}.`,
    working: "Wird ausgerechnet\u2026",
    stale: "Diese Zahlen gehören zu einem früheren Text: Mit dem jetzigen lässt sich nicht rechnen.",
    slow: "Diese Zahlen gehören zu einem früheren Text: Die Station hat noch nicht geantwortet.",
    nothing: "Sobald jede Zugabe eine Zutat und eine Menge hat, steht hier, was die Mischung ist.",
    weighing: "Eine Charge, die gewogen wird, behält die Rezeptur, mit der sie begann.",
    limits: "Alle Grenzen dieser Klasse",
  },
  ingredients: {
    title: "Zutaten",
    search: "Suchen",
    searchHint: "Name, Code, Quelle oder Allergen",
    create: "Neue Zutat",
    fromTable: "Aus unserer Tabelle",
    fromFile: "Aus einer CSV-Datei",
    none: "Noch keine Zutaten.",
    notFound: (typed) => `Nichts hier heißt \u201e${typed}\u201c.`,
    count: (n, of) => (n === of ? `${of} ${of === 1 ? "Zutat" : "Zutaten"}` : `${n} von ${of} Zutaten`),
    known: "Alle Anteile sind angegeben",
    missing: (keys) => `Nicht bekannt: ${list(keys.map(fact))}`,
    price: (cost) => (cost ? `${number(cost)} je kg` : "Preis nicht bekannt"),
    used: (n) => (n === 0 ? "in keiner Rezeptur" : n === 1 ? "in 1 Rezeptur" : `in ${n} Rezepturen`),
  },
  ingredient: {
    fresh: "Neue Zutat",
    name: "Name",
    id: "Name in Dateien",
    idHint: "Buchstaben, Ziffern und Bindestriche",
    allergens: "Allergene",
    allergensHint: "mit Komma dazwischen; Etikett lesen",
    caution: "Warnhinweis",
    cautionHint: "gezeigt, bevor damit umgegangen wird",
    composition: "Was 100 g enthalten",
    compositionHint: "Gramm. Leer lassen, was nicht bekannt ist: Es fehlt dann und ist nicht null. 0 schreiben, was bekanntlich nicht darin ist.",
    inside: "Innerhalb dieser Anteile",
    sugars: "Zucker",
    noSugars: "Enthält bekanntlich keinen Zucker",
    addSugar: "Zuckerart hinzufügen",
    dropSugar: (name) => `${name} herausnehmen`,
    stated: (stated, left) =>
      Number(left) > 0
        ? `Angegeben: ${number(stated)}\u00a0g von 100\u00a0g. Die übrigen ${number(left)}\u00a0g können in jedem leeren Anteil sein.`
        : `Angegeben: ${number(stated)}\u00a0g. Mehr kann nicht darin sein.`,
    stale: "Das gehört zu einem früheren Text: Der jetzige kann so nicht sein.",
    goods: "Die Ware",
    density: "Dichte",
    densityHint: "g/mL",
    cost: "Preis je Kilogramm",
    costHint: "in der eigenen Währung",
    code: "Code des Lieferanten",
    life: "Hält geschlossen",
    opened: "Hält angebrochen",
    days: "Tage",
    source: "Quelle",
    sourceHint: "woher die Zusammensetzung ist",
    instead: "Was dafür stehen kann",
    insteadHint: "Gramm der anderen Zutat für jedes Gramm von dieser.",
    noRules: "Noch keine Regel.",
    other: "Andere Zutat",
    ratio: "Gramm für 1 g",
    ruleNote: "Notiz",
    ruleSource: "Quelle des Verhältnisses",
    ruleSourceHint: "oder: gängige Praxis, keine Quelle",
    addRule: "Regel hinzufügen",
    dropRule: (n) => `Regel ${n} herausnehmen`,
    used: "Eingewogen in",
    unused: "Keine Rezeptur enthält sie.",
    missing: "Nicht bekannt",
    remove: "Aus der Liste nehmen",
  },
  table: {
    title: "Mitgelieferte Zusammensetzungen",
    about: "Jede Zeile hat ihre Quelle. Das Etikett der eigenen Ware geht vor: ändern, was abweicht.",
    take: (name) => `Mit ${name} beginnen`,
  },
  file: {
    title: "Zutaten aus einer CSV-Datei",
    about: "Die erste Zeile nennt die Spalten: name, water, fat, msnf, sugars.sucrose, cost_per_kg und so weiter. Ein Dezimalkomma wird gelesen; ein leeres Feld fehlt.",
    choose: "Datei wählen",
    drop: "oder hier ablegen",
    reading: "Wird gelesen\u2026",
    unreadable: "Die Datei lässt sich nicht als Text lesen.",
    tooLarge: "Die Datei ist zu groß für eine Tabelle von Zutaten.",
    strange: (columns) => `Nicht verstanden und weggelassen: ${list(columns)}.`,
    line: "Zeile",
    fresh: "neu",
    there: "schon da",
    replace: "Vorhandene überschreiben",
    take: (n) => (n === 1 ? "1 Zutat übernehmen" : `${n} Zutaten übernehmen`),
    nothing: "Nichts darin lässt sich übernehmen.",
    taken: (n) => (n === 1 ? "1 Zutat ist jetzt in der Liste." : `${n} Zutaten sind jetzt in der Liste.`),
    left: (n) => (n === 1 ? "1 Zeile bleibt weg: Was daran falsch ist, steht daneben." : `${n} Zeilen bleiben weg: Was daran falsch ist, steht daneben.`),
  },
  limits: {
    title: "Grenzen",
    about: "Was eine Mischung einer Art gewöhnlich enthält. Nichts davon ist Gesetz für die eigene Küche: Örtliche Vorschriften gehen vor.",
    shipped: "Diese kamen mit weighd. Die erste Änderung kopiert sie in eine eigene Datei, die dann gilt.",
    own: "Das sind die eigenen, aus limits.toml neben den Rezepturen.",
    every: "jedes Gefrorene",
    class: "Klasse",
    of: "Größe",
    ofHint: "mehrere werden addiert",
    min: "Mindestens",
    max: "Höchstens",
    source: "Quelle",
    sourceHint: "oder: gängige Praxis, keine Quelle",
    add: "Grenze hinzufügen",
    drop: (n) => `Grenze ${n} herausnehmen`,
    and: "und",
    plus: "Hinzunehmen",
    create: "Neue Klasse",
    name: "Name",
    id: "Name in Dateien",
  },
};

export const solving: TextsOf<"solving"> = {
  solve: {
    title: "Auf Ziele ausrechnen",
    about: "Angeben, was die Mischung sein soll; die Mengen werden ausgerechnet, und nichts ändert sich, bis sie übernommen werden.",
    of: "Von",
    text: "Ziel",
    textHint: "5, 34..36, <=200 g",
    add: "Ziel hinzufügen",
    drop: (n) => `Ziel ${n} herausnehmen`,
    choose: "wählen\u2026",
    kind: (name) => `Auch die Grenzen der Klasse ${name} einhalten`,
    aim: "Von allem, was passt",
    aims: { nearest: "am nächsten an den jetzigen Mengen", cheapest: "das Billigste", middle: "in der Mitte jeder Spanne" },
    use: "Darf auch verwendet werden",
    go: "Mengen ausrechnen",
    met: "Alles davon ist zu haben.",
    unmet: "Nicht alles davon ist zu haben. Diese Mengen verfehlen es am wenigsten.",
    off: (name, value, unit, by) => `${name} wird ${number(value)}\u00a0${unit}, daneben um ${number(by)}.`,
    kept: (names) => `Unverändert gelassen: ${names.join(", ")}.`,
  },
  swap: {
    title: "Zutat austauschen",
    about: "Eine andere an ihrer Stelle, nach eigener Regel oder einem Verhältnis, und der Rest zurück auf dieselbe Zusammensetzung.",
    old: "Heraus kommt",
    fresh: "Hinein kommt",
    ratio: "Gramm für 1 g",
    ratioHint: "leer: nach einer Regel, sonst 1",
    rest: "Den Rest auf dieselbe Zusammensetzung zurückbringen",
    go: "Austausch ausrechnen",
    allergen: (names) => `Neues Allergen: ${names.join(", ")}. Etikett lesen.`,
    gone: (names) => `Keine Zutat nennt mehr ${names.join(", ")}; es entscheiden die Etiketten der Ware.`,
    how: (it) => `Aus ${number(it.old.grams)}\u00a0g ${it.old.name} werden ${number(it.new.grams)}\u00a0g ${it.new.name}: ${foreign(it.ratio.words)}.`,
    source: same,
    missing: (name, facts) => `Nicht bekannt von ${name}: ${facts.map(fact).join(", ")}.`,
  },
  working: "Wird ausgerechnet\u2026",
  before: "Vorher",
  after: "Nachher",
  amounts: "Mengen",
  figures: "Was es ist",
  take: "Diese Mengen übernehmen",
  taken: "In den Entwurf übernommen. Noch nicht gespeichert.",
  first: "Erst bei den Zugaben in Ordnung bringen, was markiert ist.",
};

const lines = (n: number) => (n === 1 ? "1 Zeile" : `${n} Zeilen`);

export const pasting: TextsOf<"pasting"> = {
  title: "Liste einfügen",
  about: "Je Zeile eine Zutat mit ihren Gramm, wie es in einem Brief oder einer Tabelle steht. Tassen und Löffel wiederholen sich nicht und werden darum nicht genommen.",
  text: "Die Liste",
  example: "820 g Buttermilch",
  lines: "Wofür jede Zeile genommen wurde",
  marks: { taken: "genommen", "left out": "weggelassen", "not understood": "nicht verstanden" },
  line: same,
  perhaps: (of) => `Was \u201e${of}\u201c sein kann`,
  sum: (it) =>
    it.not_understood
      ? `${lines(it.taken)} genommen, ${massWithUnit(it.taken_g)}. ${lines(it.not_understood)} nicht verstanden.`
      : `${lines(it.taken)} genommen, ${massWithUnit(it.taken_g)}.`,
  take: (n) => (n === 1 ? "1 einsetzen" : `${n} einsetzen`),
  without: (n) => (n === 1 ? "1 Zeile, die nicht verstanden wurde, bleibt draußen." : `${n} Zeilen, die nicht verstanden wurden, bleiben draußen.`),
  done: (n) => (n === 1 ? "1 Zugabe steht jetzt im Entwurf. Noch nicht gespeichert." : `${n} Zugaben stehen jetzt im Entwurf. Noch nicht gespeichert.`),
};

export const mixesTerms: TextsOf<"mixesTerms"> = {
  named: {
    fat: "Fett",
    msnf: "fettfreie Milchtrockenmasse",
    sugars: "Zucker",
    total_solids: "Trockenmasse gesamt",
    lactose_in_water: "Milchzucker im Wasser",
    begins_c: "Gefrierpunkt",
    stabiliser: "Stabilisator",
  },
  and: " und ",
  atLeast: (least) => `mindestens ${least}`,
  rows: {
    fat: "Fett", msnf: "Fettfreie Milch\u00adtrockenmasse", sugars: "Zucker", stabiliser: "Stabilisator", solids: "Trockenmasse gesamt",
    sweetness: "Süße, als Saccharose", begins: "Beginnt zu gefrieren", half: "Halbes Wasser ist Eis",
  },
  short: { fat: "Fett", solids: "Trockenmasse", freezes: "gefriert ab" },
};

const bounds = (it: { min: string | null; max: string | null }): string => {
  const [min, max] = [it.min, it.max].map((end) => end && number(end));
  return min && max ? `${min} bis ${max}` : min ? `${min} oder mehr` : `${max} oder weniger`;
};
const call = (of: string[]) => of.map((each) => (mixesTerms.named as Record<string, string>)[each] ?? each.replaceAll("_", " ")).join(" und ");

export const mixes: TextsOf<"mixes"> = {
  title: "Was es ist",
  none: "Über die Zusammensetzung der Zutaten ist nichts bekannt.",
  rows: same,
  short: same,
  outside: (it) => {
    const is = it.value === null ? "" : ` ist ${number(tenth(it.value.value))}\u00a0${it.unit}`;
    return `Für ${it.class === "every" ? "jedes Gefrorene" : it.class}: ${call(it.of)}${is}; üblich: ${bounds(it)}\u00a0${it.unit}.`;
  },
  missing: (it: Mix) => {
    const names = Object.keys(it.missing);
    return names.length === 0 ? "" : `Nicht alles bekannt von: ${names.join(", ")}. Was davon abhängt, ist mindestens das Gesagte.`;
  },
  method: (it) => `Nach ${foreign(it.freezing.method)}. Ein Anhalt, keine Messung.`,
};
