// At the counter: the screen on the wall, the keys, a pedal.

import { massWithUnit } from "../../core/numbers.ts";
import type { TextsOf } from "../../core/texts.ts";
import { same } from "../../core/translation.ts";

export const wall: TextsOf<"wall"> = {
  nav: "An der Wand",
  title: "Diese Station an der Wand",
  lead: "Für einen Bildschirm, der aus einigen Metern gelesen wird: was jetzt hineinkommt und aus welchem Los, wie viel fehlt, was danach kommt. Nichts darauf lässt sich drücken, und er sendet nichts an die Station.",
  size: "Die Schrift ist so groß, wie es der Bildschirm erlaubt: bei 24 Zoll lesbar aus drei Metern.",
  full: "Bildschirm füllen",
  here: "In diesem Fenster bleiben",
  leave: "Esc führt heraus, auf einem Tablet die Geste, die das Vollbild beendet.",
  itself: "Ein Bildschirm, der von selbst startet, öffnet diese Adresse:",
  awake: "Solange die Ansicht steht, bleibt der Bildschirm wach.",
  asleep: "Dieser Browser lässt den Bildschirm hier nicht wach halten: Das geht nur an der Station selbst und über TLS. Das Gerät so einstellen, dass es an bleibt.",
  lot: (lot) => `Los ${lot}`,
  noLot: "noch kein Los",
  take: (it) => `Los ${it.lot} nehmen`,
  target: (g) => `Soll ${massWithUnit(g)}`,
  atStation: "An der Station:",
  next: "Danach",
  then: "dann",
  last: "Das ist die letzte Zugabe",
  piece: same,
  quiet: "Nichts wird gewogen",
  before: "Letzte Charge",
  ended: same,
  batch: same,
  more: (n) => `und ${n} mehr`,
  away: "Die Station antwortet nicht",
  awayMore: "Kein Gewicht wird gezeigt. Es kommt von selbst wieder.",
  since: (at) => `seit ${at}`,
  pretend: "Waage simuliert",
};

export const wallTerms: TextsOf<"wallTerms"> = {
  ended: { closed: "Fertig", "in process": "Alles gewogen", abandoned: "Abgebrochen" },
};

export const keyWords: TextsOf<"keyWords"> = {
  title: "Tasten",
  now: "Jetzt",
  not: "Zu anderer Zeit",
  what: same,
  or: "oder",
  to: "bis",
  pedal: "das Pedal",
  bigNow: (what) => `jetzt: ${what}`,
};

export const keyTerms: TextsOf<"keyTerms"> = {
  names: { " ": "Leertaste", Enter: "Eingabe", Escape: "Esc", PageDown: "Bild ab", PageUp: "Bild auf", Insert: "Einfg", Home: "Pos1", End: "Ende" },
  does: {
    primary: "der große Knopf",
    tare: "tarieren",
    temperature: "ins Feld für eine Temperatur",
    accept: "annehmen",
    "top up": "nachgeben",
    "take out": "etwas herausnehmen",
    lot: "Los angeben",
    "take lot": "das angezeigte Los nehmen",
    way: "einer der Wege, es in Ordnung zu bringen",
    sound: "Ton an oder aus",
    find: "etwas finden",
    keys: "diese Liste",
    shut: "schließen, was offen ist",
  },
};

export const pedal: TextsOf<"pedal"> = {
  title: "Fußpedal",
  lead: "Ein Pedal, das eine Taste sendet, kann auf diesem Gerät der große Knopf sein, wo immer eine Tafel steht.",
  rules: "Es tut nichts, solange jemand schreibt oder ein Blatt offen ist, solange es gehalten wird und in der halben Sekunde, nachdem auf der Tafel etwas neu ist.",
  learn: "Pedal lernen",
  other: "Ein anderes lernen",
  press: "Pedal treten",
  pressMore: "Es wird auf eine Taste gewartet.",
  is: "Das Pedal sendet",
  test: "Treten: Es wird hier gehört.",
  heard: (n) => (n === 1 ? "Einmal gehört." : `${n} Mal gehört.`),
  held: "Es wird gehalten.",
  instead: (what) => `Diese Taste tut nicht mehr: ${what}.`,
  enter: "Auf einer Tafel drückt diese Taste jetzt nur noch den großen Knopf, welcher Knopf dort auch den Fokus hat.",
  forget: "Pedal vergessen",
  forgotten: "Vergessen. Keine Taste ist das Pedal.",
  refused: same,
};

export const pedalTerms: TextsOf<"pedalTerms"> = {
  refused: {
    tab: "Tab geht von Feld zu Feld und kann nicht das Pedal sein. Das Pedal auf eine andere Taste stellen.",
    escape: "Esc schließt, was offen ist, und kann nicht das Pedal sein. Das Pedal auf eine andere Taste stellen.",
    arrow: "Die Pfeiltasten wählen und rollen und können nicht das Pedal sein. Das Pedal auf eine andere Taste stellen.",
    modifier: "Diese Taste wird mit anderen gehalten und tut allein nichts. Das Pedal auf eine andere Taste stellen.",
    lock: "Diese Taste ändert, wie andere schreiben, und kann nicht das Pedal sein. Das Pedal auf eine andere Taste stellen.",
    browser: "Diese Taste gehört dem Browser oder ändert Text und kann nicht das Pedal sein. Das Pedal auf eine andere stellen: F8 oder Bild ab.",
    unknown: "Der Browser sagt nicht, welche Taste das war. Das Pedal auf eine andere stellen.",
    several: "Das waren mehrere Tasten hintereinander: ein Scanner, oder ein Pedal mit einem Text darin. Ein Pedal muss eine senden.",
    mouse: "Das war ein Mausklick, der dorthin geht, wo der Zeiger steht. Das Pedal auf eine Taste stellen.",
  },
};
