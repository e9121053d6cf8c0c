// Was von einem Scan gesagt wird, mit dem nichts geschah, und von einer Verbindung, die hinter einem Dialog fehlt.

import type { TextsOf } from "../../core/texts.ts";

export const stray: TextsOf<"stray"> = {
  notHere: (code) => `${code} wurde gescannt. Hier wird nach keinem Los gefragt, es geschah nichts damit.`,
  unheard: (code) => `Die Station war nicht erreichbar, ${code} wurde nicht übernommen. Noch einmal scannen.`,
  late: (code) => `Die nächste Zutat kam, bevor die Station sagte, was ${code} ist. Es geschah nichts damit: noch einmal scannen, wenn es zu dieser gehört.`,
  lost: "Keine Verbindung zur Station. Was geschrieben ist, bleibt; senden geht, sobald die Station wieder da ist.",
  unsent: "Keine Verbindung zur Station: nichts wurde gesendet.",
  wait: "Warten: keine Verbindung.",
  dismiss: "Verstanden",
};
