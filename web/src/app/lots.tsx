// Lots of goods: the list, one lot with what can be done to it, and receiving.

import { useEffect, useRef, useState } from "preact/hooks";
import { undone } from "../core/answers.ts";
import { labels } from "../core/labels.ts";
import { bodyOf, offered, type Act, type Fit, type Lot, type Scan, type Told } from "../core/lots.ts";
import { massWithUnit, when } from "../core/numbers.ts";
import { to } from "../core/routes.ts";
import { shared, type Heard } from "../core/shared.ts";
import { words } from "../core/words.ts";
import { states } from "../core/states.ts";
import { ON_RETURN, useAsked, useSettled } from "./ask.ts";
import { Field, Pick } from "./fields.tsx";
import { NameField } from "./person.tsx";
import { Said } from "./said.tsx";
import { useScans } from "./scanner.ts";
import { Shape, type ShapeName } from "./shapes.tsx";
import { operator, requests } from "./store.ts";
import { Nothing, Trouble, Unanswered } from "./trouble.tsx";

const w = words.lots;
const SHAPES: Record<Fit, ShapeName> = {
  good: "good",
  "past best before": "close",
  expired: "fail",
  blocked: "stop",
  "used up": "waiting",
};

function Standing({ it }: { it: Lot }) {
  return (
    <span class="lot-fit" data-fit={it.fit}>
      <Shape name={SHAPES[it.fit]} />
      {w.fit(it.fit)}
    </span>
  );
}

/** What a scan waits for the receiving form with, while that form opens. */
let waiting: Scan | null = null;

function follow(scan: Scan): void {
  if (scan.is === "lot") location.hash = to.lot(scan.lot);
  else {
    waiting = scan;
    location.hash = to.receive();
  }
}

export function Lots() {
  const [word, type] = useState("");
  const [gone, also] = useState(false);
  const query = new URLSearchParams({ q: useSettled(word.trim()), gone: String(gone) });
  const asked = useAsked<{ lots: Lot[]; shared?: Heard }>(`api/lots?${query}`, ON_RETURN);
  const last = useRef<Lot[] | null>(null);
  const heard = asked.value?.shared;
  useScans(follow);
  if (asked.value) last.current = asked.value.lots;
  if (last.current === null) return <Trouble title={w.title} asked={asked} />;
  return (
    <main class="page lots">
      <h1>{w.title}</h1>
      <p class="note">{w.lead}</p>
      {heard?.cut_off && (
        <p class="lot-head" data-testid="cut-off">
          <Shape name="lost" /> <span>{shared.heard(heard, when(heard.heard_at))}</span>
        </p>
      )}
      <nav class="row lots-more">
        <a class="solid" href={to.receive()}>
          {w.receive}
        </a>
        <a class="plain" href={to.trace()}>
          {w.trace}
        </a>
      </nav>
      <Field label={w.search} name="search" value={word} type={type} />
      <label class="choice">
        <input type="checkbox" checked={gone} onChange={(e) => also(e.currentTarget.checked)} />
        {w.gone}
      </label>
      {last.current.length === 0 && (word.trim() ? <Nothing text={w.notFound} /> : <Nothing text={w.none} more={states.lots} />)}
      <ul class="lot-list">
        {last.current.map((it) => (
          <li key={it.lot}>
            <a class="lot-row" href={to.lot(it.lot)} data-lot={it.lot}>
              <b>{it.name}</b>
              <Standing it={it} />
              <span class="lot-ends">
                <span class="lot-left">{w.left(it)}</span>, {w.endsIn(it)}
              </span>
              <span class="soft">
                {it.lot}
                {it.supplier && `, ${it.supplier}`}
                {it.supplier_lot && `, ${it.supplier_lot}`}
                {it.station && `, ${shared.at(it.station)}`}
              </span>
              {shared.over(it) && (
                <span class="warning" data-testid="overdrawn">
                  <Shape name="warn" /> {shared.over(it)}
                </span>
              )}
            </a>
          </li>
        ))}
      </ul>
    </main>
  );
}

