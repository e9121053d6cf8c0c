// Putting right, and steps after weighing.

import { between, inSteps, massWithUnit, number, numbers, signedWithUnit, sizeWithUnit } from "../../core/numbers.ts";
import { clock, span } from "../../core/process.ts";
import type { Range, Trouble } from "../../core/recovery.ts";
import type { TextsOf } from "../../core/texts.ts";
import { foreign, same } from "../../core/translation.ts";
import { says } from "./sayings.ts";

// --- putting right --------------------------------------------------------------------------------

const quantities: Record<string, string> = {
  msnf: "fettfreie Milchtrockenmasse",
  total_solids: "Trockenmasse",
  lactose_in_water: "Milchzucker im Wasser",
  msnf_in_serum: "fettfreie Milchtrockenmasse im Serum",
  freezing_point: "Gefrierpunkt",
  milk_fat: "Milchfett",
  whey_solids: "Molkentrockenmasse",
  ice: "Eis",
  fat: "Fett",
  sugars: "Zucker",
  sweetness: "Süße",
  stabiliser: "Stabilisator",
  alcohol: "Alkohol",
};
const call = (of: string) => quantities[of] ?? of.replaceAll("_", " ");
const upper = (text: string) => text.charAt(0).toUpperCase() + text.slice(1);

const heads: TextsOf<"recoveryTerms">["heads"] = {
  "take out": (it, told) => `${sizeWithUnit(inSteps(it.take_g?.to_target ?? null, told.interval_g))} herausnehmen`,
  "start again": () => "Alles davon herausnehmen",
  "another lot": () => "Den Rest aus einem anderen Los, jetzt",
  enlarge: (it) => (it.more_g === null || Number(it.more_g) < 1 ? "Weiter wägen, es gehört hinein" : "Mehr davon machen"),
  shrink: () => "Weniger davon machen",
  "smallest addition": () => "So wenig wie möglich ausgleichen",
  "less of the rest": () => "Vom Rest weniger nehmen",
  "weigh the rest later": () => "Den Rest später",
  keep: (_, told) =>
    told.cause === "wrong ingredient" ? `Weiter wägen, ${told.was?.name ?? ""} bleibt darin` : told.cause === "ran out" ? "Weiter wägen ohne den Rest" : "So lassen",
  discard: () => "Wegwerfen",
};

const big: Record<string, string> = {
  "start again": "Herausnehmen, dann tarieren",
  enlarge: "Mehr machen\u2026",
  shrink: "Weniger machen\u2026",
  "another lot": "Anderes Los\u2026",
  "smallest addition": "Etwas dazugeben\u2026",
  "less of the rest": "Weniger nehmen\u2026",
  "weigh the rest later": "Rest später\u2026",
  keep: "So lassen\u2026",
  discard: "Wegwerfen\u2026",
};

const done: Record<string, string> = {
  "start again": "die falsche Zutat ist herausgenommen",
  enlarge: "die ganze Charge wird größer",
  shrink: "die ganze Charge wird kleiner",
  "another lot": "der Rest kommt aus einem anderen Los",
  "smallest addition": "es kommt so wenig wie möglich zum Ausgleich dazu",
  "less of the rest": "vom Rest wird weniger genommen",
  "weigh the rest later": "der Rest wird später gewogen",
  keep: "so weiter gewogen",
};

const causes: Record<Trouble, string> = { over: "zu viel", "ran out": "ausgegangen", "wrong ingredient": "falsche Zutat" };

export const recoveryTerms: TextsOf<"recoveryTerms"> = {
  QUANTITIES: quantities,
  heads,
  big,
  todo: {
    in: (g) => `noch ${g} davon`,
    rest: (g) => g,
    more: (g) => `${g} mehr`,
    less: (g) => `${g} weniger`,
    "top up": (g) => `${g} nachgeben`,
    extra: (g) => `${g} außerdem`,
    "left out": () => "weggelassen",
  },
  done,
  causes,
  effectWords: {
    softer: "weicher", harder: "fester", sweeter: "süßer", "less sweet": "weniger süß", icier: "eisiger", "less icy": "weniger eisig",
    richer: "reicher", leaner: "magerer", "may turn sandy": "kann sandig werden",
    "% of the water": "% des Wassers", "% as sucrose": "% als Saccharose",
  },
};

const nWeighings = (n: number) => (n === 0 ? "nichts mehr zu wägen" : n === 1 ? "noch 1 Wägung" : `noch ${n} Wägungen`);
const rounded = (grams: string) => massWithUnit(Number(grams).toFixed(1));

