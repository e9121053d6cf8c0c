// All stations on one screen.

import { massWithUnit } from "../../core/numbers.ts";
import type { Texts } from "../../core/texts.ts";
import { same, type Translation } from "../../core/translation.ts";

export const finding: Translation<Texts["finding"]> = {
  title: "Finden",
  label: "Ein Name, ein Code, ein Tag, eine Person",
  kinds: { screen: "Ansichten", formula: "Rezepturen", ingredient: "Zutaten", lot: "Lose", batch: "Chargen" },
  none: (typed) => `Hier hat nichts \u201e${typed}\u201c.`,
  found: (n) => `Gefunden: ${n}`,
  how: "Enter \u00f6ffnet das Erste, die Pfeiltasten gehen durch die Liste. Von \u00fcberall f\u00fchrt / hierher.",
};

export const floor: Translation<Texts["floor"]> = {
  nav: "\u00dcberblick",
  title: "\u00dcberblick",
  none: "Noch keine Station geh\u00f6rt. Eine Station sagt, was sie tut, wenn in ihrer weighd.toml unter [floor] ein Broker steht.",
  off: "Diese Station zeigt keine anderen. Einen Broker in ihre weighd.toml schreiben, unter [floor], und neu starten.",
  finding: "Es wird gelauscht\u2026",
  lost: "Keine Verbindung zu dieser Station: Die Anzeige steht.",
  cut: (why) => `Keine Verbindung zum Broker: Die Anzeige steht. ${why}`,
  summary: same,
  of: (n, of) => `${n} von ${of}`,
  outOf: (target) => `von ${massWithUnit(target)}`,
  toGo: (g) => `noch ${massWithUnit(g)}`,
  over: (g) => `${massWithUnit(g)} zu viel`,
  lifted: "in der Hand",
  idle: "Frei",
  held: "Angehalten",
  finished: same,
  standing: same,
  phase: same,
  sinceThen: (at) => `seit ${at}`,
  lastWord: (at) => `zuletzt geh\u00f6rt ${at} nach ihrer eigenen Uhr`,
  since: same,
  batch: same,
  twice: "Zwei Stationen tragen diesen Namen",
  store: "Ihr Protokoll l\u00e4sst sich nicht schreiben",
  scale: (name, link) => `Waage ${name} ${floorTerms.links?.[link] ?? link}`,
  check: (name, standing) => `Waage ${name}: ${floorTerms.checked?.[standing] ?? standing}`,
  overdrawn: (lot, g) => `Los ${lot}: ${massWithUnit(g)} mehr gewogen als da war`,
  sharingStopped: "Es geht nichts an den gemeinsamen Speicher",
  behind: (n) => (n === 1 ? `${n} Eintrag noch nicht im gemeinsamen Speicher` : `${n} Eintr\u00e4ge noch nicht im gemeinsamen Speicher`),
  more: (n) => `und ${n} weitere`,
  due: "Zeit ist um",
  ago: (time) => `seit ${time}`,
  next: "Als N\u00e4chstes",
  done: "Fertig",
};

export const floorTerms: Translation<Texts["floorTerms"]> = {
  standings: { here: "Da", unconfirmed: "Noch nicht geh\u00f6rt", silent: "Stumm", away: "Weg", stopped: "Beendet", cut: "Unbekannt" },
  counted: {
    held: (n) => (n === 1 ? `${n} braucht jemanden` : `${n} brauchen jemanden`),
    due: (n) => `${n} mit abgelaufener Zeit`,
    trouble: (n) => `${n} mit St\u00f6rung`,
    weighing: (n) => `${n} beim Wägen`,
    waiting: (n) => `${n} in Arbeit`,
    idle: (n) => `${n} frei`,
    gone: (n) => `${n} nicht da`,
  },
  phases: { "awaiting vessel": "Kein Gef\u00e4\u00df", ready: "Bereit" },
  links: { lost: "fehlt", silent: "stumm" },
  checked: {
    overdue: "Pr\u00fcfung \u00fcberf\u00e4llig",
    failed: "Pr\u00fcfung nicht bestanden",
    "too close to call": "Pr\u00fcfung zu knapp",
    "never checked": "nie gepr\u00fcft",
  },
  ended: { closed: "Fertig", "in process": "Alles gewogen", abandoned: "Abgebrochen" },
};
