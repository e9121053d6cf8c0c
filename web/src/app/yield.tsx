// What came out of a batch: its draws, what they come to, and a form for one more or for one put right.

import type { ComponentChildren } from "preact";
import { useEffect, useRef, useState } from "preact/hooks";
import { refusedAs } from "../core/answers.ts";
import type { Problem } from "../core/commands.ts";
import { massWithUnit } from "../core/numbers.ts";
import { words } from "../core/words.ts";
import { asked as toSend, type DrawShown, EMPTY, type Form, formOf, MASS_UNITS, VOLUME_UNITS, type Yield, yields } from "../core/yield.ts";
import { useAsked, useNewest } from "./ask.ts";
import { Said } from "./said.tsx";
import { Shape } from "./shapes.tsx";
import { fresh, operator, recall, remember, requests, scales, station } from "./store.ts";
import { Broken, broken } from "./trouble.tsx";

const w = yields;

interface Fields {
  form: Form;
  set(name: keyof Form, text: string): void;
  /** What the station said of a field, by its name. */
  wrong: (name: string) => string;
}

interface FieldProps {
  it: Fields;
  name: keyof Form;
  label: string;
  hint?: string;
  whole?: boolean;
  text?: boolean;
  /** The choice of its unit, beside it. */
  children?: ComponentChildren;
}

function Field({ it, name, label, hint, whole, text, children }: FieldProps) {
  const wrong = it.wrong(name);
  const id = `yield-${name}`;
  return (
    <div class="field">
      <label for={id}>
        {label} {hint && <small>{hint}</small>}
      </label>
      <div class="with-unit">
        <input
          type="text"
          id={id}
          name={name}
          inputMode={text ? "text" : whole ? "numeric" : "decimal"}
          autocomplete="off"
          maxLength={text ? 500 : 20}
          value={it.form[name]}
          aria-invalid={wrong !== ""}
          aria-describedby={wrong ? `${id}-wrong` : undefined}
          onInput={(e) => it.set(name, e.currentTarget.value)}
        />
        {children}
      </div>
      {wrong && (
        <span class="complaint" id={`${id}-wrong`}>
          {wrong}
        </span>
      )}
    </div>
  );
}

function Units({ it, name, of, all }: { it: Fields; name: "weight_unit" | "volume_unit"; of: string; all: readonly string[] }) {
  return (
    <select name={name} aria-label={w.unit(of)} value={it.form[name]} onChange={(e) => it.set(name, e.currentTarget.value)}>
      {all.map((one) => (
        <option key={one}>{one}</option>
      ))}
    </select>
  );
}

/** Where the weight is from: typed, or read on a scale that shows it. */
function Weight({ it }: { it: Fields }) {
  const names = Object.keys(scales.value);
  const known = station.value?.vessels ?? [];
  const on = scales.value[it.form.scale];
  const unit = <Units it={it} name="weight_unit" of={w.ofMass} all={MASS_UNITS} />;
  return (
    <>
      {names.length > 0 && (
        <div class="field">
          <label for="yield-scale">{w.from}</label>
          <select id="yield-scale" name="scale" value={it.form.scale} onChange={(e) => it.set("scale", e.currentTarget.value)}>
            <option value="">{w.typed}</option>
            {names.map((name) => (
              <option key={name} value={name}>
                {w.onScale(name)}
              </option>
            ))}
          </select>
          {it.wrong("scale") && <span class="complaint">{it.wrong("scale")}</span>}
        </div>
      )}
      {on === undefined ? (
        <Field it={it} name="weight" label={w.weight}>
          {unit}
        </Field>
      ) : (
        <>
          {known.length > 0 && (
            <label class="field">
              <span>{w.container}</span>
              <select name="vessel" value={it.form.vessel} onChange={(e) => it.set("vessel", e.currentTarget.value)}>
                <option value="">{w.otherTub}</option>
                {known.map((one) => (
                  <option key={one.name}>{one.name}</option>
                ))}
              </select>
            </label>
          )}
          {!it.form.vessel && (
            <Field it={it} name="tare" label={w.tare} hint={w.ownKey}>
              {unit}
            </Field>
          )}
          <p class="hint">
            {w.shows(massWithUnit(fresh.value ? (on.reading?.grams ?? null) : null))}
            {it.wrong("weight") && <span class="complaint"> {it.wrong("weight")}</span>}
          </p>
        </>
      )}
    </>
  );
}

