import type { TextsOf } from "../../core/texts.ts";
import { same } from "../../core/translation.ts";

export const settings: TextsOf<"settings"> = {
  title: "Einstellungen",
  lead: "Nur für dieses Gerät.",
  language: "Sprache",
  units: "Massen zeigen in",
  unit: {
    g: "Gramm",
    "g-kg": "Gramm, ab 1\u00a0kg Kilogramm",
    kg: "Kilogramm",
    oz: "Unzen (avoirdupois)",
    lb: "Pfund (avoirdupois, 453,59\u00a0g)",
  },
  unitsMore: "Nur die Anzeige ändert sich. Protokoll, Exporte und was ohne Einheit eingegeben wird, bleiben in Gramm; Grenzen sind nach innen gerundet.",
  short: same,
  note: (unit) => `Angezeigt in ${unit}, protokolliert in Gramm.`,
  example: "Beispiel",
  hand: "Die Hand, die gießt",
  hands: { right: "Die rechte", left: "Die linke" },
  handMore:
    "Die Tafel liegt abseits des Arms, der gießt, die Liste und was daneben gedrückt wird auf seiner Seite. Der Bildschirm steht am besten auf der anderen Seite der Waage: Gießt die linke Hand, steht er rechts davon.",
  english: "Was die Station oder die Küche selbst geschrieben hat, bleibt in seiner Sprache.",
};
