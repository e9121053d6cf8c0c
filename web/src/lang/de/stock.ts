// Lots, what stations share, corrections, trends, heads.

import { day, massWithUnit, number, signedNumber, signedWithUnit, stamp } from "../../core/numbers.ts";
import { millimetres } from "../../core/labels.ts";
import type { TextsOf } from "../../core/texts.ts";
import { foreign, same } from "../../core/translation.ts";

const days = (n: number) => {
  if (n < 0) return n === -1 ? "seit gestern" : `vor ${-n} Tagen`;
  return n === 0 ? "heute" : n === 1 ? "morgen" : `in ${n} Tagen`;
};

const kinds: Record<string, string> = {
  "lot received": "Erhalten",
  "lot opened": "Angebrochen",
  "lot blocked": "Gesperrt",
  "lot released": "Freigegeben",
  "lot adjusted": "Bestand berichtigt",
  "lot used up": "Aufgebraucht",
  "lot overdrawn": "Überzogen",
};

export const lotsTerms: TextsOf<"lotsTerms"> = {
  fits: { good: "Gut", "past best before": "Mindesthaltbarkeit vorbei", expired: "Abgelaufen", blocked: "Gesperrt", "used up": "Aufgebraucht" },
  kinds,
};

const ends = (it: { use_by: string; best_before: string; days_left: number | null }): string => {
  const told =
    it.use_by && (!it.best_before || it.use_by <= it.best_before)
      ? `Zu verbrauchen bis ${day(it.use_by)}`
      : it.best_before
        ? `Mindestens haltbar bis ${day(it.best_before)}`
        : "Kein Datum";
  return it.days_left === null ? told : `${told} (${days(it.days_left)})`;
};

