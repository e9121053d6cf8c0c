// What goes with the board: doubts, plans, vessels, scales, sizes.

import type { Doing } from "../../core/frames.ts";
import { between, massWithUnit, sizeWithUnit, unsureWithUnit } from "../../core/numbers.ts";
import { about } from "../../core/plan.ts";
import type { TextsOf } from "../../core/texts.ts";
import { foreign, same } from "../../core/translation.ts";
import { sizes as englishSizes } from "../../core/sizes.ts";

export const doubts: TextsOf<"doubts"> = {
  warning: same,
  tooFine: (all) => {
    const them = all.filter((it) => it.code === "too-fine");
    if (them.length === 0) return "";
    return `${them.length === 1 ? "1 Zugabe ist" : `${them.length} Zugaben sind`} zu fein für die Waage ${them[0]!.scale}`;
  },
  tooFineForAll: (all) => {
    const each = all.map((them) => new Set(them.filter((it) => it.code === "too-fine").map((it) => it.addition)));
    const n = [...(each[0] ?? [])].filter((it) => each.every((them) => them.has(it))).length;
    return n === 0 ? "" : `${n === 1 ? "1 Zugabe ist" : `${n} Zugaben sind`} zu fein für jede Waage hier`;
  },
  uncertainty: (u, parts) => {
    const made = parts.map(([name, part]) => `${doubtsTerms.components?.[name] ?? name} ${unsureWithUnit(part)}`);
    return [`${unsureWithUnit(u)} (Standard\u00adunsicherheit)`, made.join(", ")].filter(Boolean).join(": ");
  },
  guard: (rule, g) => (g ? `${rule}: Schutzabstand ${unsureWithUnit(g)}` : rule),
  accepts: (low, high, interval) => {
    if (Number(low) > Number(high)) return "keine Menge: Die Schutzabstände lassen keinen Platz";
    const [from, to, unit] = between(low, high, interval);
    return `${from} bis ${to}\u00a0${unit}`;
  },
};

export const doubtsTerms: TextsOf<"doubtsTerms"> & { components?: Record<string, string> } = {
  warnings: {
    "too-fine": (it) => {
      const can = it.least_g
        ? `Die Waage ${it.scale} kann diese Toleranz erst ab ${massWithUnit(it.least_g)} beurteilen.`
        : `Die Waage ${it.scale} kann diese Toleranz bei keiner Menge beurteilen.`;
      const ways = [
        it.other_scale ? `die Waage ${it.other_scale}` : "eine feinere Waage",
        `eine Toleranz von mindestens ${massWithUnit(it.finest_g)}`,
        ...(it.least_batch_g ? [`eine Charge ab ${massWithUnit(it.least_batch_g)}`] : []),
      ];
      return `${can} Abhilfe: ${ways.slice(0, -1).join(", ")} oder ${ways.at(-1)}.`;
    },
    unsteady: (it) =>
      `Die Anzeige der Waage ${it.scale} schwankt um ${massWithUnit(it.wavers_g)}; damit wird gerechnet. ` +
      "Für Ruhe sorgen: Zugluft abhalten, ausschalten, was den Tisch rüttelt.",
    "vessel-overflows": (it) => foreign(it.text),
    "below-min": (it) => `Weniger, als man auf der Waage ${it.scale} wägen soll (Min ${massWithUnit(it.min_g)}).`,
  },
  components: {
    rounding: "Rundung",
    spread: "Streuung der Ablesungen",
    repeatability: "Wiederholbarkeit",
    permissible_error: "Fehlergrenze",
    creep: "Kriechen",
    carried: "die anderen Wägungen davon",
  },
};

const kindOf = (doing: Doing) => doing.vessel.split(" ")[0]!;

function setDown(doing: Doing, name: string): string {
  const kind = kindOf(doing);
  if (kind === "bowl") return "Schüssel";
  if (kind === "source") return `${name} im eigenen Gefäß`;
  return kind === "premix" ? `leere Schale für Vormischung ${doing.vessel.split(" ").slice(1).join(" ")}` : "leere Schale";
}

