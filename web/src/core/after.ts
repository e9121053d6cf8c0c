// After a batch: what went in beside its plan, and what can be done with it now. The other words are in
// words.ts and the files it names.

export const after = {
  went: "What went in",
  cols: { name: "Ingredient", planned: "Planned", weighed: "Weighed", off: "Difference" },
  then: (first: string, rest: string[]) => (rest.length === 0 ? first : `${first}, then ${rest.join(", ")}`),
  again: "Make it again",
  forms: "Other forms",
};

/** Where a batch is made again: its formula, and its size as it was asked for. */
export interface Again {
  formula: string;
  size: string;
  steps: boolean;
}

/** What the first entry of a batch says of that; null where it names no formula. */
export function againOf(first: Record<string, unknown>): Again | null {
  const of = (it: unknown) => (typeof it === "object" && it !== null ? (it as Record<string, unknown>) : {});
  const [formula, size] = [of(first["formula"])["id"], of(first["size"])];
  if (typeof formula !== "string" || !formula) return null;
  const asked = size["by"] !== "mass" && typeof size["asked"] === "string" ? size["asked"] : first["batch_g"];
  return { formula, size: typeof asked === "string" ? asked : "", steps: Array.isArray(size["rounded"]) };
}
