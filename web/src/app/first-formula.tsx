// What is weighed first: an invented example, something that is there already, or a list of one's own.

import { useRef, useState } from "preact/hooks";
import { unanswered, undone } from "../core/answers.ts";
import { type Example, first } from "../core/first.ts";
import type { Formula } from "../core/frames.ts";
import { massWithUnit } from "../core/numbers.ts";
import type { Pasted } from "../core/pasting.ts";
import { to } from "../core/routes.ts";
import { words } from "../core/words.ts";
import { useAsked, useSaidOf } from "./ask.ts";
import { Field } from "./fields.tsx";
import { Said } from "./said.tsx";
import { Shape } from "./shapes.tsx";
import { fresh, operator, remember, requests, scales } from "./store.ts";
import { setWalk } from "./walk.ts";

const w = first.formula;

interface ChoiceProps {
  name: string;
  about: string;
  note?: string;
  allergens: string[];
  busy: boolean;
  press(): void;
}

function Choice({ name, about, note, allergens, busy, press }: ChoiceProps) {
  return (
    <li>
      <button type="button" class="formula-choice" disabled={busy || !fresh.value} onClick={press}>
        <b>{name}</b>
        <span>{about}</span>
        {note && <span class="soft">{note}</span>}
        {allergens.length > 0 && (
          <span class="allergens">
            <Shape name="warn" />
            {allergens.join(", ")}
          </span>
        )}
      </button>
    </li>
  );
}

type ReadList = Pasted & { new: string[] };

function OwnList({ busy, make }: { busy: boolean; make(body: object): void }) {
  const [name, call] = useState("");
  const [text, type] = useState("");
  const [tried, trying] = useState(false);
  const [got, keep] = useState({ asked: "", read: null as ReadList | null, trouble: "" });
  const asked = JSON.stringify({ text });
  const some = text.trim() !== "";
  useSaidOf<ReadList>("api/first/list", asked, some, (answer, of) =>
    keep({ asked: of, read: answer.kind === "ok" ? answer.value : null, trouble: unanswered(answer) }),
  );
  const { read, trouble } = some ? got : { read: null, trouble: "" };
  const form = useRef<HTMLFormElement>(null);
  const go = (event: Event) => {
    event.preventDefault();
    trying(true);
    if (name.trim() === "") return form.current?.querySelector<HTMLElement>('[name="list-name"]')?.focus();
    if (read !== null && read.taken > 0 && got.asked === asked) make({ of: "list", name: name.trim(), text });
  };
  return (
    <details class="tool first-list" data-testid="first-list">
      <summary>{w.list}</summary>
      <form class="tool-body" ref={form} onSubmit={go}>
        <p class="soft">{w.listMore}</p>
        <div class="fields">
          <Field name="list-name" label={w.listName} value={name} type={call} fault={tried && name.trim() === "" ? w.needsName : undefined} />
        </div>
        <div class="fields paste-text">
          <Field long name="list" label={w.text} hint={w.listExample} value={text} type={type} />
        </div>
        {trouble && (
          <p class="complaint" role="alert">
            <Said text={trouble} />
          </p>
        )}
        {read && (
          <>
            <ol class="pasted-lines" aria-label={w.listLines}>
              {read.lines.map((it) => (
                <li class="pasted-line" data-outcome={it.outcome} key={it.n}>
                  <span class="pasted-mark">{it.outcome === "left out" ? null : <Shape name={it.outcome === "taken" ? "good" : "warn"} />}</span>
                  <span class="pasted-text">{it.text}</span>
                  {it.why && <span class="pasted-why">{it.why}</span>}
                </li>
              ))}
            </ol>
            <p role="status">
              <strong>{w.taken(read.taken, massWithUnit(read.taken_g))}</strong>
            </p>
            {read.new.length > 0 && <p class="hint">{w.fresh(read.new.join(", "))}</p>}
            {read.taken > 0 && (
              <button type="submit" class="solid" disabled={busy || !fresh.value}>
                {w.weigh}
              </button>
            )}
          </>
        )}
      </form>
    </details>
  );
}

export function FirstFormula() {
  const shipped = useAsked<{ examples: Example[] }>("api/first/formulas");
  const here = useAsked<{ formulas: Formula[] }>("api/formulas");
  const [busy, work] = useState(false);
  const [trouble, tell] = useState("");
  const [made, keep] = useState("");

  /** Onto the board with it, on the first scale, at its own size. */
  const weigh = async (formula: string) => {
    keep(formula);
    const who = operator.peek().trim() || first.you.nobody;
    const answer = await requests.open({ formula, operator: who, scale: Object.keys(scales.peek())[0] ?? null });
    work(false);
    if (answer.kind !== "ok") return tell(undone(answer));
    if (operator.peek().trim()) remember("operator", who);
    setWalk(answer.value.batch);
    location.hash = to.bench();
  };
  const start = async (make: object | null, formula: string) => {
    work(true);
    tell("");
    keep("");
    if (make === null) return weigh(formula);
    const answer = await requests.send<{ formula: string }>("api/first/formula", make);
    if (answer.kind === "ok") return weigh(answer.value.formula);
    work(false);
    tell(undone(answer));
  };
  const own = here.value?.formulas ?? [];
  const examples = (shipped.value?.examples ?? []).filter((it) => !own.some((one) => one.id === it.id));
  return (
    <>
      <h1>{w.title}</h1>
      <p class="soft">{w.lead}</p>
      {busy && (
        <p class="hint" role="status">
          <Shape name="waiting" /> {w.starting}
        </p>
      )}
      {trouble && (
        <div class="complaint" role="alert">
          <p>
            <Said text={trouble} />
          </p>
          {made && <a href={to.start(made)}>{w.otherSize}</a>}
        </div>
      )}
      {own.length > 0 && (
        <section>
          <h2>{w.yours}</h2>
          <ul class="formulas">
            {own.map((it) => (
              <Choice key={it.id} name={it.name} about={`${massWithUnit(it.batch_g)}, ${w.about(it.additions.length, it.steps?.length ?? 0)}`} allergens={it.allergens} busy={busy} press={() => void start(null, it.id)} />
            ))}
          </ul>
        </section>
      )}
      {shipped.value === null && <p class={shipped.trouble ? "complaint" : "soft"}>{shipped.trouble ? <Said text={shipped.trouble} /> : words.loading}</p>}
      {shipped.trouble && (
        <button type="button" class="plain" onClick={shipped.again}>
          {words.again}
        </button>
      )}
      {examples.length > 0 && (
        <section>
          <h2>{w.examples}</h2>
          <p class="soft">{w.examplesMore}</p>
          <ul class="formulas" data-testid="first-examples">
            {examples.map((it) => (
              <Choice key={it.id} name={it.name} about={`${massWithUnit(it.batch_g)}, ${w.about(it.additions, it.steps)}`} note={it.note} allergens={it.allergens} busy={busy} press={() => void start({ of: "example", id: it.id }, it.id)} />
            ))}
          </ul>
        </section>
      )}
      <OwnList busy={busy} make={(body) => void start(body, "")} />
      <p>
        <a class="plain" href={to.first("you")}>
          {first.back}
        </a>
      </p>
    </>
  );
}