export const lots: TextsOf<"lots"> = {
  nav: "Lose",
  title: "Lose",
  lead: "Was im Haus ist; was zuerst abläuft, zuerst. Ein Code lässt sich jederzeit scannen.",
  search: "Suchen: Name, Code, Lieferant",
  none: "Noch keine Lose. Die ersten Waren annehmen.",
  notFound: "Kein Los enthält das.",
  gone: "Auch aufgebrauchte",
  receive: "Waren annehmen",
  trace: "Los verfolgen",
  label: "Etikett",
  fit: same,
  left: (it) => (it.left_g.startsWith("-") ? `${massWithUnit(it.left_g.slice(1))} mehr gewogen, als da war` : `${massWithUnit(it.left_g)} übrig`),
  ends,
  endsIn: (it) => {
    const said = ends(it);
    return said.charAt(0).toLowerCase() + said.slice(1);
  },
  facts: {
    left: "Übrig",
    received: "Erhalten",
    used: "Ausgewogen",
    wasted: "Weggeworfen",
    useBy: "Zu verbrauchen bis",
    best: "Mindestens haltbar bis",
    opened: "Angebrochen",
    supplier: "Lieferant",
    supplierLot: "Los des Lieferanten",
    temperature: "Bei Annahme",
    document: "Beleg",
    note: "Notiz",
    gtin: "Artikelnummer",
    madeIn: "Hergestellt in Charge",
    blocked: "Gesperrt",
    elsewhere: "Anderswo entnommen",
  },
  keeps: (at, keeps) => (keeps === null ? at : `${at}, hält ${keeps} Tage`),
  history: "Was geschah",
  told: (it) =>
    [
      kinds[it.kind] ?? it.kind,
      it.count_g === undefined ? "" : `gezählt ${massWithUnit(it.count_g)}`,
      it.waste_g === undefined ? "" : `weggeworfen ${massWithUnit(it.waste_g)}`,
      it.over_g === undefined ? "" : `${massWithUnit(it.over_g)} mehr entnommen, als da war`,
      it.station === undefined ? "" : `in ${it.station}`,
      it.keeps_days === undefined ? "" : `hält ${it.keeps_days} Tage`,
      it.reason ?? "",
    ]
      .filter(Boolean)
      .join(", "),
  act: {
    open: "Anbrechen",
    count: "Zählen",
    waste: "Etwas wegwerfen",
    block: "Sperren",
    release: "Freigeben",
    "use up": "Ist aufgebraucht",
  },
  amount: { count: "Was da ist", waste: "Was weggeworfen wurde" },
  amountHint: "wie 3,2 kg",
  reason: "Warum? Es bleibt im Protokoll.",
  by: "Wer",
  do: "So machen",
  form: {
    title: "Waren annehmen",
    lead: "Code auf der Packung scannen, oder eingeben.",
    made: "Was eine Charge ergab",
    ingredient: "Zutat",
    choose: "Eine wählen",
    quantity: "Wie viel",
    quantityHint: "wie 25 kg",
    supplier: "Lieferant",
    supplierLot: "Los auf der Packung",
    gtin: "Artikelnummer",
    useBy: "Zu verbrauchen bis",
    best: "Mindestens haltbar bis",
    dayHint: "wie 2026-11-30",
    temperature: "Temperatur bei Annahme, °C",
    document: "Lieferschein",
    note: "Notiz",
    lot: "Eigener Code",
    lotHint: "leer: wird vergeben",
    save: "Annehmen",
    done: (lot) => `Angenommen als ${lot}.`,
    scanned: (name) => (name ? `Gescannt: ${name}.` : "Gescannt. Angeben, welche Zutat es ist."),
  },
  board: {
    take: (it) => `${it.lot} nehmen`,
    takeMore: (it) => {
      const until = it.use_by || it.best_before;
      return [it.enough ? "" : `nur ${massWithUnit(it.left_g)} übrig`, until ? `bis ${day(until)}` : "", it.opened ? "angebrochen" : ""].filter(Boolean).join(", ");
    },
    next: "Ging aus: Der Rest ist aus diesem Los",
    instead: "War das falsche Los: berichtigen",
    why: "Warum es trotzdem nehmen?",
  },
  scan: {
    wrong: "Nicht dieses",
    misread: "Verlesen",
    unknown: "Hier nicht bekannt",
    unknownMore: (text) => `Nichts hier hat den Code ${text}. Unter Lose annehmen, oder das Los eingeben.`,
    misreadMore: "Noch einmal scannen.",
    ok: "Verstanden",
  },
  traced: {
    title: "Verfolgen",
    lead: "Code eines Loses, eigener oder der des Lieferanten, oder eine Charge.",
    field: "Code",
    go: "Verfolgen",
    forward: "Ging in",
    nowhere: "Ging noch nirgends hinein.",
    back: "Wurde gemacht aus",
    share: (g, batch_g, percent) => `${massWithUnit(g)} in ${massWithUnit(batch_g)}, ${number(percent)}\u00a0%`,
    through: (through) => `über ${through.map((it) => `${it.lot} (${massWithUnit(it.g)})`).join(", ")}`,
    noLot: "kein Los angegeben",
    made: "hier hergestellt",
    sheet: "Rückrufblatt (PDF)",
    table: "Rückrufliste (CSV)",
    drill: "Rückrufübung (PDF)",
    took: (n, ms) => `${n === 1 ? "1 Charge" : `${n} Chargen`}, in ${number(String(ms))}\u00a0ms gefunden.`,
    where: (it) =>
      [
        it.passed_g !== "0" && `${massWithUnit(it.passed_g)} weitergegeben`,
        it.in_stock_g !== "0" && `${massWithUnit(it.in_stock_g)} noch da`,
        it.wasted_g !== "0" && `${massWithUnit(it.wasted_g)} weggeworfen`,
        it.out_g !== "0" && `${massWithUnit(it.out_g)} außer Haus`,
      ]
        .filter(Boolean)
        .join(", "),
    sums: (it) =>
      `Vom Verbrauchten sind ${massWithUnit(it.in_stock_g)} in Hergestelltem noch da, ${massWithUnit(it.wasted_g)} weggeworfen, ${massWithUnit(it.out_g)} außer Haus.`,
    tell: "Wem es zu sagen ist",
    why: (why) => (why === "supplier" ? "hat geliefert" : "hat hergestellt"),
    tellHint: "Soweit das Protokoll sie kennt; wem noch, und wann, sagen die örtlichen Vorschriften.",
    circle: (code) => `${code} führt auf sich selbst zurück: Ein Code ist vertippt.`,
    balance: "Geht es auf?",
    sum: (it) =>
      `Erhalten ${massWithUnit(it.received_g)}; ausgewogen ${massWithUnit(it.used_g)}, weggeworfen ${massWithUnit(it.wasted_g)}, nach den Büchern übrig ${massWithUnit(it.left_g)}.`,
    counted: (it) => {
      if (it.difference_g === null) return "Niemand hat den Rest gezählt, also kann sich keine Differenz zeigen. Zählen.";
      const doubt = 2 * Number(it.u_used_g);
      const said = it.adds_up ? "Es geht auf" : "Es geht nicht auf";
      return `${said}: Gezählt fehlen ${massWithUnit(it.difference_g)}, und das Gewogene ist auf ±${massWithUnit(doubt.toFixed(2))} bekannt.`;
    },
  },
};