const range = (it: Range) => {
  const ends = [it.min, it.max].map((end) => (end === null ? null : number(end)));
  const said = ends[0] === null ? `bis ${ends[1]}` : ends[1] === null ? `ab ${ends[0]}` : `${ends[0]} bis ${ends[1]}`;
  return `${upper(it.of.map(call).join(" und "))} ${it.value === null ? "" : number(it.value)}, gedacht: ${said} ${recoveryTerms.effectWords?.[it.unit] ?? it.unit}`;
};

export const recovery: TextsOf<"recovery"> = {
  title: "Was möglich ist",
  something: "Stimmt nicht\u2026",
  whatIs: "Was stimmt nicht?",
  open: { over: "", "ran out": "Es ist nichts mehr davon da", "wrong ingredient": "Es war die falsche Zutat" },
  what: (it) =>
    it.cause === "over"
      ? `${massWithUnit(it.net_g)} sind darin, ${massWithUnit(it.target_g)} sollten es sein.`
      : it.cause === "ran out"
        ? `${massWithUnit(it.net_g)} von ${massWithUnit(it.target_g)} sind darin, und mehr ist nicht da.`
        : `${massWithUnit(it.net_g)} ${it.was?.name ?? ""} sind darin, wo ${it.name} hingehört.`,
  allergens: (list) => `Neue Allergene in dieser Charge: ${list.join(", ")}. Kennzeichnen, und allen sagen, die davon ausgeben.`,
  dry: {
    ask: "Liegt es trocken obenauf, so dass es sich herausnehmen lässt?",
    yes: "Ja, es liegt trocken",
    no: "Nein, es ist vermischt",
    taken: (taken, why) => `Es lässt sich ${taken ? "" : "nicht "}herausnehmen: ${foreign(why)}.`,
  },
  back: "Zurück",
  head: same,
  big: same,
  comes: (it, told) => {
    if (it.way === "discard") return "Was gewogen ist, ist verloren.";
    if (it.way === "take out") {
      const [least, , unit] = it.take_g ? between(it.take_g.to_limit, it.take_g.to_target, told.interval_g) : ["", "", "g"];
      return `Mindestens ${least}\u00a0${unit}. Nur, was den Rest nicht berührt hat.`;
    }
    if (it.becomes_g === null) return "";
    const more = it.more_g !== null && Math.abs(Number(it.more_g)) >= 1 ? ` (${signedWithUnit(it.more_g)})` : "";
    return `${massWithUnit(it.becomes_g)}${more}, ${nWeighings(it.weighings)}`;
  },
  todo: same,
  mix: (it) => {
    if (it.way === "discard") return "";
    if (it.exact) return "Die Mischung ist wie geplant.";
    if (it.stays === null) return "Was es mit der Mischung macht, ist nicht bekannt: Zusammensetzungen fehlen.";
    return it.stays ? "Die Mischung bleibt in ihren Grenzen." : "Die Mischung verlässt ihre Grenzen:";
  },
  range,
  effects: same,
  cost: (text) => (text.startsWith("-") ? `Kostet ${number(text.slice(1))} weniger` : `Kostet ${number(text)} mehr`),
  others: (n) => (n === 1 ? "1 Weg geht nicht" : `${n} Wege gehen nicht`),
  there: {
    title: "Was da ist: Schüssel, Vorrat, was noch hineindarf",
    bowl: "Die Schüssel fasst",
    left: (name) => `${name}: übrig`,
    books: (grams, lots) => `${grams} nach den Büchern, in ${lots}`,
    none: "keins in einem Los, das verwendet werden darf",
    add: "Darf außerdem hinein",
    none_added: "Nichts weiter",
    again: "Neu rechnen",
  },
  why: "Woher diese Worte und Grenzen kommen",
  from: (it) => `Weicher, süßer und so weiter: ${foreign(it.words_from)}. Gegessen bei ${number(it.serving_c)}\u00a0\u00b0C. Die Grenzen:`,
  unknown: (list) => `Nicht bekannt und darum ohne Grenzen: ${list.map(call).join(", ")}.`,
  dialog: {
    ask: "Warum? Es kommt mit dem neuen Soll ins Protokoll.",
    quick: {
      over: ["Zu schnell zugegeben", "Falsche Menge abgelesen", "Die Packung ist abgerutscht"],
      "ran out": ["Die Packung ist leer", "Was übrig ist, ist nicht gut", "Wird für eine andere Charge gebraucht"],
      "wrong ingredient": ["Zwei Packungen sehen gleich aus", "Falsches Etikett am Behälter", "Vom falschen Platz genommen"],
    },
    save: "So machen",
  },
  wrong: {
    title: "Was kam hinein?",
    what: "Alles, was zugegeben wurde, zählt als das, was hier genannt wird.",
    find: "Suchen",
    none: "Nichts hier heißt so.",
    contains: (list) => (list.length ? `Enthält ${list.join(", ")}` : ""),
  },
  done: (it) => `In Ordnung gebracht, ${causes[it.cause] ?? it.cause}: ${done[it.way] ?? it.way}. Die Charge wird ${rounded(it.mass_g)}. ${it.reason}`,
  event: (cause, way, grams) =>
    `In Ordnung gebracht, ${causes[cause as Trouble] ?? cause}: ${done[way] ?? way}${grams === null ? "" : `, ${rounded(grams)} insgesamt`}`,
  piece: (it, batch) => {
    if (it.of === undefined || batch === null) return "";
    const before = batch.additions.some((one) => one.n < it.n && one.ingredient === it.ingredient);
    return before ? "Was davon noch fehlt" : it.of > (batch.called ?? batch.additions.length) ? "Nicht in der Rezeptur" : "";
  },
};