function Do({ it, act, done }: { it: Lot; act: Act; done(): void }) {
  const [amount, weigh] = useState("");
  const [reason, why] = useState("");
  const [by, name] = useState(operator.peek());
  const [said, say] = useState("");
  const form = useRef<HTMLFormElement>(null);
  useEffect(() => form.current?.querySelector("input")?.focus(), []);
  const counts = act === "count" || act === "waste";
  const send = async (event: Event) => {
    event.preventDefault();
    const answer = await requests.send(`api/lots/${encodeURIComponent(it.lot)}/commands`, bodyOf(act, amount, reason, by));
    if (answer.kind === "ok") done();
    else say(undone(answer));
  };
  return (
    <form class="lot-do" ref={form} onSubmit={send} data-act={act}>
      <h2>{w.act[act]}</h2>
      {counts && <Field label={w.amount[act]} hint={w.amountHint} name="amount" value={amount} type={weigh} />}
      {act !== "open" && act !== "use up" && <Field label={w.reason} name="reason" value={reason} type={why} />}
      <NameField label={w.by} value={by} type={name}>
        <Field label={w.by} name="by" value={by} type={name} />
      </NameField>
      {said && (
        <p class="complaint" role="alert">
          <Said text={said} />
        </p>
      )}
      <div class="row">
        <button type="button" class="plain" onClick={done}>
          {words.cancel}
        </button>
        <button type="submit" class="solid">
          {w.do}
        </button>
      </div>
    </form>
  );
}

export function LotScreen({ lot }: { lot: string }) {
  const asked = useAsked<Lot & { history: Told[] }>(`api/lots/${encodeURIComponent(lot)}`);
  const [act, choose] = useState<Act | null>(null);
  const last = useRef<(Lot & { history: Told[] }) | null>(null);
  useScans(follow);
  if (asked.value) last.current = asked.value;
  const it = last.current;
  if (it === null) return <Trouble title={lot} asked={asked} back={{ at: to.lots(), name: states.allLots }} />;
  const facts: [string, string][] = [
    [w.facts.left, w.left(it)],
    [w.facts.received, `${massWithUnit(it.quantity_g)}, ${when(it.received)}, ${it.by}${it.station && `, ${shared.at(it.station)}`}`],
    [w.facts.used, massWithUnit(it.used_g)],
    [w.facts.elsewhere, shared.drewAt(it)],
    [w.facts.wasted, it.wasted_g === "0" ? "" : massWithUnit(it.wasted_g)],
    [w.facts.useBy, it.use_by],
    [w.facts.best, it.best_before],
    [w.facts.opened, it.opened && w.keeps(when(it.opened), it.keeps_days)],
    [w.facts.blocked, it.blocked],
    [w.facts.supplier, it.supplier],
    [w.facts.supplierLot, it.supplier_lot],
    [w.facts.gtin, it.gtin],
    [w.facts.madeIn, it.made_in],
    [w.facts.temperature, it.temperature_c && `${it.temperature_c} °C`],
    [w.facts.document, it.document],
    [w.facts.note, it.note],
  ];
  return (
    <main class="page lots">
      <h1>
        {it.name} <small>{it.lot}</small>
      </h1>
      <p class="lot-head">
        <Standing it={it} /> <span>{w.ends(it)}</span>
      </p>
      {shared.over(it) && (
        <p class="complaint" role="alert">
          <Said text={shared.over(it)} />
        </p>
      )}
      <dl class="facts" data-testid="lot-facts">
        {facts
          .filter(([, text]) => text)
          .map(([name, text]) => (
            <div key={name}>
              <dt>{name}</dt>
              <dd>{text}</dd>
            </div>
          ))}
      </dl>
      {act === null ? (
        <div class="lot-acts">
          {offered(it).map((each) => (
            <button key={each} type="button" class="plain" data-act={each} onClick={() => choose(each)}>
              {w.act[each]}
            </button>
          ))}
          <a class="plain" href={to.labels("lot", it.lot)}>
            {labels.nav}
          </a>
          <a class="plain" href={to.trace(it.lot)}>
            {w.trace}
          </a>
        </div>
      ) : (
        <Do
          it={it}
          act={act}
          done={() => {
            choose(null);
            asked.again();
          }}
        />
      )}
      <h2>{w.history}</h2>
      <ul class="lot-history">
        {it.history.map((one) => (
          <li key={one.seq}>
            <span class="soft">{when(one.at)}</span> {w.told(one)} <span class="soft">{one.by}</span>
          </li>
        ))}
      </ul>
    </main>
  );
}

const EMPTY = {
  ingredient: "",
  quantity_g: "",
  supplier: "",
  supplier_lot: "",
  gtin: "",
  use_by: "",
  best_before: "",
  temperature_c: "",
  document: "",
  note: "",
  lot: "",
};
type Form = typeof EMPTY;

