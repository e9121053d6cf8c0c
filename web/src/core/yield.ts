// What came out of a batch, in words, and what a form of it says. The other words are in words.ts and
// the files it names.

import type { Value } from "./mix.ts";
import { massWithUnit, number, numbers, unsureNumber, unsureWithUnit } from "./numbers.ts";

interface Typed {
  typed?: string;
  g?: string;
  u_g?: string;
  ml?: string;
}

export interface DrawShown {
  draw: number;
  by: string;
  at: string;
  weight?: Typed;
  volume?: Typed;
  containers?: number;
  fill?: Typed;
  pieces?: Typed;
  pieces_density_g_ml?: string;
  left?: Typed;
  cup?: { mix: Typed; product: Typed };
  sample?: { weight: Typed; volume: Typed };
  portions?: number;
  overrun_percent: string | null;
  overrun_u_percent: string | null;
  cup_overrun_percent: string | null;
  cup_overrun_u_percent: string | null;
  product_g_ml: string | null;
  why: string;
  impossible: boolean;
  disagrees: boolean;
}

export interface Yield {
  batch: string;
  status: string;
  density_g_ml: string | null;
  density: string;
  draws: DrawShown[];
  total: {
    in_g: string;
    drawn_g: string | null;
    left_g: string;
    loss_g: string | null;
    loss_u_g: string | null;
    loss_percent: string | null;
    told: string;
    product_ml: string | null;
    portions: number;
    overrun_percent: string | null;
    overrun_u_percent: string | null;
    portion: { g: string | null; ml: string | null } | null;
  };
  cost: {
    known: boolean;
    date: string;
    batch: Value | null;
    per_portion: Value | null;
    per_litre: Value | null;
    pieces: boolean;
  };
  ceilings: { class: string; least_g_ml: string; overrun_percent: string; source: string }[];
}

/** What the form holds: numbers as typed, and the units beside them. */
export interface Form {
  weight: string;
  weight_unit: string;
  scale: string;
  vessel: string;
  tare: string;
  volume: string;
  volume_unit: string;
  containers: string;
  fill: string;
  portions: string;
  left: string;
  pieces: string;
  pieces_density: string;
  cup_mix: string;
  cup_product: string;
  sample_weight: string;
  sample_volume: string;
  reason: string;
  by: string;
}

export const MASS_UNITS = ["g", "kg", "oz", "lb"] as const;
export const VOLUME_UNITS = ["mL", "L"] as const;

export const EMPTY: Form = {
  weight: "",
  weight_unit: "g",
  scale: "",
  vessel: "",
  tare: "",
  volume: "",
  volume_unit: "L",
  containers: "",
  fill: "",
  portions: "",
  left: "",
  pieces: "",
  pieces_density: "",
  cup_mix: "",
  cup_product: "",
  sample_weight: "",
  sample_volume: "",
  reason: "",
  by: "",
};

const MASSES = ["left", "pieces", "cup_mix", "cup_product", "sample_weight"] as const;

/** What is sent: a number keeps its digits and its comma, and gets its unit unless it brings one. A whole number that is none
 *  is sent as text, so that the station says what is wrong with it. */
export function asked(form: Form, corrects: number | null): Record<string, unknown> {
  const out: Record<string, unknown> = {};
  const put = (key: string, text: string, unit: string) => {
    const given = text.trim();
    if (given) out[key] = unit && !/[A-Za-z]$/.test(given) ? `${given} ${unit}` : given;
  };
  if (form.scale) {
    out["scale"] = form.scale;
    if (form.vessel) out["vessel"] = form.vessel;
    else put("tare", form.tare, form.weight_unit);
  } else put("weight", form.weight, form.weight_unit);
  if (form.containers.trim() || form.fill.trim()) {
    count(out, "containers", form.containers);
    put("fill", form.fill, form.volume_unit);
  } else put("volume", form.volume, form.volume_unit);
  count(out, "portions", form.portions);
  for (const key of MASSES) put(key, form[key], form.weight_unit);
  put("sample_volume", form.sample_volume, form.volume_unit);
  put("pieces_density", form.pieces_density, "");
  put("reason", form.reason, "");
  put("by", form.by, "");
  if (corrects !== null) out["corrects"] = corrects;
  return out;
}

