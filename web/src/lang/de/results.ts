// What came of a batch: beside its plan, what was drawn, and freezing with dry ice.

import { type AsWeighed, type HeldLimit, asWeighed as english } from "../../core/as-weighed.ts";
import { ppm } from "../../core/dry-ice.ts";
import { clock } from "../../core/dry-ice.ts";
import type { Span } from "../../core/dry-ice.ts";
import { massWithUnit, number, numbers, unsureNumber, unsureWithUnit } from "../../core/numbers.ts";
import type { TextsOf } from "../../core/texts.ts";
import { foreign, same } from "../../core/translation.ts";
import { mixesTerms } from "./desk.ts";

const NBSP = "\u00a0";

export const asWeighedTerms: TextsOf<"asWeighedTerms"> = {
  names: {
    mass: "Masse",
    fat: "Fett",
    msnf: "Fettfreie Milch\u00adtrockenmasse",
    sugars: "Zucker",
    stabiliser: "Stabilisator",
    total_solids: "Trockenmasse gesamt",
    alcohol: "Alkohol",
    sweetness: "Süße, als Saccharose",
    freezing_point: "Beginnt zu gefrieren",
    cost: "Kosten von allem",
    cost_per_kg: "Kosten je Kilogramm",
  },
  bits: {
    unknown: "nicht bekannt",
    orMore: (least) => `${least} oder mehr`,
    to: (least, most) => `${least} bis ${most}`,
    ice: (at) => `Eis bei ${at}`,
  },
  told: { "no difference": "kein Unterschied", more: "mehr", less: "weniger", "cannot be told": "lässt sich nicht sagen" },
  higher: { more: "höher", less: "tiefer" },
};

const standings: Record<string, string> = { inside: "innerhalb", outside: "außerhalb", unknown: "nicht bekannt", "not known": "nicht bekannt" };
const grams = (text: string) => massWithUnit(Number(text).toFixed(1));
const call = (of: string[]) => of.map((each) => (mixesTerms.named as Record<string, string>)[each] ?? each.replaceAll("_", " ")).join(" und ");

function value(side: HeldLimit["weighed"], unit: string): string {
  const it = side.value;
  if (it === null || it.value === null) return "nicht bekannt";
  const one = (text: string) => number(Number(text).toFixed(2));
  const suffix = `${NBSP}${unit.startsWith("%") ? "%" : unit}`;
  if (it.at_most === undefined || it.at_most === it.value) return one(it.value) + suffix;
  return it.at_most === null ? `${one(it.value)}${suffix} oder mehr` : `${one(it.value)} bis ${one(it.at_most)}${suffix}`;
}

export const asWeighed: TextsOf<"asWeighed"> = {
  title: "Wie gewogen, und wie geplant",
  served: "Serviert bei",
  temperatures: english.temperatures,
  cols: { of: "Größe", planned: "Wie geplant", weighed: "Wie gewogen", change: "Unterschied" },
  state: (it) => {
    const inside = `${grams(it.in_g)} sind darin`;
    if (it.status === "abandoned") return `Abgebrochen: ${inside}.`;
    if (it.whole) return `Alles ist darin, ${grams(it.in_g)}.`;
    return `${inside}; was noch kommt (${grams(it.to_come_g)}), zählt wie geplant.`;
  },
  rows: same,
  doubt: (it) =>
    `Das \u00b1 ist, was das Wägen offen lässt (2 u; was darin ist, ist auf ${massWithUnit(Number(it.in_u_g).toFixed(2))} bekannt). Ein Unterschied darin ist keiner. Wovon ein Etikett abweicht, das ist auf beiden Seiten gleich.`,
  limits: (it: AsWeighed) =>
    it.limits
      .filter((one) => one.planned.standing !== "inside" || one.weighed.standing !== "inside")
      .map((one) => {
        const [min, max] = [one.min, one.max].map((end) => end && number(end));
        const to = min && max ? `${min} bis ${max}` : min ? `${min} oder mehr` : `${max} oder weniger`;
        const side = (is: HeldLimit["weighed"]) =>
          `${value(is, one.unit)} (${standings[is.standing] ?? foreign(is.standing)}${is.why ? `: ${foreign(is.why)}` : ""})`;
        const kind = one.class === "every" ? "jedes Gefrorene" : one.class;
        return {
          key: `${one.class}${one.of.join()}${one.min}${one.max}`,
          outside: one.weighed.standing === "outside",
          text: `Für ${kind} üblich, ${call(one.of)}: ${to}${NBSP}${one.unit}. Wie gewogen ${side(one.weighed)}; wie geplant ${side(one.planned)}. ${foreign(`${one.source}.`)}`,
        };
      }),
  prices: (it) => {
    if (!it.prices.known) return "Keine Kosten: Ein Protokoll hält keine Preise, und hier sind keine bekannt.";
    return `Kosten nach heutigen Preisen${it.prices.date ? `, die seit ${it.prices.date} gelten` : ""}: Ein Protokoll hält keine.`;
  },
  missing: (it) => {
    const of = Object.keys(it.missing).map((id) => it.amounts.find((one) => one.ingredient === id)?.name ?? id);
    return of.length === 0 ? "" : `Nicht alles bekannt von: ${of.join(", ")}.`;
  },
  method: (it) => `Gefrieren nach ${foreign(it.method)}. Ein Anhalt, keine Messung.`,
};

