// Am Wägeplatz: the screen on the wall.

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