const drew = (it: { station: string; g: string }) => `${it.station} ${massWithUnit(it.g)}`;

export const shared: TextsOf<"shared"> = {
  at: (station) => `erhalten in ${station}`,
  elsewhere: "Anderswo entnommen",
  drewAt: same,
  over: (it) =>
    it.over_g !== "0" && it.elsewhere.length > 0
      ? `${massWithUnit(it.over_g)} mehr entnommen, als da war: ${[`hier ${massWithUnit(it.used_g)}`, ...it.elsewhere.map(drew)].join(", ")}. Zählen, und nachsehen, wer es hat.`
      : "",
  heard: (it, when) =>
    it.cut_off
      ? it.heard_at
        ? `Von den anderen Stationen getrennt: Was sie taten, ist bis ${when} bekannt.`
        : "Von den anderen Stationen getrennt: Von ihnen ist noch nichts bekannt."
      : "",
  looked: (it) => (it.everywhere ? `Nachgesehen in: ${(it.stations ?? []).join(", ")}.` : foreign(it.said ?? "")),
  twice: (it) =>
    (it.owners ?? []).length > 1 ? `Lose mit diesem Code wurden erhalten in ${it.owners!.join(" und ")}: CODE@STATION meint eines davon.` : "",
  title: "Von anderen Stationen",
  lead: "Was andere veröffentlicht haben. Die eigenen Dateien der Küche bleiben, wie sie sind.",
  from: (it, when) => `${it.by} in ${it.station}, ${when}`,
  own: { none: "", same: "", differs: "Die eigene der Küche ist eine andere." },
  chosen: { new: "Noch nicht übernommen", taken: "Kann hier gewogen werden", left: "Nicht übernommen" },
  take: "Übernehmen",
  leave: "Nicht übernehmen",
  down: "von einer anderen Station",
  publish: "Für alle Stationen veröffentlichen",
  publishing: "Wird veröffentlicht\u2026",
  published: (n) => `Veröffentlicht, Nummer ${n}. Alle Stationen erfahren davon.`,
  already: "Das zuletzt Veröffentlichte ist schon dieses.",
  saveFirst: "Erst speichern.",
  who: "Sag, wer du bist.",
};

const fields: Record<string, string> = { lot: "Los", operator: "Gewogen von", reason: "Begründung", note: "Notiz", vessel: "Gefäß" };

export const correctionsTerms: TextsOf<"correctionsTerms"> = {
  kinds: {
    "batch opened": "Charge begonnen",
    tared: "Gefäß tariert",
    held: "Angehalten",
    decided: "Entschieden",
    resumed: "Weitergemacht",
    "addition accepted": "Angenommen",
    "lot named": "Los angegeben",
    "put right": "Zugabe in Ordnung gebracht",
    "batch closed": "Charge fertig",
    "batch abandoned": "Charge abgebrochen",
    "step begun": "Schritt begonnen",
    "temperature entered": "Temperatur eingetragen",
    "temperature struck out": "Temperatur gestrichen",
    "step ended": "Schritt beendet",
    "step decided": "Schritt entschieden",
    "step noted": "Notiz zu einem Schritt",
    "yield recorded": "Entnahme aufgezeichnet",
  },
  fields,
};