function does(doing: Doing, name: string): string {
  switch (doing.do) {
    case "set down":
      return `${setDown(doing, name)} auf ${doing.scale} stellen`;
    case "take off":
      return `${kindOf(doing) === "bowl" ? "Schüssel" : "Gefäß"} von ${doing.scale} nehmen`;
    case "tip in":
      return "Schale in die Schüssel kippen und auskratzen";
    case "stir":
      return `${doing.vessel.replace("premix", "Vormischung")} gleichmäßig rühren`;
  }
}

const upper = (text: string) => text.charAt(0).toUpperCase() + text.slice(1);

export const planned: TextsOf<"planned"> = {
  choice: "Wie geplant",
  only: (scale) => `Nur ${scale}`,
  title: "Wie gewogen wird",
  moves: (n, weighings) =>
    `${weighings} ${weighings === 1 ? "Wägung" : "Wägungen"}, dazu ${n} ${n === 1 ? "Handgriff" : "Handgriffe"}`,
  bowl: "Leere Schüssel",
  dish: "Leere Schale",
  vesselHint: "g, falls bekannt",
  vesselWrong: "Masse des Gefäßes als Zahl in Gramm angeben, oder weglassen.",
  working: "Wird ausgerechnet\u2026",
  does: (doing, name) => upper(does(doing, name)),
  called: (name, step) => (step?.role === "from premix" ? `Vormischung ${step.premix}` : name),
  then: (it) => `Danach ${massWithUnit(it.target_g)} ${it.step?.role === "from premix" ? `Vormischung ${it.step.premix}` : it.name}`,
  weigh: (it) => {
    const target = massWithUnit(it.target_g);
    if (it.role === "from premix") return `Etwa ${target} der Vormischung ${it.premix} für ${it.name}`;
    if (it.role === "part" && it.part < it.parts) return `Etwa ${about(it.target_g)} ${it.name}`;
    if (it.role === "part" || it.role === "rest of the carrier") return `Den Rest ${it.name}, etwa ${about(it.target_g)}`;
    if (it.role !== "whole") return `Etwa ${target} ${it.name}`;
    return `${target} ${it.name}`;
  },
  leftOut: (names) => `${names.join(" und ")} ${names.length === 1 ? "fehlt und ist" : "fehlen und sind"} nicht eingeplant.`,
  premix: (it, names) =>
    `Vormischung ${it.premix}: ${massWithUnit(it.part_g)} ${names(it.of)} in ${massWithUnit(it.carrier_g)} ` +
    `${names(it.carrier_of)}. Davon enthalten ${massWithUnit(it.taken_g)} die gewünschte Menge und ${massWithUnit(it.shared_g)} ` +
    `${names(it.carrier_of)}; ${massWithUnit(it.left_g)} bleiben übrig. Auf ${unsureWithUnit(it.u_g)} genau, wenn gleichmäßig gerührt ist; ` +
    `diese Waage allein: auf ${unsureWithUnit(it.alone_u_g)}.`,
  short: (it) => foreign(it.text),
  titled: (it) => {
    if (it.step === null) return it.name;
    const { role, part, parts, premix } = it.step;
    if (role === "part") return `${it.name}, Teil ${part} von ${parts}`;
    if (role === "from premix") return `Vormischung ${premix}, für ${it.name}`;
    if (role === "rest of the carrier") return `${it.name}, der Rest`;
    return role === "whole" ? it.name : `${it.name}, für Vormischung ${premix}`;
  },
  forced: (due) => `Tariert, obwohl die Schüssel nicht wog, was sie sollte${due === null ? "" : ` (${massWithUnit(due)})`}`,
  sums: "Wie gewogen, alle Wägungen zusammen",
  ingredient: "Zutat",
  role: (it) => {
    const step = it.step;
    if (!step) return "";
    switch (step.role) {
      case "part":
        return step.part < step.parts
          ? `Teil ${step.part} von ${step.parts}: ungefähr so viel. Der letzte Teil macht ${massWithUnit(step.whole_g)} genau.`
          : `Der letzte von ${step.parts} Teilen: Er macht ${massWithUnit(step.whole_g)} genau.`;
      case "premix ingredient":
        return `Für Vormischung ${step.premix}: ungefähr so viel. Der Anteil wird aus dem Gewogenen gerechnet.`;
      case "premix carrier":
        return `Für Vormischung ${step.premix}: ungefähr so viel, zu dem, was in der Schale ist.`;
      case "from premix":
        return `Das bringt ${massWithUnit(step.whole_g)} ${it.name}.`;
      case "rest of the carrier":
        return `Der Rest: Ein Teil davon kommt mit Vormischung ${step.premix}.`;
      default:
        return "";
    }
  },
  place: (it) => {
    const into = it.step?.into;
    if (!into) return "";
    const where = { bowl: "in die Schüssel", dish: "in die Schale", premix: "in die Schale", source: "als Differenz" }[into];
    return `Auf ${it.scale}, ${where}`;
  },
  due: (it) => {
    if (it.due_g === null) return "Die Schüssel steht noch dort. Dies kommt in ein eigenes Gefäß.";
    if (it.off_g === null) return `Mit allem aus der Schale wiegt die Schüssel etwa ${massWithUnit(it.due_g)}.`;
    const by = sizeWithUnit(it.off_g);
    return it.off_g.startsWith("-")
      ? `Die Schüssel ist ${by} leichter als sie sein sollte. Ist die Schale hineingekippt und ausgekratzt?`
      : `Die Schüssel ist ${by} schwerer als sie sein sollte. Ist es die richtige, und steht sonst nichts auf der Waage?`;
  },
  anyway: "Alles richtig so: tarieren",
  itIsADish: "Es ist keine Schüssel, sondern das richtige Gefäß: tarieren",
  other: {
    open: "Andere Waage\u2026",
    title: "Auf einer anderen Waage wägen",
    body: (from) => `Dies und was noch auf ${from} zu wägen war, kommt auf eine andere Waage. Gefäß daraufstellen und dort tarieren.`,
    figures: (d, max) => `Teilung ${massWithUnit(d)}${max === null ? "" : `, bis ${massWithUnit(max)}`}`,
    event: (to) => `Weiter gewogen mit der Waage ${to}`,
  },
  next: (acts, live) => {
    const last = (acts ?? []).filter((it) => it.n === live.addition).at(-1);
    if (last === undefined) return "";
    if (live.due && live.due.due_g === null) return `Schüssel von ${live.scale} nehmen`;
    if (last.do === "tip in") return "Schale in die Schüssel kippen";
    if (last.do !== "set down" || kindOf(last) === "source") return "";
    return kindOf(last) === "bowl" ? `Schüssel auf ${last.scale} stellen` : `Leere Schale auf ${last.scale} stellen`;
  },
};