function DrawForm({ batch, by, right, done }: { batch: string; by: string; right: DrawShown | null; done(said: string): void }) {
  const [form, keep] = useState<Form>(() => ({
    ...(right ? formOf(right) : { ...EMPTY, weight_unit: recall("yield.mass") || "g", volume_unit: recall("yield.volume") || "L" }),
    by: operator.peek() || by,
  }));
  const [problem, say] = useState<Problem | null>(null);
  const [trouble, tell] = useState("");
  const [sending, send] = useState(false);
  const here = useRef<HTMLFormElement>(null);
  useEffect(() => here.current?.querySelector<HTMLElement>("select, input")?.focus(), []);
  useEffect(() => {
    if (problem === null) return;
    here.current?.querySelector<HTMLElement>('[aria-invalid="true"]')?.focus();
  }, [problem]);
  const where = (problem?.where ?? "").replace(/^body\./, "");
  const said = problem === null ? "" : refusedAs(problem);
  const beside = problem !== null && where in EMPTY;
  const it: Fields = {
    form,
    set: (name, text) => {
      keep((before) => ({ ...before, [name]: text }));
      if (name === "weight_unit") remember("yield.mass", text);
      if (name === "volume_unit") remember("yield.volume", text);
    },
    wrong: (name) => (beside && name === where ? said : ""),
  };
  const submit = async (body: Record<string, unknown>, then: string) => {
    if (sending) return;
    send(true);
    const answer = await requests.send<{ entry: number }>(`api/batches/${encodeURIComponent(batch)}/yield`, body);
    send(false);
    if (answer.kind === "ok") done(then);
    else if (answer.kind === "refused") {
      say(answer.problem);
      tell("");
    } else {
      say(null);
      tell(words.unreachable);
    }
  };
  const more = right !== null && [right.left, right.pieces, right.cup, right.sample].some(Boolean);
  return (
    <form
      class="draw-form"
      ref={here}
      data-testid="draw-form"
      onSubmit={(e) => {
        e.preventDefault();
        void submit(toSend(form, right?.draw ?? null), w.recorded(right?.draw ?? null));
      }}
    >
      <h3>{right ? w.rightOf(right.draw) : w.add}</h3>
      <div class="fields">
        <Weight it={it} />
      </div>
      <div class="fields">
        <Field it={it} name="volume" label={w.volume}>
          <Units it={it} name="volume_unit" of={w.ofVolume} all={VOLUME_UNITS} />
        </Field>
        <Field it={it} name="containers" label={w.containers} whole />
        <Field it={it} name="fill" label={w.fill} hint={form.volume_unit} />
      </div>
      <div class="fields">
        <Field it={it} name="portions" label={w.portions} whole />
      </div>
      <details class="sources" open={more || (beside && !["weight", "volume", "containers", "fill", "portions", "tare", "scale", "reason"].includes(where))}>
        <summary>{w.more}</summary>
        <div class="fields">
          <Field it={it} name="left" label={w.left} hint={`${form.weight_unit}; ${w.leftHint}`} />
          <Field it={it} name="pieces" label={w.pieces} hint={`${form.weight_unit}; ${w.piecesHint}`} />
          <Field it={it} name="pieces_density" label={w.density} />
          <Field it={it} name="cup_mix" label={w.cupMix} hint={form.weight_unit} />
          <Field it={it} name="cup_product" label={w.cupProduct} hint={form.weight_unit} />
          <Field it={it} name="sample_weight" label={w.sampleWeight} hint={form.weight_unit} />
          <Field it={it} name="sample_volume" label={w.sampleVolume} hint={form.volume_unit} />
        </div>
      </details>
      <div class="fields">
        {right && <Field it={it} name="reason" label={w.reason} hint={w.reasonHint} text />}
        <Field it={it} name="by" label={w.by} text />
      </div>
      <p class="soft">{w.digits}</p>
      {(trouble || (problem !== null && !beside)) && (
        <p class="complaint" role="alert">
          <Said text={trouble || said} />
        </p>
      )}
      <div class="row end">
        <button type="button" class="plain" onClick={() => done("")}>
          {w.cancel}
        </button>
        {right && (
          <button
            type="button"
            class="plain"
            disabled={!fresh.value || sending}
            onClick={() => void submit({ corrects: right.draw, reason: form.reason.trim() || undefined, by: form.by.trim() || undefined }, w.takenBack(right.draw))}
          >
            {w.back}
          </button>
        )}
        <button type="submit" class="solid" disabled={!fresh.value || sending}>
          {right ? w.sendRight : w.send}
        </button>
      </div>
    </form>
  );
}

/** The yield of a batch that was all weighed. */
export function YieldOf({ batch, by }: { batch: string; by: string }) {
  const asked = useAsked<Yield>(`api/batches/${encodeURIComponent(batch)}/yield`);
  const [at, go] = useState<"list" | "new" | number>("list");
  const [said, say] = useState("");
  const { value: it } = useNewest(asked, batch);
  if (it === null) return broken(asked) ? <Broken title={w.title} asked={asked} /> : null;
  const gained = w.gained(it);
  const may = it.status === "in process" || it.status === "closed";
  const right = typeof at === "number" ? (it.draws.find((one) => one.draw === at) ?? null) : null;
  const done = (text: string) => {
    go("list");
    say(text);
    if (text) asked.again();
  };
  return (
    <section class="yield" data-testid="yield">
      <h2>{w.title}</h2>
      {it.draws.length === 0 && <p>{w.none}</p>}
      <ol class="draws">
        {it.draws.map((one) => (
          <li key={one.draw} value={one.draw}>
            <span>
              <b>
                {one.draw}. {w.draw(one)}
              </b>
              <small>
                <Said text={w.found(one)} />
                {one.by && <span class="soft"> {one.by}</span>}
              </small>
              {w.odd(one) && (
                <span class="warning">
                  <Shape name="warn" />
                  {w.odd(one)}
                </span>
              )}
            </span>
            {may && at === "list" && (
              <button type="button" class="plain no-print" aria-label={w.rightOf(one.draw)} onClick={() => go(one.draw)}>
                {w.right}
              </button>
            )}
          </li>
        ))}
      </ol>
      {it.draws.length > 0 && (
        <dl class="facts">
          {w.facts(it).map(([name, value]) => (
            <div key={name}>
              <dt>{name}</dt>
              <dd>{value}</dd>
            </div>
          ))}
        </dl>
      )}
      {gained && (
        <p class="warning">
          <Shape name="warn" />
          {gained}
        </p>
      )}
      {[w.prices(it), ...w.ceiling(it)].filter(Boolean).map((text) => (
        <p class="soft" key={text}>
          {text}
        </p>
      ))}
      {said && (
        <p class="hint" role="status">
          {said}
        </p>
      )}
      {!may ? null : at === "list" ? (
        <div class="row no-print">
          <button type="button" class="solid" onClick={() => (say(""), go("new"))}>
            {w.add}
          </button>
        </div>
      ) : (
        <DrawForm key={String(at)} batch={batch} by={by} right={right} done={done} />
      )}
    </section>
  );
}