export const corrections: TextsOf<"corrections"> = {
  open: "Berichtigen\u2026",
  openOf: (what) => `${what} berichtigen`,
  title: (what) => `Berichtigen: ${what}`,
  lead: "Nichts wird überschrieben: Was hier stand, bleibt im Protokoll, und das Neue steht daneben.",
  which: "Was war falsch?",
  field: (name) => {
    const part = /^lot (\d+)$/.exec(name);
    return part ? `Los ${part[1]}` : (fields[name] ?? name);
  },
  nothing: "nichts",
  stands: "Was jetzt dasteht",
  new: "Wie es heißen soll",
  newHint: (field) => (field.startsWith("lot") ? "eingeben oder scannen; leer für keines" : ""),
  why: "Warum?",
  whyHint: "bleibt im Protokoll",
  by: "Wer berichtigt?",
  confirm: "Es kam trotzdem hinein",
  confirmHint: "Ein Rückruf braucht die Wahrheit: Im Protokoll steht dann, dass es verwendet wurde, obwohl es nicht sollte.",
  send: "Berichtigen",
  sending: "Wird berichtigt\u2026",
  done: (field) => `Berichtigt: ${field}.`,
  times: (n) => (n === 1 ? "berichtigt" : `${n}-mal berichtigt`),
  section: "Was nachträglich berichtigt wurde",
  none: "Bisher nichts.",
  more: "Was sich noch berichtigen lässt",
  moreHint: "Was aus Waage, Thermometer oder Uhr folgt, lässt sich nicht von Hand berichtigen.",
  about: same,
  of: (what, field) => `${what}: ${field}`,
  whenWho: (it) => `${stamp(it.at)}, ${it.by}`,
  although: (code) => (code ? `obwohl: ${although[code] ?? code}` : ""),
};

const although: Record<string, string> = { "lot-blocked": "Los gesperrt", "lot-expired": "Los abgelaufen", "lot-used-up": "Los aufgebraucht", "other-ingredient": "andere Zutat" };

export const labels: TextsOf<"labels"> = {
  nav: "Etiketten",
  title: (id) => `Etiketten: ${id}`,
  of: "Wovon",
  ofBatch: "von der Charge",
  ofDraws: (n) => (n === 1 ? "vom entnommenen Behälter" : `von jedem der ${n} entnommenen Behälter`),
  copies: "Wie viele",
  each: "Inhalt je Behälter",
  eachHint: (net) => (net ? `wie 250 g; alles zusammen: ${net}` : "wie 250 g"),
  size: "Größe",
  sizeOf: (size) => {
    const [one, sheet] = size.split(/\s+on\s+/);
    return sheet ? `${millimetres(one!)}, mehrere auf ${millimetres(sheet.split(/\s+gap\s+/)[0]!)}` : millimetres(one!);
  },
  print: "Drucken",
  pdf: "Als PDF",
  count: (many, sheets) =>
    `${many === 1 ? "1 Etikett" : `${many} Etiketten`} auf ${sheets === 1 ? "1 Seite" : `${sheets} Seiten`}. In voller Größe (100 %) und ohne Ränder drucken.`,
  notInFonts: (some) =>
    `Das PDF hat kein Bild von ${some.slice(0, 20).join(" ")} und druckt dafür Zahlen. Von hier aus drucken: Der Browser hat eigene Schriften.`,
  tooSmall: "In lesbaren Buchstaben passt nicht alles darauf. Ein größeres Etikett wählen.",
  legal: "Allergene sind die, die bei den Zutaten stehen: Die Etiketten der Waren entscheiden, und was auf ein Etikett gehört, sagen die örtlichen Vorschriften. Nicht nach diesen Gewichten verkaufen.",
  back: "Zurück",
};

const percent = (value: number) => `${signedNumber(value.toFixed(2))}\u00a0%`;

export const trendsTerms: TextsOf<"trendsTerms"> = {
  rules: {
    "one beyond 3 sigma": (up) => `eine weit ${up ? "über" : "unter"} dem Üblichen`,
    "2 of 3 beyond 2 sigma, on one side": (up) => `zwei von drei deutlich ${up ? "über" : "unter"} dem Üblichen`,
    "4 of 5 beyond 1 sigma, on one side": (up) => `vier von fünf ${up ? "über" : "unter"} dem Üblichen`,
    "8 in a row on one side": (up) => `acht in Folge ${up ? "über" : "unter"} dem Mittel`,
    "6 in a row up or down": (up) => `sechs in Folge, jede ${up ? "über" : "unter"} der davor`,
    "a step larger than steps usually are": (up) => `ein plötzlicher Schritt nach ${up ? "oben" : "unten"}`,
  },
};

