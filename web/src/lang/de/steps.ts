// Steps of a formula as somebody writes them. What limits are written in stays English: it is the file's.

import { degrees, exactly, type StepRead } from "../../core/steps.ts";
import type { TextsOf } from "../../core/texts.ts";
import { foreign, same } from "../../core/translation.ts";

const means: Record<string, string> = { "dry ice": "Trockeneis" };

export const stepsTerms: TextsOf<"stepsTerms"> = {
  kinds: {
    mix: "Mischen und lösen",
    "heat-treat": "Erhitzen",
    cool: "Kühlen",
    age: "Reifen lassen",
    freeze: "Gefrieren",
    harden: "Härten",
    temper: "Temperieren",
    fill: "Abfüllen",
  },
  means,
  sets: { custard: "Gekochte Milchmischung oder Eiermischung", sorbet: "Sorbet oder Wassereis" },
  lookalikes: ["trockeneis", "co2"],
};

const range = (it: StepRead, unit: string): string => {
  const [low, high] = [it.at_least, it.at_most].map((one) => one && degrees(one, unit));
  const verb = it.keeps ? "halten" : "bringen";
  if (low && high) return `zwischen ${low} und ${high} ${verb}`;
  const to = it.keeps ? "bei" : "auf";
  return low ? `${to} ${low} oder wärmer ${verb}` : high ? `${to} ${high} oder kälter ${verb}` : "";
};
const lasting = (it: StepRead): string => {
  const [least, most] = [it.least_s, it.most_s].map((one) => one && exactly(one));
  const reaches = !it.keeps && (it.at_least ?? it.at_most) !== null;
  if (least && most) return reaches ? `mindestens ${least} lang, dort innerhalb von ${most}` : `${least} bis ${most} lang`;
  if (least) return `mindestens ${least} lang`;
  return most ? (reaches ? `innerhalb von ${most}` : `höchstens ${most} lang`) : "";
};
const pairOf: TextsOf<"steps">["pairOf"] = (it, unit) => {
  const at = degrees(it.at_least, unit);
  return Number(it.time_s) > 0 ? `${exactly(it.time_s)} lang bei ${at} oder heißer` : `${at} oder heißer, ohne Wartezeit`;
};

export const steps: TextsOf<"steps"> = {
  title: "Schritte nach dem Wägen",
  titleHint: "in der Reihenfolge, in der sie gemacht werden",
  none: "Keine Schritte: Eine Charge davon ist fertig, wenn alles gewogen ist.",
  usual: "Mit üblichen Schritten beginnen",
  usualHint: "Übliche Praxis, ohne Quelle: ändern, was anders ist. Eine Erhitzung bleibt offen, bis eine veröffentlichte Tabelle gewählt ist.",
  set: same,
  count: (n) => (n === 1 ? "1 Schritt" : `${n} Schritte`),
  cannot: "Die Schritte dieser Datei lassen sich hier nicht zeigen und bleiben, wie sie sind. Mit einem Texteditor in Ordnung bringen.",
  add: "Schritt hinzufügen",
  kind: same,
  change: (n) => `Schritt ${n} ändern`,
  shut: (n) => `Schritt ${n} schließen`,
  changeShort: "Ändern",
  shutShort: "Schließen",
  up: (n) => `Schritt ${n} nach oben`,
  down: (n) => `Schritt ${n} nach unten`,
  drop: (n) => `Schritt ${n} herausnehmen`,
  byKeys: "Alt und ein Pfeil verschieben den Schritt, der den Fokus hat.",
  moved: (name, n) => `${name} ist jetzt Schritt ${n}.`,
  gone: (name) => `${name} ist herausgenommen.`,
  back: "Zurücklegen",
  what: "Was getan wird",
  choose: "wählen\u2026",
  name: "Name des Schritts",
  nameHint: (usual) => `sonst: ${usual}`,
  how: "Wie",
  howHint: "für alle, die es tun",
  with: "Womit",
  withHint: "was dazu dient",
  dryIce: "Trockeneis",
  lookalike: "Ist das Trockeneis, dann die Taste drücken: Nur dann kommen seine Warnhinweise.",
  temperature: "Temperatur",
  temperatureKept: "immer einzuhalten; geschrieben wie in der Datei: at most 4\u00a0\u00b0C (höchstens), 2 to 4\u00a0\u00b0C (bis)",
  temperatureReached: "zu erreichen; geschrieben wie in der Datei: at most 4\u00a0\u00b0C (höchstens), at least 40\u00a0\u00b0C (mindestens), -14 to -11\u00a0\u00b0C (bis)",
  time: "Zeit",
  timeHint: "within 90\u00a0min (innerhalb), at least 4\u00a0h (mindestens), 4\u00a0h to 24\u00a0h (bis)",
  table: "Veröffentlichte Tabelle",
  tableHint: "Zu wählen. Jedes Paar gilt für sich; dazwischen ist nichts bekannt.",
  noTable: "Eine veröffentlichte Tabelle wählen.",
  pair: (at, time) => `${time} lang bei ${at} oder heißer`,
  atOnce: (at) => `${at} oder heißer, ohne Wartezeit`,
  source: (it) => foreign(`${it.source}; ${it.status}`),
  tableName: (it) => foreign(it.name),
  tableNote: (it) => foreign(it.note),
  cautions: "Warnhinweise",
  cautionsHint: "jeder wird vor dem Beginn mit seinem Namen bestätigt",
  byItself: "Diese kommen von selbst:",
  cautionName: "Kurzer Name",
  cautionText: "Was zu beachten ist",
  addCaution: "Warnhinweis hinzufügen",
  dropCaution: (n) => `Warnhinweis ${n} herausnehmen`,
  twice: "Dieser kommt schon von selbst; der eigene wird weggelassen.",
  aside: (them) => `Beiseite gelegt und nicht gespeichert: ${them.join("; ")}. Es kommt mit seiner Art von Schritt zurück.`,
  incomplete: "noch nicht vollständig",
  wrong: "nicht verstanden",
  working: "Wird gelesen\u2026",
  late: "Die Station hat nicht geantwortet. Was hier steht, kann zu einem früheren Text gehören; nichts Geschriebenes ist verloren.",
  confirm: (names) => `Vor dem Beginn zu bestätigen: ${names.join(", ")}`,
  head: (name, it) => (it ? `${name} mit ${means[it] ?? it}` : name),
  asks: (it, table, unit) => {
    if (table) return `eines davon einhalten: ${table.pairs.map((pair) => pairOf(pair, unit)).join("; ")}`;
    return [range(it, unit), lasting(it)].filter(Boolean).join(", ");
  },
  pairOf,
  then: (limit) => `Danach: ${limit}`,
  cooling: (limit) => `Danach kühlt es kein Schritt. Die Tabelle verlangt ${limit}.`,
  coolingTo: (at, within) => `${at} oder kälter${within && ` innerhalb von ${within}`}`,
  sum: (n, least, cautions) => {
    const told = [n === 1 ? "1 Schritt" : `${n} Schritte`];
    if (least) told.push(`nach den Grenzen mindestens ${least}`);
    if (cautions) told.push(cautions === 1 ? "1 Warnhinweis zu bestätigen" : `${cautions} Warnhinweise zu bestätigen`);
    return `${told.join(", ")}.`;
  },
  noHeat: "Kein Schritt hier ist eine Erhitzung, und es ist Milch oder Ei darin.",
  said: (text) => foreign(text),
};