const heavier = (differs: string) => (differs.startsWith("-") ? "weniger" : "mehr");

export const outOf: TextsOf<"outOf"> = {
  own: (name) => `${name}, als Differenz`,
  role: "Der eigene Behälter steht auf der Waage; es zählt, was ihn verlässt.",
  setDown: (name) => `Behälter daraufstellen: ${name}`,
  zeroEmpty: "Leere Waage nullen",
  clear: (name) => `Abnehmen, daraufstellen: ${name}`,
  tare: "Tarieren: Behälter steht",
  lifted: "Ausgießen, dann zurückstellen",
  pour: "Daraus ausgießen",
  pouring: "Bis zur Kerbe ausgießen",
  short: "Mehr ausgießen",
  toPour: "noch auszugießen",
  out: "ausgegossen",
  plates: { none: "Noch kein Behälter", lifted: "In der Hand", ready: "Bereit zum Ausgießen" },
  noCue: "In der Hand zeigt sich nichts: etwas weniger ausgießen, zurückstellen, ansehen.",
  back: "Etwas zurückgießen",
  over: "Nur zurückgießen, was die Mischung nicht berührt hat, oder mit Begründung lassen.",
  short_: "Mehr ausgießen, oder mit Begründung lassen.",
  soFar: (g) => `Bisher ausgegossen: ${massWithUnit(g)}.`,
  zeroOff: "Die Waage zeigt weniger als nichts, also steht der Behälter nicht darauf. Zurückstellen.",
  zeroMore: "Steht der Behälter darauf und wurde inzwischen nichts ausgegossen: Knopf drücken. Steht er nicht darauf: zurückstellen.",
  zeroElse: "Unsicher? Behälter abnehmen, leere Waage nullen, zurückstellen.",
  resume: "Nichts ausgegossen: weiter",
};