const percent = (text: string) => `${number(text)}${NBSP}%`;
const money = (it: { value: string; at_most?: string | null } | null) =>
  it === null || it.value === null ? null : (it.at_most === undefined ? "" : "mindestens ") + number(Number(it.value).toFixed(2));

function typed(it: { typed?: string; g?: string; ml?: string } | undefined, unit: "g" | "ml", weighed = ""): string {
  if (it === undefined) return "";
  if (it.typed) return numbers(it.typed).replace(/\s+/g, NBSP);
  return (unit === "g" ? massWithUnit(it.g ?? "") : `${number(it.ml ?? "")}${NBSP}mL`) + weighed;
}

export const yields: TextsOf<"yields"> = {
  title: "Was daraus wurde",
  none: "Noch ist nicht aufgezeichnet, was aus dieser Charge wurde.",
  add: "Entnahme aufzeichnen",
  right: "Berichtigen",
  rightOf: (n) => `Entnahme ${n} berichtigen`,
  back: "Zurücknehmen",
  cancel: "So lassen",
  send: "Diese Entnahme aufzeichnen",
  sendRight: "An ihrer Stelle aufzeichnen",
  recorded: (n) => (n === null ? "Es steht im Protokoll." : `Entnahme ${n} ist berichtigt; beide stehen im Protokoll.`),
  takenBack: (n) => `Entnahme ${n} ist zurückgenommen; sie bleibt im Protokoll.`,
  weight: "Entnommenes Gewicht, netto",
  from: "Gewicht ist",
  typed: "eingegeben",
  onScale: (name) => `abgelesen auf ${name}`,
  shows: (text) => `Sie zeigt jetzt ${text}; sie muss stillstehen.`,
  container: "Es steht in",
  ownKey: "nichts: Die Anzeige war tariert",
  otherTub: "einem Behälter, der wiegt",
  tare: "Leerer Behälter",
  volume: "Entnommenes Volumen",
  containers: "Oder Behälter",
  fill: "jeder fasst",
  portions: "Portionen",
  more: "Rest, Stücke, Becher, Dichte",
  left: "Mischung übrig",
  leftHint: "nicht entnommen: in Schüssel oder Maschine",
  pieces: "Stücke darin",
  piecesHint: "nach dem Gefrieren dazugegeben, im Gewicht enthalten",
  density: "Ihre Dichte, g/mL",
  cupMix: "Ein Becher Mischung, netto",
  cupProduct: "Derselbe Becher Produkt, netto",
  sampleWeight: "Mischung ohne Luft: Masse",
  sampleVolume: "und ihr Volumen",
  reason: "Warum",
  reasonHint: "bleibt im Protokoll, und was zuerst dastand, auch",
  by: "Wer sagt das",
  unit: (name) => `Einheit: ${name}`,
  ofMass: "Massen",
  ofVolume: "Volumen",
  digits: "Alle abgelesenen Stellen schreiben: Ein Gewicht gilt als bekannt bis zur letzten.",
  draw: (it) => {
    const said = [
      typed(it.weight, "g", ", gewogen"),
      it.containers === undefined ? typed(it.volume, "ml") : `${it.containers}${NBSP}\u00d7${NBSP}${typed(it.fill, "ml")}`,
      it.pieces && `davon ${typed(it.pieces, "g")} Stücke`,
      it.left && `${typed(it.left, "g")} übrig`,
      it.portions !== undefined && `${it.portions} ${it.portions === 1 ? "Portion" : "Portionen"}`,
      it.sample && `Mischung: ${typed(it.sample.weight, "g")} in ${typed(it.sample.volume, "ml")}`,
      it.cup && `ein Becher: ${typed(it.cup.mix, "g")} Mischung, ${typed(it.cup.product, "g")} Produkt`,
    ];
    return said.filter(Boolean).join(", ");
  },
  found: (it) => {
    const said: string[] = [];
    if (it.overrun_percent !== null)
      said.push(`Aufschlag ${percent(it.overrun_percent)} (\u00b1${unsureNumber(String(2 * Number(it.overrun_u_percent)))}), ${number(it.product_g_ml)}${NBSP}g/mL mit Luft`);
    else if (it.why) said.push(`kein Aufschlag: ${foreign(it.why)}`);
    if (it.cup_overrun_percent !== null) said.push(`nach dem Becher ${percent(it.cup_overrun_percent)}`);
    return said.join("; ");
  },
  odd: (it) => {
    if (it.impossible) return "Das wäre dichter als die eigene Mischung. Nach Gewicht und Volumen sehen.";
    return it.disagrees ? "Die beiden Aufschläge passen nicht zusammen. Nachsehen, was eingegeben ist." : "";
  },
  facts: (it) => {
    const { total, cost } = it;
    const doubt = () => unsureWithUnit(String(2 * Number(total.loss_u_g)));
    const loss =
      total.loss_g === null
        ? "nicht bekannt: Dazu braucht es das Gewicht jeder Entnahme"
        : total.told === "loss" || total.told === "more came out than went in"
          ? `${massWithUnit(total.loss_g)}, ${percent(total.loss_percent ?? "")} (\u00b1${doubt()})`
          : `keiner, der sich sagen ließe (${massWithUnit(total.loss_g)} \u00b1${doubt()})`;
    const portion = total.portion && [total.portion.g && massWithUnit(total.portion.g), total.portion.ml && `${number(total.portion.ml)}${NBSP}mL`].filter(Boolean).join(", ");
    const rows: [string, string | null][] = [
      ["Eingewogen", massWithUnit(total.in_g)],
      ["Entnommen, als Mischung", total.drawn_g === null ? null : massWithUnit(total.drawn_g)],
      ["Übrig", Number(total.left_g) > 0 ? massWithUnit(total.left_g) : null],
      [it.status === "in process" ? "Bisher nicht entnommen" : "Verlust", it.draws.length > 0 ? loss : null],
      ["Entnommenes Volumen", total.product_ml === null ? null : `${number((Number(total.product_ml) / 1000).toFixed(2))}${NBSP}L`],
      ["Aufschlag gesamt", total.overrun_percent === null ? null : percent(total.overrun_percent)],
      ["Portionen", total.portions === 0 ? null : `${total.portions}${portion ? `, je ${portion}` : ""}`],
      ["Kosten einer Portion", money(cost.per_portion)],
      ["Kosten eines Liters", money(cost.per_litre)],
      ["Mischung ohne Luft", it.density_g_ml === null ? "Dichte nicht bekannt" : `${number(it.density_g_ml)}${NBSP}g/mL, ${foreign(it.density)}`],
    ];
    return rows.flatMap(([name, text]): [string, string][] => (text ? [[name, text]] : []));
  },
  gained: (it) =>
    it.total.told === "more came out than went in" ? "Es kam mehr heraus, als hineinging, und mehr, als das Wägen erklären kann. Etwas ist falsch eingegeben: berichtigen." : "",
  prices: (it) => {
    if (it.cost.per_portion === null && it.cost.per_litre === null) return "";
    const since = it.cost.date ? ` Sie gelten seit ${it.cost.date}.` : "";
    return `Kosten sind die von allem Eingewogenen, nach heutigen Preisen.${since}${it.cost.pieces ? " Die Stücke sind nicht darin." : ""}`;
  },
  ceiling: (it) =>
    it.ceilings.map((one) => `Höchstens ${number(one.overrun_percent)}${NBSP}% Aufschlag halten es bei ${number(one.least_g_ml)}${NBSP}kg/L (${foreign(one.source)}).`),
};

