// Other devices, and the way in for one that is not known.

import type { May } from "../../core/devices.ts";
import { when } from "../../core/numbers.ts";
import type { TextsOf } from "../../core/texts.ts";

const mays: Record<May, string> = { work: "Arbeitet mit", look: "Zeigt nur", all: "Vertritt den Rechner der Station" };
const about: Record<May, string> = {
  work: "Wägt, und was die Rechte der Personen erlauben: ein Tablet am Wägeplatz.",
  look: "Ändert nichts: ein Bildschirm an der Wand.",
  all: "Richtet auch Waagen ein und lässt Geräte ein: für eine Station ohne eigenen Bildschirm.",
};

export const devicesTerms: TextsOf<"devicesTerms"> = { mays, about };

export const devices: TextsOf<"devices"> = {
  title: "Geräte",
  nav: "Geräte",
  lead: "Tablets, Telefone und Bildschirme, die diese Seite öffnen dürfen. Jedes wurde mit einem Code von hier eingelassen.",
  open: "Eingelassene Geräte",
  none: "Kein anderes Gerät ist eingelassen.",
  noneMore: "Diese Seite öffnet sich nur am Rechner der Station.",
  may: (may) => mays[may],
  about: (may) => about[may],
  since: (at) => `eingelassen ${when(at)}`,
  seen: (at) => `zuletzt gesehen ${when(at)}`,
  thisOne: "dieses Gerät",
  forget: "Vergessen",
  forgetSure: "Zum Vergessen noch einmal drücken",
  add: "Gerät einlassen",
  name: "Wie es heißt",
  nameHint: "etwa: Tablet am Wägeplatz",
  what: "Was es darf",
  show: "Code zeigen",
  code: "Code",
  type: "Am Gerät diese Adresse öffnen und dort den Code eingeben:",
  good: (time) => `Gilt einmal, noch ${time}`,
  over: "Der Code gilt nicht mehr.",
  isIn: (name) => `${name} ist eingelassen.`,
  withdraw: "Jetzt nicht",
  atStation: "Geräte werden am Bildschirm der Station eingelassen und vergessen.",
  plain: "Ohne TLS: Wer in diesem Netz ist, kann alles mitlesen, auch PINs.",
  shut: "Diese Station ist nur für ihren eigenen Rechner offen.",
  shutMore: "Für andere Geräte gehören diese Zeilen in weighd.toml, mit dem Namen oder der Adresse, die sie öffnen; danach die Station neu starten:",
  shutDocs: "Woher ein Zertifikat kommt und wie es ohne geht, steht in der Dokumentation (Reach it from elsewhere).",
  only: "Dieses Gerät zeigt nur: Hier lässt sich nichts tun.",
  knock: {
    title: "Dieses Gerät einlassen",
    forgotten: "Dieses Gerät wurde an der Station vergessen.",
    how: "An der Station öffnet jemand Einstellungen, dann Geräte, dann Gerät einlassen (oder ruft weighd pair auf). Den Code eingeben, der dort steht.",
    code: "Code, acht Ziffern",
    digits: (n) => (n === 1 ? "1 Ziffer von 8" : `${n} Ziffern von 8`),
    erase: "Löschen",
    ok: "OK",
    checking: "Einen Moment",
    wrong: "Das ist nicht der Code, oder er gilt nicht mehr.",
    waits: (seconds) => `Zu viele falsche Codes. ${seconds}\u00a0s warten.`,
  },
};
