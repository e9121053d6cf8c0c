// Checks of a scale with weights.

import type { Outcome, Standing } from "../../core/checks.ts";
import { massWithUnit, number, signedWithUnit, sizeWithUnit, unsureWithUnit } from "../../core/numbers.ts";
import type { TextsOf } from "../../core/texts.ts";
import { foreign, same } from "../../core/translation.ts";

const places: Record<string, string> = {
  centre: "in die Mitte",
  "front left": "vorn links",
  "back left": "hinten links",
  "back right": "hinten rechts",
  "front right": "vorn rechts",
};
const outcomes: Record<Outcome, string> = { pass: "Bestanden", fail: "Nicht bestanden", "too close to call": "Nicht zu entscheiden" };
const standings: Record<Standing, string> = {
  good: "Geprüft, bestanden",
  overdue: "Die Prüfung ist überfällig",
  failed: "Die Prüfung ist nicht bestanden",
  "too close to call": "Die Prüfung war nicht zu entscheiden",
  "never checked": "Noch nicht geprüft",
};
const unwell: Record<Standing, string> = {
  good: "die ihre Prüfung bestanden hatte",
  overdue: "deren Prüfung überfällig war",
  failed: "die ihre Prüfung nicht bestanden hatte",
  "too close to call": "deren Prüfung nicht zu entscheiden war",
  "never checked": "die nicht geprüft war",
};
const weightOf = (it: { weight: string | null; nominal_g: string | null }) =>
  it.weight === null ? "nichts" : it.weight.includes(it.nominal_g ?? "") ? it.weight : `${it.weight} (${massWithUnit(it.nominal_g)})`;

export const checksTerms: TextsOf<"checksTerms"> = { places, outcomes, standings, unwell };

export const checks: TextsOf<"checks"> = {
  title: (scale) => `Prüfung von ${scale}`,
  heading: "Prüfung mit Gewichten",
  open: "Waage prüfen",
  see: "Prüfungen ansehen",
  back: "Alle Waagen",
  none: "Für diese Waage ist keine Prüfung eingerichtet. Das geschieht in der Konfiguration der Station.",
  standing: same,
  outcome: same,
  last: "Letzte Prüfung",
  due: "Fällig",
  now: "jetzt",
  then: (it) => (it.then === "bars" ? "Nichts wird angenommen, bevor sie bestanden ist." : "Was ungeprüft gewogen wird, wird gekennzeichnet."),
  hint: (scale, it) =>
    `${scale}: ${standings[it.standing]}. ` +
    (it.then === "bars" ? "Nichts wird darauf angenommen, bevor sie bestanden hat." : "Was darauf gewogen wird, wird gekennzeichnet."),
  barred: (scale) => `Auf ${scale} wird nichts angenommen, bevor die Prüfung bestanden ist.`,
  first: "Gefäß abnehmen, Waage prüfen",
  checking: "Die Waage wird gerade geprüft.",
  clearing: "Erst alles von der Waage nehmen: Dann geht die Zugabe weiter.",
  takes: (n, weights) =>
    `Sie hat ${n} Schritte und braucht ${weights.map((it) => weightOf({ weight: it.name, nominal_g: it.nominal_g })).join(", ")}.`,
  wet: "Dabei ist nichts zu drücken: Jeder Schritt zählt, wenn das Gewicht wieder abgenommen ist.",
  by: "Wer prüft",
  byWrong: "Angeben, wer prüft: Der Name kommt ins Protokoll.",
  start: "Prüfung beginnen",
  stop: "Prüfung abbrechen",
  stopped: "Abgebrochen, davon ist nichts aufgezeichnet.",
  nth: (run) => `${run.current?.n ?? run.of} von ${run.of}`,
  onScale: "auf der Waage",
  instruction: (run) => {
    const it = run.current;
    if (it === null) return "Einen Moment: Es wird aufgezeichnet";
    if (run.wanted === "empty") return run.note === "zero moved" ? "Waage leeren und nullen" : "Alles abnehmen";
    if (run.wanted === "remove") return "Abnehmen";
    return `${it.weight ?? ""} ${it.part === "corner" ? `${places[it.place] ?? it.place} stellen` : "daraufstellen"}`;
  },
  more: (run) => {
    const it = run.current;
    if (it === null) return "";
    if (run.odd_g !== null) {
      return run.wanted === "empty"
        ? `Sie zeigt ${massWithUnit(run.odd_g)}. Steht nichts darauf: Knopf drücken.`
        : `Sie zeigt ${massWithUnit(run.odd_g)}. Ist es ${it.weight}: Knopf drücken; sonst austauschen.`;
    }
    if (run.note === "zero moved") return "Ihr Nullpunkt sprang, während ein Gewicht darauf stand: Dieser Schritt wird wiederholt.";
    if (run.wanted === "remove" && run.found) return found(run.found);
    if (run.wanted === "put" && it.part === "repeatability") return `${it.nth}. Mal von ${it.of}, ${massWithUnit(it.nominal_g)}`;
    return run.wanted === "put" ? massWithUnit(it.nominal_g) : "";
  },
  found: (it) => found(it),
  plate: (run) => {
    if (run.odd_g !== null) return run.wanted === "empty" ? "Ist sie leer?" : "Ist es das richtige?";
    if (run.wanted === "remove" && run.found) return outcomes[run.found.outcome]!;
    if (run.wanted === "put") return "Daraufstellen";
    return run.wanted === "empty" ? "Waage leeren" : "Einen Moment";
  },
  right: (run) => (run.wanted === "empty" ? "Sie ist leer" : `Es ist ${run.current?.weight ?? "das richtige"}`),
  wait: (run) => {
    if (run.wanted === "remove") return "Zählt, wenn es herunter ist";
    return run.wanted === "nothing" ? "Einen Moment" : "Geht von selbst weiter";
  },
  step: (it) => {
    const weight = typeof it.weight === "object" && it.weight !== null ? it.weight : { name: it.weight, nominal_g: it.nominal_g ?? null };
    if (it.weight === null) return "Leere Waage";
    const what = weightOf({ weight: weight.name as string, nominal_g: weight.nominal_g });
    if (it.part === "corner") return `${what}, ${places[it.place] ?? it.place}`;
    return it.part === "repeatability" ? `${what}, noch einmal` : what;
  },
  repeated: (it) =>
    `${it.n}-mal: ${sizeWithUnit(it.range_g)} auseinander, ${sizeWithUnit(it.limit_g)} erlaubt; Standardabweichung ${unsureWithUnit(it.s_g)}`,
  repeatability: "Wiederholbarkeit",
  cornersApart: (g) => `Ecken: bis ${massWithUnit(g)} von der Mitte`,
  leftOut: (parts) => `Ausgelassen: ${parts.join(", ")}`,
  doubted: (it) => `Im Zweifel: Charge ${it.batch}, ${it.additions.length === 1 ? "Zugabe" : "Zugaben"} ${it.additions.join(", ")}`,
  history: "Bisherige Prüfungen",
  noHistory: "Noch keine.",
  older: "Ältere Prüfungen",
  plot: "Fehler der Prüfungen, gemessen am Erlaubten",
  allowed: (g) => `\u00b1${massWithUnit(g)} erlaubt`,
  range: (g) => `${massWithUnit(g)} erlaubt`,
  flags: "Prüfungen der Waage",
  said: (flags, at) => {
    const by = new Map<string, number[]>();
    for (const it of flags) {
      const text =
        it.failed !== null
          ? `im Zweifel, ${it.scale} hat die nächste Prüfung nicht bestanden (${at(it.failed.at)}).`
          : `gewogen auf ${it.scale}, ${unwell[it.standing] ?? it.standing}.`;
      by.set(text, [...(by.get(text) ?? []), it.addition]);
    }
    return [...by].map(([text, of]) => `${of.length === 1 ? "Zugabe" : "Zugaben"} ${of.join(", ")}: ${text}`);
  },
  simulated: (it) => `${weightOf({ weight: it.name, nominal_g: it.nominal_g })} auflegen`,
  simulatedOff: "Gewicht abnehmen",
};