// --- dry ice --------------------------------------------------------------------------------------

const span = (it: Span, unit: string): string =>
  it.at_most === undefined ? `${number(it.value)}${NBSP}${unit}` : `${number(it.value)} bis ${number(it.at_most)}${NBSP}${unit}`;
/** To the gram: the charge is no better known than that. */
const whole = (text: string) => massWithUnit(String(Math.round(Number(text))));
const both = (least: string, most: string) => (least === most ? whole(most) : `${whole(least)} bis ${whole(most)}`);

export const dryIce: TextsOf<"dryIce"> = {
  means: "dry ice",
  roomFirst: "Erst den Raum angeben",
  title: "Mit Trockeneis gefrieren",
  first: "Vor dem Beginn",
  caution: same,
  from: "Mischung bei, \u00b0C",
  to: "Entnehmen bei, \u00b0C",
  efficiency: "Wirkungsgrad, %",
  efficiencyHint: "geschätzt: keine Quelle",
  room: "Raum, m\u00b3",
  roomHint: "Länge \u00d7 Breite \u00d7 Höhe",
  changes: "Luftwechsel je Stunde",
  changesHint: "nicht bekannt: keiner",
  release: "Gas kommt über, min",
  releaseHint: "leer: auf einmal",
  vessel: "Schüssel, g",
  vesselHint: "leer: nicht gezählt",
  vesselOf: "Schüssel aus",
  vesselOfHint: "ihre Wärmekapazität ist aus dem Gedächtnis",
  own: "Eigene Menge, g",
  ownHint: "leer: das Meiste der Spanne",
  needsRoom: "Rauminhalt angeben. Ohne ihn wird keine Menge genannt.",
  charge: (it) => both(it.least_g, it.most_g),
  chargeNote: (it) =>
    `Trockeneis, bei ${number(it.efficiency_percent)}${NBSP}% Wirkungsgrad (${foreign(it.efficiency_status)}). ` +
    `Unten gezählt sind ${whole(it.counted_g)}: etwa ${number(it.powder.litres)}${NBSP}L Pulver mit ${number(it.powder.kg_l)}${NBSP}kg/L (${foreign(it.powder.status)}).`,
  rule: (it) =>
    `In der Branche heißt es: ${foreign(it.rule_of_thumb.says)} (${foreign(it.rule_of_thumb.status)}): ${whole(it.rule_of_thumb.powder_g)}, ` +
    `das ${number(it.rule_of_thumb.times_the_charge)}-Fache der Menge.`,
  heat: (it) => [
    [it.begins_c ? `Kühlen auf ${span(it.begins_c, "\u00b0C")}` : "Kühlen", span(it.cooling_kj, "kJ")],
    [`${span(it.ice_g, "g")} Eis gefrieren`, span(it.freezing_kj, "kJ")],
    ["Weiter kühlen", span(it.below_kj, "kJ")],
    ...(Number(it.vessel_kj) > 0 ? ([["Die Schüssel", `${number(it.vessel_kj)}${NBSP}kJ`]] as [string, string][]) : []),
    ["Wärme insgesamt", span(it.total_kj, "kJ")],
  ],
  leftOut: (it) => `Nicht gezählt: ${foreign(it.left_out.join("; "))}.`,
  air: "Luft im Raum",
  airOf: (it) =>
    `${number(it.volume_m3)}${NBSP}m\u00b3, ${number(it.air_changes)} Luftwechsel je Stunde${it.ventilation_known ? "" : " (nicht angegeben: keiner)"}; ` +
    `${number(it.gas_m3)}${NBSP}m\u00b3 Gas ${Number(it.release_min) > 0 ? `über ${number(it.release_min)}${NBSP}min` : "auf einmal"}.`,
  against: (it) => `${it.exceeded ? "Über" : "Unter"} ${ppm(it.ppm)}`,
  needed: (it) =>
    it.air_changes_needed === null
      ? "Keine Lüftung eines Raums reicht: weniger Trockeneis, oder im Freien."
      : `${number(it.air_changes_needed)} Luftwechsel je Stunde hielten es darunter.`,
  after: (it) =>
    it.below_5000_after_h === null
      ? `Es bleibt über ${ppm("5000")}, bis jemand lüftet.`
      : Number(it.below_5000_after_h) > 0
        ? `Unter ${ppm("5000")} ${number(it.below_5000_after_h)}${NBSP}h nach dem ersten Gas.`
        : `Nach dieser Rechnung erreicht es ${ppm("5000")} nicht.`,
  portions: (it) => `${it.list.length} Portionen, ${foreign(it.size)}, alle ${it.every_s}${NBSP}s eine (${foreign(it.status)}).`,
  then: (it) => foreign(`Then ${it.then}. ${it.stop}`),
  elsewhere: (it) =>
    `Dieselbe Kälte: ${span(it.freezer_kwh, "kWh")} aus einem Gefrierschrank, oder ${span(it.melted_ice_kg, "kg")} geschmolzenes Eis. ${foreign(it.note)}`,
  sources: "Woher diese Zahlen kommen",
  constant: (it) => `${number(it.value)}${NBSP}${it.unit} ${foreign(`(${it.status}): ${it.source}`)}`,
  missing: (it) => {
    const names = Object.keys(it.missing);
    return names.length === 0 ? "" : `Nicht alles bekannt von: ${names.join(", ")}. Daher die Spanne.`;
  },
  step: "Womit gerechnet wird",
  stands: "Das Trockeneis steht auf",
  standsNowhere: "keiner Waage: hier nicht gewogen",
  standsHint: "gewogen in dem Augenblick, in dem Beginnen gedrückt wird, berichtigt um das, was es verliert",
  tare: "Sein leeres Gefäß, g",
  tareHint: "leer: Die Waage war tariert",
  portion: (n, of, g) => `Portion ${n} von ${of}: ${massWithUnit(g)}`,
  nextIn: (seconds) => `die nächste in ${clock(Math.max(0, Math.ceil(seconds)))}`,
  lastIn: "das ist die letzte",
  allIn: "Alle Portionen sind darin. Danach 5 bis 10 Minuten in den Gefrierschrank, Deckel offen, bis keines mehr da ist.",
  reckoned: (it) =>
    `Trockeneis: ${whole(it.counted_g)}` +
    (it.charge_g ? ` (gerechnet ${both(it.charge_g[0], it.charge_g[1])} bei ${number(it.asked["efficiency_percent"])}${NBSP}% Wirkungsgrad, nicht bestätigt)` : "") +
    `, ${number(it.asked["from_c"] ?? "")} bis ${number(it.asked["to_c"] ?? "")}${NBSP}\u00b0C.`,
  aired: (it) =>
    `Raum ${number(it.asked["room_m3"])}${NBSP}m\u00b3, Luftwechsel je Stunde ${it.asked["air_changes"] === undefined ? "nicht bekannt, als keiner gerechnet" : number(it.asked["air_changes"])}: ` +
    `bis ${ppm(it.room.peak_ppm)}, ${ppm(it.room.shift_ppm)} über 8 Stunden` +
    (it.room.above.length > 0 ? "; über einem Grenzwert." : "."),
  weighed: (it) => `Auf ${it.scale} gewogen, als es verwendet wurde: ${massWithUnit(it.net_g)}, Verlust ${massWithUnit(it.rate_g_min)} je Minute.`,
  share: (part) => `Wurde alles verwendet, kamen ${number(part)}${NBSP}% der Kälte in der Mischung an: der Wirkungsgrad für das nächste Mal.`,
  losing: "Auf der Waage",
  scale: "Waage",
  want: "Gewünscht bei Gebrauch, g",
  wait: "Gebraucht in, min",
  waiting: "Von der Waage ist nichts zu hören.",
  shows: same,
  rate: (it) =>
    it.loses ? `verliert ${massWithUnit(it.rate_g_min)} je Minute, \u00b1${NBSP}${massWithUnit((2 * Number(it.u_rate_g_min)).toFixed(2))} (2${NBSP}u)` : "",
  weighOut: (it, want, minutes) =>
    `Jetzt ${massWithUnit(it.weigh_out_g)} auswiegen, um in ${minutes}${NBSP}min ${massWithUnit(want)} zu haben; ${massWithUnit(it.lost_g)} gehen verloren.`,
  atUse: (it, minutes) => `In ${minutes}${NBSP}min sind es ${massWithUnit(it.at_use_g)}.`,
};
