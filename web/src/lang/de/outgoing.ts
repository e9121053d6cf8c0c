// How the record goes to the shared store.

import { when } from "../../core/numbers.ts";
import type { TextsOf } from "../../core/texts.ts";
import { foreign } from "../../core/translation.ts";

const stops: Record<string, string> = {
  "shared-ahead":
    "Der gemeinsame Speicher hat Einträge dieser Station, die dieses Protokoll nicht hat. Wurde es aus einer alten Kopie zurückgespielt? Dann eine neuere zurückspielen, oder der Station einen neuen Namen geben. Hat eine andere Station diesen Namen? Eine umbenennen.",
  "shared-forked":
    "Der gemeinsame Speicher hat ein anderes Protokoll unter dem Namen dieser Station. Hat eine andere Station diesen Namen? Eine umbenennen. Wurde dieses Protokoll aus einer alten Kopie zurückgespielt? Unter einem neuen Namen weitermachen.",
  "shared-altered":
    "Ein Eintrag im gemeinsamen Speicher ist nicht so, wie diese Station ihn gesendet hat. Herausfinden, wer dort schreibt. Das Protokoll hier ist unversehrt.",
  "store-refused": "Der gemeinsame Speicher lehnt diese Station ab. Nach Benutzer, Passwort und Rechten dort sehen.",
  "store-missing": "Beim gemeinsamen Speicher gibt es diese Datenbank nicht. Nach der Adresse in der Konfiguration sehen.",
  "store-newer": "Der gemeinsame Speicher ist von einem neueren weighd. Diese Station auf den Stand bringen.",
  "store-older": "Der gemeinsame Speicher ist von einem älteren weighd. Auf den Stand bringen: weighd share --set-up.",
  "store-empty": "Der gemeinsame Speicher hat noch keine Tabellen. Anlegen: weighd share --set-up.",
  "store-not-ours": "Die als gemeinsamer Speicher genannte Datenbank gehört nicht zu weighd. Nach der Adresse sehen.",
};

export const outgoingTerms: TextsOf<"outgoingTerms"> = { stops };

const entries = (n: number): string => (n === 1 ? "1 Eintrag wartet" : `${n} Einträge warten`);

export const outgoing: TextsOf<"outgoing"> = {
  stopped: "Nichts geht an den gemeinsamen Speicher",
  entries,
  waiting: (it) => `${entries(it.behind)} auf den gemeinsamen Speicher, der älteste von ${when(it.since)}; `,
  sending: (it) => `${entries(it.behind)} auf den gemeinsamen Speicher und ${it.behind === 1 ? "geht" : "gehen"} jetzt dorthin.`,
  away: "er antwortet nicht.",
  troubled: "er kann sie gerade nicht nehmen.",
  todo: (code, why) => stops[code] ?? foreign(why),
};
