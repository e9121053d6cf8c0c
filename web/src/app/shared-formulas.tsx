// Formulas of other stations, and publishing one's own to them.

import { useState } from "preact/hooks";
import { undone } from "../core/answers.ts";
import { when } from "../core/numbers.ts";
import { shared as w, toDecide, type SharedFormula, type SharedFormulas } from "../core/shared.ts";
import { to } from "../core/routes.ts";
import { words } from "../core/words.ts";
import { useAsked } from "./ask.ts";
import { Field } from "./fields.tsx";
import { NameField } from "./person.tsx";
import { Said } from "./said.tsx";
import { Shape } from "./shapes.tsx";
import { operator, requests } from "./store.ts";

const OF = "api/shared/formulas";

function Row({ it, done }: { it: SharedFormula; done(): void }) {
  const [said, say] = useState("");
  const choose = async (act: "take" | "leave") => {
    const by = operator.peek().trim();
    if (!by) return say(w.who);
    const answer = await requests.send(`${OF}/${encodeURIComponent(it.id)}`, { do: act, by });
    if (answer.kind === "ok") done();
    else say(undone(answer));
  };
  return (
    <li class="shared-formula" data-formula={it.id} data-chosen={it.chosen}>
      <b>{it.chosen === "taken" ? <a href={to.start(it.id)}>{it.name}</a> : it.name}</b>
      <span class="soft">{w.from(it, when(it.at))}</span>
      {it.own === "differs" && (
        <span class="warning">
          <Shape name="note" />
          {w.own.differs}
        </span>
      )}
      <span>{w.chosen[it.chosen]}</span>
      <div class="row">
        {it.chosen !== "taken" && (
          <button type="button" class="solid" onClick={() => void choose("take")}>
            {w.take}
          </button>
        )}
        {it.chosen !== "left" && (
          <button type="button" class="plain" onClick={() => void choose("leave")}>
            {w.leave}
          </button>
        )}
      </div>
      {said && (
        <p class="complaint" role="alert">
          <Said text={said} />
        </p>
      )}
    </li>
  );
}

/** What other stations published, where there are some. */
export function FromOthers({ changed }: { changed(): void }) {
  const asked = useAsked<SharedFormulas>(OF);
  const those = toDecide(asked.value?.formulas ?? []);
  if (those.length === 0) return null;
  return (
    <section class="shared-formulas" data-testid="from-others">
      <h2>{w.title}</h2>
      <p class="note">{w.lead}</p>
      <NameField label={words.lots.by} value={operator.value} type={(name) => (operator.value = name)}>
        <Field name="by" label={words.lots.by} value={operator.value} type={(name) => (operator.value = name)} />
      </NameField>
      <ul class="pantry-list">
        {those.map((it) => (
          <Row
            key={it.number}
            it={it}
            done={() => {
              asked.again();
              changed();
            }}
          />
        ))}
      </ul>
    </section>
  );
}

/** Publish a formula as it is saved; nothing where the station shares with no other. */
export function Publish({ id, changed }: { id: string; changed: boolean }) {
  const asked = useAsked<SharedFormulas>(OF);
  const [said, say] = useState("");
  const [busy, wait] = useState(false);
  if (!asked.value?.sharing) return null;
  const publish = async () => {
    if (changed) return say(w.saveFirst);
    const by = operator.peek().trim();
    if (!by) return say(w.who);
    wait(true);
    const answer = await requests.send<{ number: number; new: boolean }>(`api/formulas/${encodeURIComponent(id)}/publish`, { by });
    wait(false);
    if (answer.kind === "ok") say(answer.value.new ? w.published(answer.value.number) : w.already);
    else say(undone(answer));
  };
  return (
    <>
      <button type="button" class="plain" disabled={busy} onClick={() => void publish()} data-testid="publish">
        {busy ? w.publishing : w.publish}
      </button>
      {said && (
        <p class="note" role="status">
          {said}
        </p>
      )}
    </>
  );
}