// --- in process -----------------------------------------------------------------------------------

const faults: Record<string, string> = {
  "too cool": "Zu kühl",
  "too warm": "Zu warm",
  "too short": "Zu kurz",
  "too long": "Zu lang",
  "too slow": "Zu langsam",
  failed: "Misslungen",
};
const named = (them: string[]) => them.map((it) => faults[it] ?? it).join(", ");
const tied = (text: string) => numbers(text).replaceAll(" ", "\u00a0");
const pairOf = (pair: string) => tied(pair.split(",")[0] ?? "");

export const processTerms: TextsOf<"processTerms"> = {
  statuses: { waiting: "Kommt noch", next: "Als Nächstes", running: "Läuft", held: "Angehalten", done: "Erledigt", accepted: "Mit Begründung gelassen" },
  faults,
};

export const process: TextsOf<"process"> = {
  nav: "In Arbeit",
  title: "In Arbeit",
  none: "Keine Charge ist in Arbeit. Hierher kommt eine Charge, wenn alles gewogen ist und ihre Rezeptur mit Schritten weitergeht.",
  back: "Alle in Arbeit",
  over: "Sie wird noch gewogen. Ihre Schritte kommen, wenn alles gewogen ist.",
  after: "Nach dem Wägen",
  go: "Weiter mit den Schritten",
  weighed: "Alles gewogen",
  weighedMore: (n) => (n === 1 ? "Jetzt kommt ein Schritt." : `Jetzt kommen ${n} Schritte. Der Wägeplatz ist frei für eine andere Charge.`),
  nth: (n, of) => `Schritt ${n} von ${of}`,
  status: same,
  told: says,
  faults: same,
  plate: (it) => {
    if (it.state === "held") return `Angehalten: ${named(it.held?.faults ?? []).toLowerCase()}`;
    if (it.state === "running") {
      const out = it.now?.out ?? [];
      if (out.length) return named(out);
      if (it.now?.hold?.satisfied) return "Lang genug";
      return it.now?.awaited.includes("temperature") ? "Messen" : "Läuft";
    }
    return it.state === "waiting" ? "Als Nächstes" : "Erledigt";
  },
  step: "Schritte",
  with: (what) => `Mit ${what}`,
  table: (it) => foreign(it.name),
  pairs: "Eines davon, jedes für sich. Dazwischen ist nichts bekannt:",
  pair: (it) => `mindestens ${pairOf(it.pair)} (${tied(it.celsius)}) für ${tied(it.time)}`,
  follow: "Danach richten",
  whichever: "Was zuerst erreicht ist",
  source: (it) => foreign(`${it.source}; ${it.status}`),
  cautions: "Vor dem Beginn jeden Hinweis mit seinem Namen bestätigen",
  begin: "Beginnen",
  end: "Erledigt",
  endAnyway: "So beenden: Der Schritt wird angehalten",
  awaits: (it) => {
    if (it.now?.out.length) return "Außerhalb der Grenzen";
    if (it.now?.awaited.includes("temperature")) return it.now.hold?.since_s ? "Halten, dann noch einmal messen" : "Messen und eintragen";
    return it.now?.awaited.includes("time") ? "Warten" : "Einen Moment";
  },
  confirmFirst: (left) => (left === 1 ? "Noch einen Hinweis bestätigen" : `${left} Hinweise bestätigen`),
  who: "Wer",
  whoWrong: "Namen angeben: Er kommt ins Protokoll.",
  temperature: "Gemessene Temperatur",
  unit: "Einheit",
  enter: "Eintragen",
  wrong: "Das ist keine Temperatur. Eine Zahl schreiben, wie 68,5.",
  ago: "Vor Minuten",
  agoMore: "wenn früher gemessen",
  heldFor: "Gehalten, Sekunden",
  heldMore: "bis dahin nichts kälter",
  more: "Es wurde früher gemessen",
  moreHeat: "Es wurde früher gemessen oder kurz gehalten",
  values: "Gemessen",
  noValues: "Noch nichts gemessen.",
  strike: "Streichen",
  struck: (why) => `gestrichen: ${why}`,
  said: "Zeit wie angegeben",
  heldUp: (seconds) => `${span(Number(seconds))} gehalten`,
  holding: (it) => `von ${tied(it.time)} bei mindestens ${pairOf(it.pair)} (${tied(it.celsius)})`,
  notHot: (it) => `noch nicht bei ${pairOf(it.pair)} (${tied(it.celsius)})`,
  enough: (pair) => `Das Gemessene erfüllt ${tied(pair)}.`,
  measureAgain: "Am Ende des Haltens noch einmal messen: Nur Gemessenes zählt.",
  until: (least) => `noch, mindestens ${span(least)}`,
  left: (most) => `übrig von ${span(most)}`,
  past: (most) => `über ${span(most)}`,
  since: "seit Beginn",
  outOf: (them) => `${named(them)}: Der Schritt wird an seinem Ende angehalten.`,
  heldTitle: "Entscheidung nötig",
  repeat: "Wiederholen",
  accept: "Mit Begründung lassen",
  fail: "Misslungen",
  note: "Notiz schreiben",
  close: "Jetzt abschließen",
  discard: "Charge verwerfen",
  noWaiver: "Eine Erhitzung wird nicht erlassen: wiederholen, oder die Charge verwerfen.",
  cooling: (limits) => `Nach der Erhitzung: abkühlen auf ${foreign(limits)}`,
  coolingLeft: (seconds) => (seconds > 0 ? `noch ${clock(seconds)}` : `${clock(-seconds)} überschritten`),
  local: "Was verlangt ist, entscheiden die örtlichen Vorschriften und die zugelassene Praxis.",
  fromStep: "Zurück zu",
  fromThis: "diesem Schritt",
  asks: {
    fail: { title: "Wie misslang es?", what: "Der Schritt ist angehalten, bis jemand entscheidet.", quick: ["Übergekocht", "Die Maschine blieb stehen", "Strom fiel aus"], save: "Misslungen" },
    repeat: { title: "Warum wird wiederholt?", what: "Der Grund bleibt im Protokoll.", quick: ["Nicht heiß genug", "Nicht lang genug", "Zu langsam", "Misslungen"], save: "Wiederholen" },
    accept: { title: "Warum darf es so bleiben?", what: "Der Grund bleibt im Protokoll, und der Schritt zählt als erledigt.", quick: ["An falscher Stelle gemessen", "Probiert und angesehen"], save: "So lassen" },
    close: { title: "Warum wird früher abgeschlossen?", what: "Die übrigen Schritte werden nicht gemacht.", quick: ["So verwendet", "Geht anderswo weiter"], save: "Charge abschließen" },
    discard: { title: "Charge verwerfen?", what: "Was getan wurde, bleibt im Protokoll. Die Charge lässt sich nicht wieder aufnehmen.", quick: ["Nicht sicher zu essen", "Hingefallen", "Aus Versehen gemacht"], save: "Charge verwerfen" },
    note: { title: "Eine Notiz", what: "Sie bleibt mit Namen im Protokoll.", quick: [], save: "Notieren" },
    strike: { title: "Was war daran falsch?", what: "Es bleibt im Protokoll und zählt nicht.", quick: ["Vertippt", "An falscher Stelle gemessen"], save: "Streichen" },
  },
  ask: "Warum?",
  text: "Was?",
  keep: "Zurück",
  record: {
    title: "Schritte nach dem Wägen",
    confirmed: (them) => `Bestätigt: ${them.join(", ")}`,
    begun: (at, by) => `Begonnen ${at}, ${by}`,
    ended: (at, by) => `Beendet ${at}, ${by}`,
    reached: (pair) => `Erfüllt ${tied(pair)}`,
    decided: (what) => (what === "repeat" ? "Wiederholt" : "Gelassen"),
    notDone: "Nicht gemacht",
  },
};