function count(out: Record<string, unknown>, key: string, text: string): void {
  const typed = text.trim();
  if (typed) out[key] = /^\d{1,6}$/.test(typed) ? Number(typed) : typed;
}

/** The form as a draw filled it, to put that right: each in the unit it was typed in, where all were. */
export function formOf(draw: DrawShown): Form {
  const said = (it: Typed | undefined) => /[A-Za-z]+$/.exec(it?.typed ?? "")?.[0]?.toLowerCase();
  const unit = (it: Typed | undefined, units: readonly string[], usual: string) =>
    units.find((one) => one.toLowerCase() === said(it)) ?? usual;
  const units = [unit(draw.weight ?? draw.left, MASS_UNITS, "g"), unit(draw.fill ?? draw.volume, VOLUME_UNITS, "L")];
  /** Without its unit, where that is the form's. */
  const number = (it: Typed | undefined) => {
    const typed = it?.typed ?? "";
    return units.some((one) => one.toLowerCase() === said(it)) ? typed.replace(/\s*[A-Za-z]+$/, "") : typed;
  };
  return {
    ...EMPTY,
    weight: draw.weight?.typed ? number(draw.weight) : draw.weight ? `${draw.weight.g} g` : "",
    weight_unit: units[0]!,
    volume: draw.fill ? "" : number(draw.volume),
    volume_unit: units[1]!,
    containers: draw.containers === undefined ? "" : String(draw.containers),
    fill: number(draw.fill),
    portions: draw.portions === undefined ? "" : String(draw.portions),
    left: number(draw.left),
    pieces: number(draw.pieces),
    pieces_density: draw.pieces_density_g_ml ?? "",
    cup_mix: number(draw.cup?.mix),
    cup_product: number(draw.cup?.product),
    sample_weight: number(draw.sample?.weight),
    sample_volume: number(draw.sample?.volume),
  };
}

const NBSP = "\u00a0";
const percent = (text: string) => `${number(text)}${NBSP}%`;
const money = (it: Value | null) =>
  it === null || it.value === null ? null : (it.at_most === undefined ? "" : "at least ") + number(Number(it.value).toFixed(2));

function typed(it: Typed | undefined, unit: "g" | "ml", weighed = ""): string {
  if (it === undefined) return "";
  if (it.typed) return numbers(it.typed).replace(/\s+/g, NBSP);
  return (unit === "g" ? massWithUnit(it.g ?? "") : `${number(it.ml ?? "")}${NBSP}mL`) + weighed;
}

