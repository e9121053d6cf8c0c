// Who works here, and signing.

import { when } from "../../core/numbers.ts";
import type { TextsOf } from "../../core/texts.ts";
import { foreign, same } from "../../core/translation.ts";

const needs: Record<string, string> = {
  "accept out of tolerance": "Lassen, was außerhalb der Grenzen ist, darf nur, wer dazu berechtigt ist.",
  correct: "Ein Protokoll berichtigen darf nur, wer dazu berechtigt ist.",
  countersign: "Gegenzeichnen darf nur, wer dazu berechtigt ist.",
  "discard batches": "Eine Charge aufgeben oder früher abschließen darf nur, wer dazu berechtigt ist.",
  "release lots": "Dieses Los braucht jemanden, der Lose freigeben darf.",
  "change formulas": "Rezepturen, Zutaten und Grenzen ändern darf nur, wer dazu berechtigt ist.",
  "look after scales": "Das braucht jemanden, der Waagen und Gefäße betreuen darf.",
  "look after people": "Das braucht jemanden, der Personen betreuen darf.",
};

const about: Record<string, string> = {
  "accept out of tolerance": "eine Zugabe oder einen Schritt außerhalb der Grenzen annehmen; eine Zugabe in Ordnung bringen",
  correct: "berichtigen, was in einem Protokoll eingegeben oder genannt wurde",
  countersign: "eine Charge zeichnen, die jemand anders gemacht hat",
  "discard batches": "eine Charge abbrechen oder früher abschließen",
  "release lots": "gesperrte Lose freigeben, Bestand zählen, ein Los nach der Mindesthaltbarkeit verwenden",
  "change formulas": "Rezepturen, Zutaten und Grenzen ändern",
  "look after scales": "Gefäße wägen und vergessen, Gelerntes einer Waage vergessen",
  "look after people": "Personen eintragen, ihre PINs und Rechte ändern, sie ausscheiden lassen; Geräte einlassen",
};

export const peopleTerms: TextsOf<"peopleTerms"> = {
  names: {
    "accept out of tolerance": "Außerhalb der Toleranz annehmen",
    correct: "Berichtigen",
    countersign: "Gegenzeichnen",
    "discard batches": "Chargen verwerfen",
    "release lots": "Lose freigeben",
    "change formulas": "Rezepturen ändern",
    "look after scales": "Waagen betreuen",
    "look after people": "Personen betreuen",
  },
  needs,
};

export const people: TextsOf<"people"> = {
  title: "Personen",
  nav: "Personen",
  signIn: "Anmelden",
  signOut: "Abmelden",
  who: "Wer ist da?",
  another: "Jemand anders",
  signedIn: (name) => `Angemeldet: ${name}`,
  stays: (seconds) => `Die Anmeldung an dieser Seite gilt noch ${Math.round(seconds / 60)} Minuten nach der letzten Handlung.`,
  pinOf: (name) => `PIN von ${name}`,
  digits: (n) => (n === 0 ? "Noch keine Ziffer" : n === 1 ? "1 Ziffer" : `${n} Ziffern`),
  erase: "Löschen",
  ok: "OK",
  checking: "Einen Moment",
  waits: (seconds) => `Zu viele falsche PINs. ${seconds}\u00a0s warten.`,
  right: same,
  about: (right, told) => about[right] ?? foreign(told),
  allow: {
    title: "Wer darf das?",
    body: (right) => needs[right] ?? `Das braucht das Recht „${right}“.`,
    how: "Jemand davon gibt die PIN ein, für diese eine Handlung. Im Protokoll stehen beide Namen.",
    sign: "Eigenen Namen wählen und PIN eingeben.",
    nobody: "Niemand hier darf das.",
  },
  none: "Niemand ist eingetragen: Alle dürfen alles, und ein eingegebener Name genügt.",
  noneMore: "Mit der ersten Person ändert sich das. Sie bekommt alle Rechte und kann die anderen eintragen.",
  lead: "Wer hier arbeitet und was jede Person darf. Was hier nicht steht, dürfen alle auf der Liste.",
  all: "Alle Rechte",
  noRights: "Darf wägen, sonst nichts",
  since: (at) => `seit ${when(at)}`,
  gone: (at) => `ausgeschieden ${when(at)}`,
  allowedBy: (who, by) => `${who}, erlaubt von ${by}`,
  add: "Person eintragen",
  addFirst: "Erste Person eintragen",
  name: "Name",
  nameHint: "wie er in Protokollen stehen soll",
  pin: "PIN",
  pinHint: "4 bis 12 Ziffern, keine Reihe und keine Wiederholung",
  rights: "Rechte",
  save: "Speichern",
  retire: "Ausscheiden lassen",
  retireSure: "Zum Ausscheiden noch einmal drücken",
  retireMore: "Der Name bleibt in den Protokollen vergeben, und niemand sonst bekommt ihn.",
  mayNot: "Diese Liste ändern darf nur, wer Personen betreut.",
  change: "Ändern",
  you: "angemeldet",
  showGone: "Auch Ausgeschiedene",
  countersign: {
    title: "Gegengezeichnet",
    none: "Nicht gegengezeichnet.",
    how: "Eine zweite Person, die an der Charge nicht beteiligt war, sieht das ganze Protokoll an und zeichnet es.",
    open: "Gegenzeichnen",
    sign: "Dieses Protokoll gegenzeichnen",
    first: "Anmelden als jemand, der gegenzeichnen darf.",
    name: "Eigener Name",
    note: "Notiz",
    noteHint: "darf leer bleiben",
    said: (by, at, upto) => `${by}, ${when(at)}, bis Eintrag ${upto}`,
    later: (n) => (n === 1 ? "Ein Eintrag kam später und ist nicht umfasst." : `${n} Einträge kamen später und sind nicht umfasst.`),
    covers: (entries) => `Gezeichnet werden alle ${entries} Einträge oben. Was später berichtigt wird, ist nicht umfasst.`,
  },
};