export const trends: TextsOf<"trends"> = {
  title: "Wie gut gewogen wird",
  open: "Wie gut gewogen wird",
  lead: "Jede Wägung als Anteil des Erlaubten, über Chargen jeder Größe. Was sich geändert hat, steht zuerst.",
  by: { ingredient: "Zutaten", scale: "Waagen", operator: "Personen" },
  byLabel: "Zeigen",
  none: "Noch nichts gewogen.",
  weighings: (n) => (n === 1 ? "1 Wägung" : `${n} Wägungen`),
  steady: { yes: "Stetig", no: "Hat sich geändert", unknown: "Zu wenige" },
  few: "Weniger als 20 Wägungen sagen wenig über das Übliche.",
  facts: {
    bias: "Liegt meist daneben um:",
    room: "Platz bis zu den Grenzen",
    over: "Über das Soll zugegeben",
    out: "Außerhalb der Toleranz",
    scale: "Der Zweifel der Waage selbst",
  },
  bias: (it) =>
    it === null ? "nicht bekannt" : it.sure ? percent(it.mean) : `nichts, was sich sagen ließe (${percent(it.low)} bis ${percent(it.high)})`,
  room: (it) => {
    if (it === null) return "nicht bekannt";
    if (it.cpk === null) return "mehr als genug";
    return `${number(it.cpk.toFixed(2))}, ${it.cpk >= 1.33 ? "reichlich" : it.cpk >= 1 ? "gerade genug" : "zu wenig"}`;
  },
  roomNote: "Platz 1: Die Grenzen liegen dreimal die übliche Streuung entfernt. Ab 1,33 ist er reichlich (gängige Praxis, keine Quelle).",
  over: (g, cost) => massWithUnit(g) + (cost === null ? "" : `, nach heutigen Preisen ${number(cost)} wert`),
  out: (n, of) => (n === 0 ? "keine" : `${n} von ${of}`),
  sure: (share) => (share === null ? "nicht bekannt" : `${Math.round(share * 100)}\u00a0% des Erlaubten`),
  signal: (it, of) => `${trendsTerms.rules?.[it.rule] ? (trendsTerms.rules[it.rule] as (up: boolean) => string)(it.up) : it.rule} (Wägung ${it.at + 1} von ${of})`,
  chart: (name, n) => `Diagramm von ${n} Wägungen, ${name}, die ältesten links`,
  plots: (name) => `Diagramme: ${name}; die Pfeiltasten gehen von Wägung zu Wägung`,
  captions: { values: "Jede Wägung als Anteil des Erlaubten", moves: "Wie weit sie von der davor entfernt liegt" },
  movesChart: (name) => `Diagramm, wie weit jede Wägung von der davor entfernt liegt: ${name}`,
  share: (share) => `${number(String(Math.round(share * 100)))}\u00a0%`,
  point: {
    none: "Auf eine Wägung zeigen oder die Pfeiltasten drücken, um sie hier zu lesen. Ziehen vergrößert, zweimal drücken zeigt wieder alles.",
    told: (n, of, at, verdict, p) =>
      `${verdict}: ${massWithUnit(p.net_g)} von ${massWithUnit(p.target_g)}, ${signedWithUnit(p.off_g)} daneben. ${n} von ${of}, ${at}.`,
  },
  legend: {
    allowed: "was erlaubt ist",
    usual: "was hier üblich ist",
    good: "im Soll",
    bad: "nicht im Soll",
    out: "fällt auf",
    far: "weiter draußen als gezeigt",
  },
  list: "Jede Wägung",
  columns: { when: "Wann", batch: "Charge", target: "Soll", net: "Netto", off: "Daneben", verdict: "Urteil" },
  back: "Alle",
};

export const head: TextsOf<"head"> = {
  title: (day) => (day ? `Kopf vom ${day}` : "Noch kein Tageskopf"),
  about: (entries) => `Er steht für ${entries} ${entries === 1 ? "Eintrag" : "Einträge"}.`,
  what: "In ein Buch abgeschrieben zeigt er, wenn früher Aufgezeichnetes umgeschrieben wurde.",
  missed: (days) => `Er steht auch für ${days}, als die Station nicht lief.`,
  problem: (why) => `Er ist nicht dort, wo er sein soll: ${foreign(why)}`,
  next: (at) => `Der nächste wird gemacht: ${at}.`,
};
