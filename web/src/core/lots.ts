// Lots of goods: what the station says of them, and every word of their screens.

import { day, massWithUnit, number } from "./numbers.ts";
import { shared, type Elsewhere, type Looked } from "./shared.ts";

export type Fit = "good" | "past best before" | "expired" | "blocked" | "used up";

export interface Lot extends Elsewhere {
  lot: string;
  ingredient: string;
  name: string;
  supplier: string;
  supplier_lot: string;
  gtin: string;
  made_in: string;
  document: string;
  note: string;
  temperature_c: string;
  quantity_g: string;
  left_g: string;
  wasted_g: string;
  use_by: string;
  best_before: string;
  days_left: number | null;
  opened: string;
  keeps_days: number | null;
  blocked: string;
  used_up: string;
  received: string;
  by: string;
  fit: Fit;
}

export interface Told {
  seq: number;
  kind: string;
  at: string;
  by?: string;
  reason?: string;
  station?: string;
  over_g?: string;
  count_g?: string;
  waste_g?: string;
  keeps_days?: number;
}

export interface Scan {
  is: "lot" | "ingredient" | "unknown" | "misread";
  text: string;
  misread: string;
  lot: string;
  ingredient: string;
  name: string;
  gtin: string;
  supplier_lot: string;
  use_by: string;
  best_before: string;
  net_g: string | null;
  packs: number | null;
  current: { addition: number; fits: boolean; refusal: { code: string; detail: string; remedy: string } | null } | null;
}

export interface Trace extends Looked {
  lot: string;
  known: Lot | null;
  forward: {
    batch: string;
    name: string;
    depth: number;
    g: string;
    batch_g: string;
    percent: string;
    through: { lot: string; g: string }[];
    made: string;
    operator: string;
    /** Where what is in it is now, in grams of the lot. */
    passed_g: string;
    in_stock_g: string;
    wasted_g: string;
    out_g: string;
  }[];
  back: { lot: string; ingredient: string; name: string; depth: number; g: string; made: boolean; supplier: string }[];
  circles: string[];
  sums: { in_stock_g: string; wasted_g: string; out_g: string };
  tell: { who: string; why: string; of: string }[];
  took_ms: number;
  balance: null | {
    received_g: string;
    used_g: string;
    u_used_g: string;
    wasted_g: string;
    left_g: string;
    difference_g: string | null;
    adds_up: boolean | null;
  };
}

/** The lot to take first for the addition on the board. */
export interface FirstOut {
  lot: string;
  left_g: string;
  enough: boolean;
  use_by: string;
  best_before: string;
  opened: boolean;
}

export const ACTS = ["open", "count", "waste", "block", "release", "use up"] as const;
export type Act = (typeof ACTS)[number];

/** What can be done to a lot as it stands. */
export function offered(it: Lot): Act[] {
  return ACTS.filter((act) => {
    if (act === "open") return !it.opened && !it.used_up;
    if (act === "block") return !it.blocked;
    if (act === "release") return it.blocked !== "";
    if (act === "use up") return !it.used_up;
    return true;
  });
}

/** The body of what is sent for an act. */
export function bodyOf(act: Act, amount: string, reason: string, by: string): object {
  if (act === "count" || act === "waste") return { do: "adjust", [`${act}_g`]: amount.trim(), reason: reason.trim(), by };
  return { do: act, by, ...(act === "open" || act === "use up" ? {} : { reason: reason.trim() }) };
}

const days = (n: number) => {
  if (n < 0) return n === -1 ? "since yesterday" : `${-n} days ago`;
  return n === 0 ? "today" : n === 1 ? "tomorrow" : `in ${n} days`;
};

const fits: Record<Fit, string> = {
  good: "Good",
  "past best before": "Past best before",
  expired: "Expired",
  blocked: "Blocked",
  "used up": "Used up",
};

const kinds: Record<string, string> = {
  "lot received": "Received",
  "lot opened": "Opened",
  "lot blocked": "Blocked",
  "lot released": "Released",
  "lot adjusted": "Stock put right",
  "lot used up": "Used up",
  "lot overdrawn": "Overdrawn",
};

export const terms = { fits, kinds };