export const yields = {
  title: "What came out of it",
  none: "Nothing is recorded yet of what came out of this batch.",
  add: "Record a draw",
  right: "Put this right",
  rightOf: (n: number) => `Put draw ${n} right`,
  back: "Take it back",
  cancel: "Leave it",
  send: "Record this draw",
  sendRight: "Record it in its place",
  recorded: (n: number | null) => (n === null ? "It is in the record." : `Draw ${n} is put right; both are in the record.`),
  takenBack: (n: number) => `Draw ${n} is taken back; it stays in the record.`,
  weight: "Weight drawn, net",
  from: "Weight is",
  typed: "typed in",
  onScale: (name: string) => `read on ${name}`,
  shows: (text: string) => `It shows ${text} now; it must stand still.`,
  container: "It stands in",
  ownKey: "nothing: the display was tared",
  otherTub: "a container that weighs",
  tare: "Empty container",
  volume: "Volume drawn",
  containers: "Or containers",
  fill: "each holding",
  portions: "Portions made",
  more: "Left over, pieces, cup, density",
  left: "Mix left over",
  leftHint: "not drawn: in the bowl, in the machine",
  pieces: "Pieces in it",
  piecesHint: "put in after freezing, part of the weight",
  density: "Their density, g/mL",
  cupMix: "A cup of mix, net",
  cupProduct: "The same cup of product, net",
  sampleWeight: "Mix without air: mass",
  sampleVolume: "and its volume",
  reason: "Why",
  reasonHint: "stays in the record, and so does what was recorded first",
  by: "Who says so",
  unit: (name: string) => `Unit of ${name}`,
  ofMass: "masses",
  ofVolume: "volumes",
  digits: "Write all the digits you read: a weight is taken to be known to its last one.",
  draw: (it: DrawShown) => {
    const said = [
      typed(it.weight, "g", ", weighed"),
      it.containers === undefined ? typed(it.volume, "ml") : `${it.containers}${NBSP}\u00d7${NBSP}${typed(it.fill, "ml")}`,
      it.pieces && `${typed(it.pieces, "g")} of it pieces`,
      it.left && `${typed(it.left, "g")} left over`,
      it.portions !== undefined && `${it.portions} portions`,
      it.sample && `mix: ${typed(it.sample.weight, "g")} in ${typed(it.sample.volume, "ml")}`,
      it.cup && `a cup: ${typed(it.cup.mix, "g")} of mix, ${typed(it.cup.product, "g")} of product`,
    ];
    return said.filter(Boolean).join(", ");
  },
  found: (it: DrawShown) => {
    const said: string[] = [];
    if (it.overrun_percent !== null)
      said.push(`overrun ${percent(it.overrun_percent)} (\u00b1${unsureNumber(String(2 * Number(it.overrun_u_percent)))}), ${number(it.product_g_ml)}${NBSP}g/mL with air`);
    else if (it.why) said.push(`no overrun: ${it.why}`);
    if (it.cup_overrun_percent !== null) said.push(`by the cup ${percent(it.cup_overrun_percent)}`);
    return said.join("; ");
  },
  odd: (it: DrawShown) => {
    if (it.impossible) return "It would be denser than its own mix. Look at weight and volume.";
    return it.disagrees ? "The two overruns do not agree. Look at what was entered." : "";
  },
  facts: (it: Yield): [string, string][] => {
    const { total, cost } = it;
    const loss =
      total.loss_g === null
        ? "not known: it needs the weight of every draw"
        : total.told === "loss" || total.told === "more came out than went in"
          ? `${massWithUnit(total.loss_g)}, ${percent(total.loss_percent ?? "")} (\u00b1${unsureWithUnit(String(2 * Number(total.loss_u_g)))})`
          : `none that can be told (${massWithUnit(total.loss_g)} \u00b1${unsureWithUnit(String(2 * Number(total.loss_u_g)))})`;
    const portion = total.portion && [total.portion.g && massWithUnit(total.portion.g), total.portion.ml && `${number(total.portion.ml)}${NBSP}mL`].filter(Boolean).join(", ");
    const rows: [string, string | null][] = [
      ["Weighed in", `${massWithUnit(total.in_g)}`],
      ["Drawn, of mix", total.drawn_g === null ? null : `${massWithUnit(total.drawn_g)}`],
      ["Left over", Number(total.left_g) > 0 ? `${massWithUnit(total.left_g)}` : null],
      [it.status === "in process" ? "Not drawn so far" : "Lost", it.draws.length > 0 ? loss : null],
      ["Volume drawn", total.product_ml === null ? null : `${number((Number(total.product_ml) / 1000).toFixed(2))}${NBSP}L`],
      ["Overrun in all", total.overrun_percent === null ? null : percent(total.overrun_percent)],
      ["Portions", total.portions === 0 ? null : `${total.portions}${portion ? `, each ${portion}` : ""}`],
      ["Cost of a portion", money(cost.per_portion)],
      ["Cost of a litre", money(cost.per_litre)],
      ["Mix without air", it.density_g_ml === null ? "density not known" : `${number(it.density_g_ml)}${NBSP}g/mL, ${it.density}`],
    ];
    return rows.flatMap(([name, value]): [string, string][] => (value ? [[name, value]] : []));
  },
  gained: (it: Yield) =>
    it.total.told === "more came out than went in" ? "More came out than went in, by more than weighing can explain. Something was entered wrong: put it right." : "",
  prices: (it: Yield) => {
    if (it.cost.per_portion === null && it.cost.per_litre === null) return "";
    const since = it.cost.date ? ` They stand since ${it.cost.date}.` : "";
    return `Cost is that of all that was weighed in, by today's prices.${since}${it.cost.pieces ? " The pieces are not in it." : ""}`;
  },
  ceiling: (it: Yield) =>
    it.ceilings.map((one) => `At most ${number(one.overrun_percent)}${NBSP}% overrun keeps it at ${number(one.least_g_ml)}${NBSP}kg/L (${one.source}).`),
} as const;