function found(it: { error_g: string; limit_g: string; u_g: string }): string {
  return `Fehler ${signedWithUnit(it.error_g)}, \u00b1${sizeWithUnit(it.limit_g)} erlaubt; u ${unsureWithUnit(it.u_g)}`;
}

export const wireTerms: TextsOf<"wireTerms"> = {
  shapes: {
    auto: "Sie wird noch aus dem erschlossen, was die Waage sendet.",
    usb: "Wie die Waage ihre Meldungen selbst beschreibt (USB).",
    named: same,
    own: (name) => `${name}, erschlossen oder aus einer eigenen Datei`,
  },
};

export const wire: TextsOf<"wire"> = {
  title: "Was sie sendet",
  shape: "Leitungsform",
  shapeOf: same,
  none: "Gerade kommt nichts.",
  waiting: "Es wird gehört\u2026",
  hold: "Anhalten",
  go: "Weiter",
  parts: { status: "wie sie steht", number: "Gewicht", sign: "Vorzeichen", unit: "Einheit", check: "Prüfzeichen" },
  read: (it) =>
    it.over
      ? "über der Höchstlast"
      : it.shown === null || it.unit === null
        ? `kein Gewicht: ${foreign(it.fault)}`
        : `${number(it.shown)}\u00a0${it.unit}${it.stable === null ? "" : it.stable ? ", ruhig" : ", bewegt"}`,
  as: "gelesen als",
  rejected: (n) => (n === 1 ? "Eine Meldung wurde nicht verstanden:" : `${n} Meldungen wurden nicht verstanden. Die letzte:`),
  help: "Geraten wird nichts: Was nicht zur Form passt, ist kein Gewicht. Wird viel nicht verstanden, erschließt weighd scales --learn die Form.",
};