/** What a scan says, in the fields of the form; what it says nothing of stays as it was typed. */
export function fill(form: Form, scan: Scan): Form {
  const said: Partial<Form> = {
    ingredient: scan.ingredient,
    quantity_g: scan.net_g === null ? "" : String(Number(scan.net_g)),
    supplier_lot: scan.supplier_lot || (scan.gtin || scan.is !== "unknown" ? "" : scan.text),
    gtin: scan.gtin,
    use_by: scan.use_by,
    best_before: scan.best_before,
  };
  return { ...form, ...Object.fromEntries(Object.entries(said).filter(([, text]) => text)) };
}

export function Receive() {
  const [form, write] = useState<Form>(EMPTY);
  const [by, name] = useState(operator.peek());
  const [said, say] = useState<{ where: string; text: string }>({ where: "", text: "" });
  const [told, tell] = useState("");
  const asked = useAsked<{ ingredients: { id: string; name: string }[] }>("api/ingredients");
  const all = asked.value?.ingredients ?? [];
  const take = (scan: Scan) => {
    if (scan.is === "misread") return say({ where: "", text: `${scan.misread} ${w.scan.misreadMore}` });
    say({ where: "", text: "" });
    write((now) => fill(now, scan));
    tell(w.form.scanned(scan.name));
  };
  useScans(take);
  useEffect(() => {
    if (waiting === null) return;
    take(waiting);
    waiting = null;
  }, []);
  const set = (key: keyof Form) => (text: string) => write((now) => ({ ...now, [key]: text }));
  const send = async (event: Event) => {
    event.preventDefault();
    const given = Object.fromEntries(Object.entries(form).filter(([, text]) => text.trim()));
    const answer = await requests.send<{ lot: string }>("api/lots", { ingredient: form.ingredient, by, ...given });
    if (answer.kind === "ok") location.hash = to.lot(answer.value.lot);
    else if (answer.kind === "refused") {
      const { code, detail, where } = answer.problem;
      say({ where, text: code === "bad-lot" || code === "unknown-ingredient" ? detail : undone(answer) });
    } else say({ where: "", text: undone(answer) });
  };
  const fault = (key: string) => (said.where === key ? said.text : undefined);
  const line = (key: keyof Form, label: string, hint?: string) => (
    <Field label={label} {...(hint ? { hint } : {})} name={key} value={form[key]} type={set(key)} fault={fault(key)} />
  );
  const f = w.form;
  const placed = ["", "by"].includes(said.where) || !(said.where in EMPTY);
  return (
    <main class="page lots">
      <h1>{f.title}</h1>
      <p class="note" role="status" data-testid="scanned">
        {told || f.lead}
      </p>
      {asked.value === null && <Unanswered asked={asked} />}
      {asked.value && all.length === 0 && (
        <Nothing text={states.noIngredients} more={states.ingredients}>
          <a class="solid" href={to.newIngredient()}>
            {words.pantry.ingredients.create}
          </a>
        </Nothing>
      )}
      <form class="lot-form" onSubmit={send}>
        <Pick
          label={f.ingredient}
          name="ingredient"
          value={form.ingredient}
          options={[["", f.choose], ...all.map((it): [string, string] => [it.id, it.name])]}
          pick={set("ingredient")}
          fault={fault("ingredient")}
        />
        {line("quantity_g", f.quantity, f.quantityHint)}
        {line("supplier", f.supplier)}
        {line("supplier_lot", f.supplierLot)}
        {line("use_by", f.useBy, f.dayHint)}
        {line("best_before", f.best, f.dayHint)}
        {line("temperature_c", f.temperature)}
        {line("document", f.document)}
        {line("gtin", f.gtin)}
        {line("lot", f.lot, f.lotHint)}
        {line("note", f.note)}
        <NameField label={w.by} value={by} type={name}>
          <Field label={w.by} name="by" value={by} type={name} fault={fault("by")} />
        </NameField>
        {said.text && placed && (
          <p class="complaint" role="alert">
            <Said text={said.text} />
          </p>
        )}
        <div class="row">
          <a class="plain" href={to.lots()}>
            {words.cancel}
          </a>
          <button type="submit" class="solid">
            {f.save}
          </button>
        </div>
      </form>
    </main>
  );
}