export const vesselsTerms: TextsOf<"vesselsTerms"> = {
  anyway: {
    "no-vessel": "Steht darauf, mit der Taste der Waage tariert: tarieren",
    "other-vessel": "Trotzdem dieses tarieren",
    "same-vessel": "Es ist dasselbe: tarieren",
    "not-enough": "Ausgießen, was da ist: tarieren",
  },
};

export const vessels: TextsOf<"vessels"> = {
  anyway: same,
  another: "Anderes Gefäß, nichts kam dazu: tarieren",
  seen: (live) => {
    const it = live.vessel;
    if (!it) return "";
    const names = it.standing.slice(0, 2).map((one) => one.name).join(" oder ");
    if (!it.differs) return names ? `Das wiegt so viel wie ${names}.` : "";
    const off = `Das ist nicht ${it.differs.name}: ${sizeWithUnit(it.differs.differs_g)} ${heavier(it.differs.differs_g)}.`;
    return names ? `${off} Es wiegt so viel wie ${names}.` : off;
  },
  tare: (name) => `Tarieren: ${name}`,
  setDown: (name) => `${name} auf die Waage stellen`,
  still: (name) => `Das ist noch der Behälter davor. ${name} daraufstellen, oder hier drücken, wenn es derselbe ist.`,
  stillBowl: "Das ist noch der Behälter davor. Das Gefäß zum Hineinwägen daraufstellen, oder hier drücken, wenn es dasselbe ist.",
  full: (it, now, name) => {
    const ends = `${massWithUnit(it.ends_g)} stünden auf der Waage, die ${massWithUnit(it.max_g)} trägt`;
    if (it.addition > now) return `Bei Zugabe ${it.addition}, ${name}: ${ends}. Davor dieses Gefäß abnehmen und ein anderes tarieren.`;
    const what = it.beyond ? "Das Soll liegt über dem, was diese Waage zeigen kann" : "Diese Waage ist fast voll";
    return `${what}: ${ends}. Vor dem Zugeben dieses Gefäß abnehmen und ein leichteres tarieren.`;
  },
  odd: ([name, differs], notAdded) => {
    const parts = [];
    if (differs !== null) parts.push(`angegeben war ${name}, aber ${sizeWithUnit(differs)} ${heavier(differs)}`);
    if (notAdded !== null) parts.push(`anderes Gefäß: ${massWithUnit(notAdded)} kamen nicht dazu`);
    return parts.length > 0 ? `: ${parts.join("; ")}` : "";
  },
  title: "Gefäße",
  about: "Bekannt an ihrer leeren Masse: Ein anderes, das dafür hingestellt wird, verrät sein Gewicht.",
  none: "Noch keine.",
  mass: same,
  allow: (it) => (Number(it.allow_g) > 0 ? `darf um ${massWithUnit(it.allow_g)} abweichen` : ""),
  from: (it) => (it.configured ? "aus der Konfiguration" : it.scale ? `gewogen auf ${it.scale}` : "eingegeben"),
  name: "Name des Gefäßes",
  on: "Waage, auf der es steht",
  allowField: "Darf abweichen um",
  allowHint: "g, nass; falls überhaupt",
  how: "Erst alles von der Waage nehmen, auf null warten, dann das leere Gefäß daraufstellen.",
  weigh: "Wägen und merken",
  kept: (it) => `${it.name} ist gemerkt: ${massWithUnit(it.mass_g)}.`,
  forget: "Vergessen",
  forgetSure: "Wirklich vergessen",
  needsName: "Dem Gefäß einen Namen geben.",
  choose: "Gefäß",
  any: "Irgendein Gefäß",
  byDifference: "Die Schüssel lässt sich nicht wägen",
  byDifferenceMore: "Gewogen wird der eigene Behälter jeder Zutat; es zählt, was ihn verlässt.",
  marked: "als Differenz",
  isOut: same,
};

