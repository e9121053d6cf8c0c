import type { TextsOf } from "../../core/texts.ts";

export const after: TextsOf<"after"> = {
  went: "Was hineinkam",
  cols: { name: "Zutat", planned: "Geplant", weighed: "Gewogen", off: "Unterschied" },
  then: (first, rest) => (rest.length === 0 ? first : `${first}, dann ${rest.join(", ")}`),
  again: "Noch einmal machen",
  forms: "Andere Formen",
};
