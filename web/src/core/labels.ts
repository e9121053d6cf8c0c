// Labels of what a batch made, and of goods received: what the station sends, and what is asked of it.

export interface LabelShown {
  name: string;
  code: string;
  facts: [string, string][];
  allergens: string[];
  /** Its allergens behind their word, and which of how many it is, as it is printed. */
  contains: string;
  count: string;
  station: string;
  nth: [number, number] | null;
  scanned: string;
  /** The code as the data of an SVG path, in a square of so many modules. */
  path: string;
  modules: number;
}

export interface Labels {
  size: string;
  sizes: string[];
  mm: { wide: string; high: string };
  sheet: { page: { wide: string; high: string }; across: number; down: number; gap: { across: string; down: string } };
  /** Of a batch: what a form for labels begins with. */
  usual?: { draws: number; containers: number; net: string };
  labels: LabelShown[];
  /** Letters that the fonts of the PDF have no picture of. */
  not_in_fonts: string[];
}

export interface LabelForm {
  of: "batch" | "draws";
  copies: string;
  each: string;
  size: string;
}

/** Where the labels are asked for, by what was chosen. */
export function labelsPath(of: "batch" | "lot", id: string, form: LabelForm): string {
  const asked: Record<string, string> = {};
  if (of === "batch" && form.of === "draws") asked["of"] = "draws";
  else if (form.copies.trim() && form.copies.trim() !== "1") asked["copies"] = form.copies.trim();
  if (of === "batch" && form.each.trim()) asked["each"] = form.each.trim();
  if (form.size) asked["size"] = form.size;
  const query = new URLSearchParams(asked).toString();
  return `api/${of === "batch" ? "batches" : "lots"}/${encodeURIComponent(id)}/labels${query ? `?${query}` : ""}`;
}

export function asPdf(path: string): string {
  return `${path}${path.includes("?") ? "&" : "?"}format=pdf`;
}

/** The page that a browser prints the labels on: without margins, as large as the sheet. */
export function pageRule(it: Labels): string {
  return `@page { size: ${Number(it.sheet.page.wide)}mm ${Number(it.sheet.page.high)}mm; margin: 0; }`;
}

export interface Placed {
  label: LabelShown;
  left: number;
  top: number;
}

/** The labels by sheets, each with its place in mm: in the middle of the sheet, row by row. */
export function placed(it: Labels): Placed[][] {
  const { across, down } = it.sheet;
  const [wide, high] = [Number(it.mm.wide), Number(it.mm.high)];
  const [gapAcross, gapDown] = [Number(it.sheet.gap.across), Number(it.sheet.gap.down)];
  const first = [
    (Number(it.sheet.page.wide) - across * wide - (across - 1) * gapAcross) / 2,
    (Number(it.sheet.page.high) - down * high - (down - 1) * gapDown) / 2,
  ] as const;
  const sheets: Placed[][] = [];
  it.labels.forEach((label, n) => {
    const at = n % (across * down);
    if (at === 0) sheets.push([]);
    sheets[sheets.length - 1]!.push({
      label,
      left: first[0] + (at % across) * (wide + gapAcross),
      top: first[1] + Math.floor(at / across) * (high + gapDown),
    });
  });
  return sheets;
}

/** Letters in points that are tried, the largest first; the least is what can be read (see the documentation). */
export function letters(it: Labels): number[] {
  const least = Number(it.mm.wide) * Number(it.mm.high) >= 8000 ? 8 : 6;
  const out: number[] = [];
  for (let pt = 20; pt >= least; pt -= 0.5) out.push(pt);
  return out;
}

export const millimetres = (pair: string): string => `${pair.replace("x", "\u00a0\u00d7\u00a0")}\u00a0mm`;

/** What stands on a label has one language, that of its country; the station sends its words. */
export const labelFoot = (it: LabelShown): string => [it.station, it.count].filter(Boolean).join(" \u00b7 ");

export const labels = {
  nav: "Labels",
  title: (id: string) => `Labels: ${id}`,
  of: "Of what",
  ofBatch: "the batch",
  ofDraws: (n: number) => (n === 1 ? "the container drawn" : `each of the ${n} containers drawn`),
  copies: "How many",
  each: "Net of each",
  eachHint: (net: string) => (net ? `like 250 g; all of it: ${net}` : "like 250 g"),
  size: "Size",
  sizeOf: (size: string) => {
    const [one, sheet] = size.split(/\s+on\s+/);
    return sheet ? `${millimetres(one!)}, several on ${millimetres(sheet.split(/\s+gap\s+/)[0]!)}` : millimetres(one!);
  },
  print: "Print",
  pdf: "PDF",
  count: (many: number, sheets: number) =>
    `${many === 1 ? "1 label" : `${many} labels`} on ${sheets === 1 ? "1 page" : `${sheets} pages`}. Print at full size (100 %), without margins.`,
  notInFonts: (some: string[]) =>
    `The PDF has no picture of ${some.slice(0, 20).join(" ")} and prints numbers for them. Print from here: the browser has its own fonts.`,
  tooSmall: "Not all of it fits in letters that can be read. Choose a larger label.",
  legal: "Allergens are what the ingredients name: the labels of the goods decide, and your local rules say what a label has to have. Do not sell by these weights.",
  back: "Back",
};