export const scalesTerms: TextsOf<"scalesTerms"> = {
  disturbed: {
    lift: "Das Gefäß ist nicht auf der Waage",
    "some off": "Etwas wurde weggenommen",
    touch: "Etwas berührt die Waage",
    shaking: "Der Tisch wackelt",
    "tare key": "Die Tarataste der Waage wurde gedrückt",
    asleep: "Die Waage ist eingeschlafen",
    vessel: "Das Gefäß wurde gewechselt",
    overload: "Zu schwer für die Waage",
    under: "Die Waage zeigt weniger als nichts",
    fault: "Die Waage meldet einen Fehler",
    "zero error": "Die Waage findet ihren Nullpunkt nicht",
    "tare error": "Die Waage kann nicht tarieren",
    "requires calibration": "Die Waage will justiert werden",
    "requires rezeroing": "Die Waage will genullt werden",
  },
  zeroMoves: {
    "tare key": ["Die Tarataste der Waage wurde gedrückt", (sum) => `weitergezählt ab ${massWithUnit(sum)}`],
    "scale at zero": ["Die Waage stand wieder auf null", (sum) => `weitergezählt ab ${massWithUnit(sum)}`],
    "zeroed empty": ["Das Gefäß wurde neu gewogen", (sum) => `${massWithUnit(sum)} waren darin`],
  },
  scaleLinks: { waiting: "Wird gesucht", live: "Verbunden", silent: "Stumm", lost: "Getrennt" },
  scaleMore: {
    waiting: "Noch keine Antwort. Stecker prüfen, und ob sie an ist.",
    live: "",
    silent: "Verbunden, sendet aber nichts. Ist sie an und wach?",
    lost: "Kabel oder Adapter ist heraus.",
  },
  counted: { on: (sum) => `weitergezählt ab ${massWithUnit(sum)}` },
};

export const scales: TextsOf<"scales"> = {
  title: "Waagen",
  none: "Keine Waage eingerichtet.",
  rest: "Über diese Waage",
  away: (names) => `Gerade nicht zu hören: ${names.join(", ")}.`,
  link: same,
  max: "Max",
  interval: "Teilung",
  driver: "Treiber",
  answered: "Was geantwortet hat",
  received: "Ablesungen",
  rejected: "Nicht verstanden",
  last: "Zuletzt nicht verstanden",
  flag: "Eigene Meldung der Waage",
  steady: "Stillstand",
  moving: "Bewegung",
  noFlag: "keine gesendet",
  over: "Überlast",
  fault: (f) => `Keine Zahl: ${foreign(f)}`,
  more: same,
  learned: "Über diese Waage gelernt",
  notLearned: "Noch nichts: Sie wird mit jeder Zugabe schneller.",
  since: "Seit",
  thisStart: "diesem Start",
  noise: "Unruhe im Stillstand",
  response: "Folgt einem Sprung in",
  seconds: same,
  rate: "Ablesungen je Sekunde",
  trust: "Ihre eigene Meldung",
  noTrust: "keine gesehen",
  trusted: (share) => {
    const percent = Math.round(100 * Number(share));
    return percent <= 10 ? "verlässlich" : `nicht verlässlich: Stillstand bei ${percent}\u00a0% der bewegten Ablesungen`;
  },
  forget: "Gelerntes vergessen",
  forgetSure: "Vergessen: Es ist eine andere Waage",
};

export const sizes: TextsOf<"sizes"> = {
  atSteps: "Soll auf den Schritten der Waagen",
  steps: "Soll auf den Schritten der Waage",
  stepsMore: "Jedes rückt auf eine Zahl, die auf der Anzeige stehen kann, höchstens um ein Viertel seiner Toleranz.",
  unchanged: "Die Mischung ist in den gezeigten Stellen dieselbe.",
  notKnown: "Was das mit der Mischung macht, ist nicht bekannt: Ihre Zutaten sagen nicht, was sie enthalten.",
  did: (it) => (it.composition.length === 0 ? sizes.notKnown! : englishSizes.moved(it).join("; ") || sizes.unchanged!),
  moved: same,
};

