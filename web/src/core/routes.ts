// Addresses within the page: what stands after the #.

import type { FirstStep } from "./first.ts";
import { BYS, type By } from "./trends.ts";

export type Route =
  | { screen: "bench" }
  | { screen: "start"; formula: string | null; size: string; steps: boolean }
  | { screen: "first"; step: FirstStep | null }
  | { screen: "process"; batch: string | null }
  | { screen: "records" }
  | { screen: "record"; batch: string }
  | { screen: "check"; scale: string }
  | { screen: "scales" }
  | { screen: "settings" }
  | { screen: "find" }
  | { screen: "floor" }
  | { screen: "wall"; on: boolean }
  | { screen: "formulas" }
  | { screen: "formula"; formula: string; up?: string }
  | { screen: "revisions"; formula: string }
  | { screen: "both"; formula: string; then: string; now: string }
  | { screen: "new-formula"; like: string | null }
  | { screen: "ingredients" }
  | { screen: "ingredient"; ingredient: string }
  | { screen: "new-ingredient"; like: string | null }
  | { screen: "ingredient-table" }
  | { screen: "ingredient-file" }
  | { screen: "limits"; kind: string | null }
  | { screen: "people" }
  | { screen: "devices" }
  | { screen: "lots" }
  | { screen: "lot"; lot: string }
  | { screen: "receive" }
  | { screen: "trace"; lot: string }
  | { screen: "labels"; of: "batch" | "lot"; id: string }
  | { screen: "trends"; by: By }
  | { screen: "trend"; by: By; of: string };

const FIRST = ["scale", "you", "formula", "add"] as const satisfies readonly FirstStep[];

export function readRoute(hash: string): Route {
  const parts = hash.replace(/^#\/?/, "").split("/").map(plain);
  const [screen, id] = parts;
  if (screen === "start") return { screen: "start", formula: id || null, size: parts[2] ?? "", steps: parts[3] === "steps" };
  if (screen === "first") return { screen, step: FIRST.find((one) => one === id) ?? null };
  if (screen === "process") return { screen: "process", batch: id || null };
  if (screen === "records" && id) return { screen: "record", batch: id };
  if (screen === "records") return { screen: "records" };
  const by = BYS.find((one) => one === id) ?? "ingredient";
  if (screen === "trends" && parts[2]) return { screen: "trend", by, of: parts[2] };
  if (screen === "trends") return { screen: "trends", by };
  if (screen === "scales" && id && parts[2] === "check") return { screen: "check", scale: id };
  if (screen === "scales" || screen === "settings" || screen === "floor" || screen === "find") return { screen };
  if (screen === "wall") return { screen, on: id === "on" };
  if (screen === "formula" && id) return parts[2] === "again" && parts[3] ? { screen, formula: id, up: parts[3] } : { screen, formula: id };
  if (screen === "revisions" && id && parts[2]) return { screen: "both", formula: id, then: parts[2], now: parts[3] || "now" };
  if (screen === "revisions" && id) return { screen: "revisions", formula: id };
  if (screen === "new-formula") return { screen: "new-formula", like: id || null };
  if (screen === "ingredient" && id) return { screen: "ingredient", ingredient: id };
  if (screen === "new-ingredient") return { screen: "new-ingredient", like: id || null };
  if (screen === "limits") return { screen: "limits", kind: id || null };
  if (screen === "lot" && id) return { screen: "lot", lot: id };
  if (screen === "labels" && (id === "batch" || id === "lot") && parts[2]) return { screen, of: id, id: parts[2] };
  if (screen === "trace") return { screen: "trace", lot: id ?? "" };
  if (screen === "lots" || screen === "lot" || screen === "receive") return { screen: screen === "lot" ? "lots" : screen };
  if (screen === "people" || screen === "devices") return { screen };
  if (screen === "formulas" || screen === "ingredients") return { screen };
  if (screen === "ingredient-table" || screen === "ingredient-file") return { screen };
  return { screen: "bench" };
}

function plain(part: string): string {
  try {
    return decodeURIComponent(part);
  } catch {
    return part;
  }
}

export const to = {
  bench: () => "#/",
  /** `size`: as it is typed; `steps`: with its targets at the steps of the scales. */
  start: (formula?: string, size = "", steps = false) =>
    ["#/start", formula && encodeURIComponent(formula), size && encodeURIComponent(size), size && steps && "steps"].filter(Boolean).join("/"),
  first: (step: FirstStep) => `#/first/${step}`,
  process: (batch?: string) => (batch ? `#/process/${encodeURIComponent(batch)}` : "#/process"),
  records: () => "#/records",
  record: (batch: string) => `#/records/${encodeURIComponent(batch)}`,
  trends: (by: By = "ingredient") => `#/trends/${by}`,
  trend: (by: By, of: string) => `#/trends/${by}/${encodeURIComponent(of)}`,
  scales: () => "#/scales",
  settings: () => "#/settings",
  find: () => "#/find",
  people: () => "#/people",
  devices: () => "#/devices",
  floor: () => "#/floor",
  /** `on`: the view itself, and not what comes before it. */
  wall: (on = false) => (on ? "#/wall/on" : "#/wall"),
  lots: () => "#/lots",
  lot: (lot: string) => `#/lot/${encodeURIComponent(lot)}`,
  receive: () => "#/receive",
  labels: (of: "batch" | "lot", id: string) => `#/labels/${of}/${encodeURIComponent(id)}`,
  trace: (lot = "") => (lot ? `#/trace/${encodeURIComponent(lot)}` : "#/trace"),
  formulas: () => "#/formulas",
  formula: (id: string) => `#/formula/${encodeURIComponent(id)}`,
  /** An earlier revision in the editor, to be saved as the newest. */
  takeUp: (id: string, revision: string) => `#/formula/${encodeURIComponent(id)}/again/${encodeURIComponent(revision)}`,
  revisions: (id: string) => `#/revisions/${encodeURIComponent(id)}`,
  both: (id: string, then: string, now = "now") => `#/revisions/${encodeURIComponent(id)}/${encodeURIComponent(then)}/${encodeURIComponent(now)}`,
  newFormula: (like?: string) => (like ? `#/new-formula/${encodeURIComponent(like)}` : "#/new-formula"),
  ingredients: () => "#/ingredients",
  ingredient: (id: string) => `#/ingredient/${encodeURIComponent(id)}`,
  newIngredient: (like?: string) => (like ? `#/new-ingredient/${encodeURIComponent(like)}` : "#/new-ingredient"),
  ingredientTable: () => "#/ingredient-table",
  ingredientFile: () => "#/ingredient-file",
  limits: (kind?: string) => (kind ? `#/limits/${encodeURIComponent(kind)}` : "#/limits"),
  check: (scale: string) => `#/scales/${encodeURIComponent(scale)}/check`,
};