export const lots = {
  nav: "Lots",
  title: "Lots",
  lead: "What is in the house, soonest to expire first. Scan a code at any time.",
  search: "Search: a name, a code, a supplier",
  none: "No lots yet. Receive the first goods.",
  notFound: "No lot has that in it.",
  gone: "Also those used up",
  receive: "Receive goods",
  trace: "Trace a lot",
  label: "Label",
  fit: (fit: Fit) => fits[fit],
  left: (it: { left_g: string }) =>
    it.left_g.startsWith("-") ? `${massWithUnit(it.left_g.slice(1))} more weighed than was there` : `${massWithUnit(it.left_g)} left`,
  ends: (it: Pick<Lot, "use_by" | "best_before" | "days_left">) => {
    const told = it.use_by && (!it.best_before || it.use_by <= it.best_before) ? `Use by ${day(it.use_by)}` : it.best_before ? `Best before ${day(it.best_before)}` : "No date";
    return it.days_left === null ? told : `${told} (${days(it.days_left)})`;
  },
  /** The same in the middle of a sentence. */
  endsIn: (it: Pick<Lot, "use_by" | "best_before" | "days_left">): string => {
    const said = lots.ends(it);
    return said.charAt(0).toLowerCase() + said.slice(1);
  },
  facts: {
    left: "Left",
    received: "Received",
    used: "Weighed out",
    elsewhere: shared.elsewhere,
    wasted: "Thrown away",
    useBy: "Use by",
    best: "Best before",
    opened: "Opened",
    supplier: "Supplier",
    supplierLot: "Supplier's lot",
    temperature: "At receipt",
    document: "Document",
    note: "Note",
    gtin: "Trade number",
    madeIn: "Made in batch",
    blocked: "Blocked",
  },
  keeps: (at: string, keeps: number | null) => (keeps === null ? at : `${at}, keeps ${keeps} days`),
  history: "What was done",
  told: (it: Told) =>
    [
      kinds[it.kind] ?? it.kind,
      it.count_g === undefined ? "" : `counted ${massWithUnit(it.count_g)}`,
      it.waste_g === undefined ? "" : `thrown away ${massWithUnit(it.waste_g)}`,
      it.keeps_days === undefined ? "" : `keeps ${it.keeps_days} days`,
      it.over_g === undefined ? "" : `${massWithUnit(it.over_g)} more drawn than there was`,
      it.reason ?? "",
      it.station === undefined ? "" : `at ${it.station}`,
    ]
      .filter(Boolean)
      .join(", "),
  act: {
    open: "Open it",
    count: "Count it",
    waste: "Throw some away",
    block: "Block it",
    release: "Release it",
    "use up": "It is used up",
  } satisfies Record<Act, string>,
  amount: { count: "What is there", waste: "What was thrown away" },
  amountHint: "like 3.2 kg",
  reason: "Why? It stays in the record.",
  by: "Who",
  do: "Do it",
  form: {
    title: "Receive goods",
    lead: "Scan the code on the pack, or type.",
    made: "What a batch made",
    ingredient: "Ingredient",
    choose: "Choose one",
    quantity: "How much",
    quantityHint: "like 25 kg",
    supplier: "Supplier",
    supplierLot: "Lot on the pack",
    gtin: "Trade number",
    useBy: "Use by",
    best: "Best before",
    dayHint: "like 2026-11-30",
    temperature: "Temperature at receipt, °C",
    document: "Delivery note",
    note: "Note",
    lot: "Our code",
    lotHint: "one is made if empty",
    save: "Receive",
    done: (lot: string) => `Received as ${lot}.`,
    scanned: (name: string) => (name ? `Scanned: ${name}.` : "Scanned. Say which ingredient it is."),
  },
  board: {
    take: (it: FirstOut) => `Take ${it.lot}`,
    takeMore: (it: FirstOut) => {
      const ends = it.use_by || it.best_before;
      return [it.enough ? "" : `only ${massWithUnit(it.left_g)} left`, ends ? `to ${day(ends)}` : "", it.opened ? "opened" : ""].filter(Boolean).join(", ");
    },
    next: "It ran out: the rest is from this lot",
    instead: "It was the wrong lot: put it right",
    why: "Why take it all the same?",
  },
  scan: {
    wrong: "Not this one",
    misread: "Misread",
    unknown: "Not known here",
    unknownMore: (text: string) => `Nothing here has the code ${text}. Receive it under Lots, or type the lot.`,
    misreadMore: "Scan it again.",
    ok: "Got it",
  },
  traced: {
    title: "Trace",
    lead: "A lot's code, ours or the supplier's, or a batch.",
    field: "Code",
    go: "Trace",
    forward: "It went into",
    nowhere: "It went into nothing yet.",
    back: "It was made of",
    share: (g: string, batch_g: string, percent: string) => `${massWithUnit(g)} in ${massWithUnit(batch_g)}, ${number(percent)}\u00a0%`,
    through: (through: { lot: string; g: string }[]) => `by way of ${through.map((it) => `${it.lot} (${massWithUnit(it.g)})`).join(", ")}`,
    noLot: "no lot named",
    made: "made here",
    sheet: "Recall sheet (PDF)",
    table: "Recall sheet (CSV)",
    drill: "Mock recall (PDF)",
    took: (n: number, ms: number) => `${n === 1 ? "1 batch" : `${n} batches`}, found in ${ms} ms.`,
    where: (it: Trace["forward"][number]) =>
      [
        it.passed_g !== "0" && `${massWithUnit(it.passed_g)} passed on`,
        it.in_stock_g !== "0" && `${massWithUnit(it.in_stock_g)} still in stock`,
        it.wasted_g !== "0" && `${massWithUnit(it.wasted_g)} thrown away`,
        it.out_g !== "0" && `${massWithUnit(it.out_g)} out`,
      ]
        .filter(Boolean)
        .join(", "),
    sums: (it: Trace["sums"]) =>
      `Of what was used, ${massWithUnit(it.in_stock_g)} are still here in what was made, ${massWithUnit(it.wasted_g)} were thrown away, ${massWithUnit(it.out_g)} are out.`,
    tell: "Who to tell",
    why: (why: string) => (why === "supplier" ? "supplied it" : "made it"),
    tellHint: "As far as the record knows them; whom else, and when, your local rules say.",
    circle: (code: string) => `${code} leads back to itself: a code was mistyped.`,
    balance: "Does it add up?",
    sum: (it: NonNullable<Trace["balance"]>) =>
      `Received ${massWithUnit(it.received_g)}; weighed out ${massWithUnit(it.used_g)}, thrown away ${massWithUnit(it.wasted_g)}, left ${massWithUnit(it.left_g)} by the books.`,
    counted: (it: NonNullable<Trace["balance"]>) => {
      if (it.difference_g === null) return "Nobody counted what is left, so no difference can show. Count it.";
      const doubt = 2 * Number(it.u_used_g);
      const said = it.adds_up ? "It adds up" : "It does not add up";
      return `${said}: counts found ${massWithUnit(it.difference_g)} missing, and what was weighed is known to ±${massWithUnit(doubt.toFixed(2))}.`;
    },
  },
};
