// Before a batch, and what a screen says that has nothing to show.

import { celsius, type Limit, type Mix, tenth } from "../../core/mix.ts";
import { day, massWithUnit, number, when } from "../../core/numbers.ts";
import type { TextsOf } from "../../core/texts.ts";
import { same } from "../../core/translation.ts";

const NBSP = "\u00a0";
const counted = (it: Mix, word: string) => it.limits.filter((one) => one.standing === word).length;

export const beforeTerms: TextsOf<"beforeTerms"> = {
  useBy: (on) => `zu verbrauchen bis ${on}`,
  bestBefore: (on) => `mindestens haltbar bis ${on}`,
  opened: "angebrochen",
  lot: "Los",
  of: (grams, lot) => `${grams} aus ${lot}`,
  then: ", dann ",
};

export const before: TextsOf<"before"> = {
  made: (it) => [`Zuletzt gemacht ${when(it.opened)}`, it.operator, massWithUnit(it.batch_g)].filter(Boolean).join(", "),
  never: "Hier noch nicht gemacht",
  find: "Rezeptur suchen",
  noneSo: (typed) => `Keine Rezeptur hier hat \u201e${typed}\u201c.`,
  all: "Alle zeigen",
  change: "Ändern",
  gone: (id) => `Eine Rezeptur \u201e${id}\u201c gibt es hier nicht.`,
  goneMore: "Sie wurde weggelegt oder umbenannt. Ihre Chargen behalten, woraus sie gemacht wurden.",

  much: "Wie viel",
  sizeHint: "g, oder wie 3 kg, 5\u00a0L at 30\u00a0%, 40 servings of 80 g",
  own: "Wie geschrieben",
  half: "Die Hälfte",
  double: "Das Doppelte",
  most: "Alles, was da ist",
  mostOf: (name) => `${name} geht zuerst aus`,

  out: "Was dabei herauskommt",
  kept: (it) => {
    const open = counted(it, "cannot be told");
    const told = it.limits.length - open;
    return (told === 1 ? "Die übliche Grenze ist eingehalten" : `Alle ${told} üblichen Grenzen sind eingehalten`) + (open > 0 ? `; ${open} nicht zu sagen` : "");
  },
  off: (it) => {
    const n = counted(it, "outside");
    return `${n} von ${it.limits.length} üblichen Grenzen ${n === 1 ? "ist" : "sind"} nicht eingehalten`;
  },
  noKind: "Keine Produktart genannt, also auch keine Grenzen zum Vergleichen.",
  notTold: "Ob Grenzen eingehalten sind, ist nicht zu sagen: Über das, was hineinkommt, ist zu wenig bekannt.",
  figures: "Alle Werte und Grenzen",
  usual: (it: Limit) => {
    const [min, max] = [it.min, it.max].map((end) => end && number(end));
    return `${min && max ? `${min} bis ${max}` : min ? `ab ${min}` : `bis ${max}`}${NBSP}${it.unit}`;
  },
  standing: { inside: "eingehalten", outside: "nicht eingehalten", "cannot be told": "nicht zu sagen" },

  curve: {
    title: "Wie es gefriert",
    y: "des Wassers ist Eis",
    at: (at, ice) => `Bei ${celsius(at)} sind ${number(tenth(ice))}${NBSP}% des Wassers Eis.`,
    moreThan: (at, ice) => `Bei ${celsius(at)} sind mehr als ${number(tenth(ice))}${NBSP}% des Wassers Eis: kälter, als das Verfahren reicht.`,
    range: (at, low, high) => `Bei ${celsius(at)} sind ${number(tenth(low))} bis ${number(tenth(high))}${NBSP}% des Wassers Eis: Über das, was hineinkommt, ist nicht alles bekannt.`,
    unknown: (at) => `Wie es bei ${celsius(at)} ist, ist nicht bekannt.`,
    none: "Wie es gefriert, ist nicht zu sagen: Über das, was hineinkommt, ist zu wenig bekannt.",
    table: "Temperatur und Eis",
    cols: { at: "Temperatur", ice: "Eis" },
    begins: (at) => `gefriert ab ${celsius(tenth(at))}`,
  },

  needs: "Was hineinkommt",
  inStock: "Alles auf Lager",
  notBooked: "Nicht eingebucht",
  shortOf: (n) => `${n} ${n === 1 ? "reicht" : "reichen"} nicht`,
  from: same,
  missing: (it) => `${massWithUnit(it.short_g ?? null)} fehlen`,
  aside: (it) => {
    const left = massWithUnit(it.left_g);
    if (it.fit === "blocked") return `Nicht Los ${it.lot} (${left}): gesperrt, ${it.blocked}`;
    if (it.fit === "expired") return `Nicht Los ${it.lot} (${left}): Sein Verbrauchsdatum, ${day(it.use_by)}, ist vorbei`;
    return `Los ${it.lot} (${left}) ist über sein Mindesthaltbarkeitsdatum, ${day(it.best_before)}: nur mit Begründung`;
  },
  booking: "Los annehmen",

  how: "Wie gewogen wird",
  every: "Jede Wägung der Reihe nach",
  mind: "Was zu beachten ist",
  nothing: "Nichts vermerkt. Etiketten der Ware und örtliche Vorschriften gehen vor.",
  allergen: (name, from) => `Enthält ${name}: ${from.join(", ")}`,
  ofIngredient: (name, text) => `${name}: ${text}`,
  ofStep: (step, names) => `${step}: vor Beginn zu bestätigen: ${names.join(", ")}`,
  after: "Nach dem Wägen",

  go: {
    short: "nicht alles ist auf Lager",
    outside: "übliche Grenzen sind nicht eingehalten",
    fine: "nicht alles lässt sich gut genug wägen",
    mind: (what) => `Zu beachten: ${what.join("; ")}.`,
  },
};

export const states: TextsOf<"states"> = {
  long: "Die Station hat noch nicht geantwortet. Vielleicht ist sie beschäftigt; verloren ist nichts.",
  byItself: "Sobald die Station antwortet, wird von selbst noch einmal gefragt.",
  own: "Das Fragen hat nichts geändert. Bleibt es so, steht mehr im Protokoll der Station (Log).",
  look: "Ist die Station eingeschaltet, und ist dieses Gerät in ihrem Netz? Sie kommt von selbst wieder; was im Protokoll steht, ist sicher.",
  formulas: "Eine Rezeptur sagt, was hineinkommt, wie viel davon und wie genau. Eine schreiben, oder eine Datei in den Rezepturordner der Station legen.",
  ingredients: "Zutaten tragen Allergene, Warnhinweise und das, woraus eine Mischung berechnet wird. Aus der mitgelieferten Tabelle oder aus einer Datei nehmen, oder eine schreiben.",
  noIngredients: "Noch keine Zutat, von der Ware sein könnte.",
  lots: "Was hier angenommen wird, steht vor jeder Charge da: welches Los zuerst, was abgelaufen ist, was nicht reicht.",
  records: "Jede gewogene Charge kommt hierher, mit allem, was auf der Waage zu sehen war.",
  trends: "Sind ein paar Chargen gewogen, ist hier zu sehen, ob etwas wegläuft.",
  lastHeard: "Wie zuletzt von der Station gehört.",
  weigh: "Etwas wägen",
  allLots: "Alle Lose",
  allIngredients: "Alle Zutaten",
};
