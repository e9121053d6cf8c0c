// A list pasted or typed becomes additions; each line says what it was taken for before anything is.

import { useState } from "preact/hooks";
import { unanswered } from "../core/answers.ts";
import type { AdditionDraft } from "../core/drafts.ts";
import { type Pasted, type PastedLine, pasting, rowsOf } from "../core/pasting.ts";
import { useSaidOf } from "./ask.ts";
import { Field } from "./fields.tsx";
import { Said } from "./said.tsx";
import { Shape } from "./shapes.tsx";

const p = pasting;

interface LineProps {
  it: PastedLine;
  name: string;
  choose(id: string): void;
}

function Line({ it, name, choose }: LineProps) {
  const taken = it.outcome === "taken";
  return (
    <li class="pasted-line" data-outcome={it.outcome}>
      <span class="pasted-mark">
        {it.outcome === "left out" ? null : <Shape name={taken ? "good" : "warn"} />}
        <span class="visually-hidden">{p.marks[it.outcome]}: </span>
      </span>
      <span class="pasted-text">{it.text}</span>
      {taken && <strong class="pasted-is">{p.line(it, name)}</strong>}
      {it.why && <span class="pasted-why">{it.why}</span>}
      {it.offered.length > 0 && (
        <span class="pasted-offered" role="group" aria-label={p.perhaps(it.name)}>
          {it.offered.map((one) => (
            <button type="button" class="plain" key={one.id} onClick={() => choose(one.id)}>
              {one.name}
            </button>
          ))}
        </span>
      )}
    </li>
  );
}

interface PasteProps {
  of: string | null;
  names: [string, string][];
  put(rows: AdditionDraft[]): void;
}

export function PasteTool({ of, names, put }: PasteProps) {
  const [text, type] = useState("");
  const [said, mean] = useState<Record<string, string>>({});
  const [got, keep] = useState({ asked: "", read: null as Pasted | null, trouble: "" });
  const [done, tell] = useState("");
  const asked = JSON.stringify({ text, said, of: of ?? "" });
  const some = text.trim() !== "";
  useSaidOf<Pasted>("api/paste", asked, some, (answer, of) =>
    keep({ asked: of, read: answer.kind === "ok" ? answer.value : null, trouble: unanswered(answer) }),
  );
  const name = (id: string) => names.find(([one]) => one === id)?.[1] ?? id;
  const { read, trouble } = some ? got : { read: null, trouble: "" };
  const present = got.asked === asked;
  const take = () => {
    if (!read || !present) return;
    const rows = rowsOf(read);
    put(rows);
    type("");
    mean({});
    tell(p.done(rows.length));
  };
  return (
    <details class="tool" data-testid="paste">
      <summary>{p.title}</summary>
      <div class="tool-body">
        <p class="soft">{p.about}</p>
        <div class="fields paste-text">
          <Field
            long
            name="paste"
            label={p.text}
            hint={p.example}
            value={text}
            type={(now) => {
              tell("");
              type(now);
            }}
          />
        </div>
        {trouble && (
          <p class="complaint" role="alert">
            <Said text={trouble} />
          </p>
        )}
        {read && (
          <section class="found" data-testid="pasted" data-present={present}>
            <ol class="pasted-lines" aria-label={p.lines}>
              {read.lines.map((it) => (
                <Line key={it.n} it={it} name={name(it.ingredient)} choose={(id) => mean({ ...said, [it.name]: id })} />
              ))}
            </ol>
            <p role="status">
              <strong>{p.sum(read)}</strong> {read.warning}
            </p>
            {read.taken > 0 && (
              <>
                <button type="button" class="solid" aria-disabled={!present} onClick={take}>
                  {p.take(read.taken)}
                </button>
                {read.not_understood > 0 && <p class="hint">{p.without(read.not_understood)}</p>}
              </>
            )}
          </section>
        )}
        <p class="hint" role="status">
          {done}
        </p>
      </div>
    </details>
  );
}
