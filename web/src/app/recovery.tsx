// A pour went wrong: what can be done, the best first, each way on a card of its own.

import { useEffect, useState } from "preact/hooks";
import { hasWords } from "../core/folding.ts";
import type { KnownIngredient, Recovery as Told, Way } from "../core/recovery.ts";
import { sayable } from "../core/recovery.ts";
import { words } from "../core/words.ts";
import { useAsked } from "./ask.ts";
import { Ask, Sheet } from "./dialogs.tsx";
import { answer, answered, chosen, dry, forget, picked, question, said, told, trouble, was } from "./recovering.ts";
import { Said } from "./said.tsx";
import { Shape } from "./shapes.tsx";
import { There } from "./there.tsx";

import { batch, busy, command, dialog, live, refused, stance } from "./store.ts";

const say = words.recovery;
/** What stands there may be read a little beside what the ways were worked out for. */
const SAME_G = 0.3;

/** Whether the ways are worked out for what is in now. */
function stale(it: Told | null): boolean {
  void stance.value;
  const here = live.value;
  if (it === null || here === null || !here.settled || here.net_g === null) return false;
  return Math.abs(Number(here.net_g) - Number(it.net_g)) > SAME_G;
}

export function Recovery() {
  const path = question.value;
  const asked = useAsked<Told>(path);
  useEffect(() => {
    if (asked.value !== null) answered(asked.value);
  }, [asked.value]);
  const old = stale(asked.value) || refused.value === "amount-changed";
  useEffect(() => {
    if (!old) return;
    const soon = setTimeout(asked.again, 300);
    return () => clearTimeout(soon);
  }, [old]);
  if (path === null) return null;
  const it = told.value;
  return (
    <section class="recovery" aria-label={say.title} data-testid="recovery">
      {asked.trouble && it === null && <p class="complaint"><Said text={asked.trouble} /></p>}
      {it !== null && <Cards it={it} />}
      <There it={it} trouble={it === null ? "" : asked.trouble} />
    </section>
  );
}

function Cards({ it }: { it: Told }) {
  const going = it.options.filter((one) => one.goes);
  const not = it.options.filter((one) => !one.goes);
  const here = chosen.value;
  return (
    <>
      {it.was !== null && it.was.new_allergens.length > 0 && (
        <p class="complaint" role="alert" data-testid="new-allergens">
          <Shape name="warn" /> {say.allergens(it.was.new_allergens)}
        </p>
      )}
      <p class="held-what">{say.what(it)}</p>
      <Dry it={it} />
      <fieldset class="ways" disabled={busy.value !== null}>
        <legend class="visually-hidden">{say.title}</legend>
        {going.map((one, n) => (
          <Card key={one.way} n={n + 1} one={one} told={it} checked={one === here} />
        ))}
      </fieldset>
      {not.length > 0 && (
        <details class="ways-not" data-testid="ways-not">
          <summary>{say.others(not.length)}</summary>
          {not.map((one) => (
            <div key={one.way}>
              <b>{say.head(one, it)}</b>
              <p lang="en">{one.why_not?.text}</p>
              {one.fight && <p class="hint" lang="en">{one.fight}</p>}
              {one.broken.map((each) => (
                <p class="hint" key={each.of.join()}>
                  {say.range(each)}
                </p>
              ))}
            </div>
          ))}
        </details>
      )}
      <details class="ways-not">
        <summary>{say.why}</summary>
        <p><Said text={say.from(it)} /></p>
        {it.limits.map((each) => (
          <p class="hint" key={each.of.join() + each.source}>
            {say.range(each)}. {each.source}
          </p>
        ))}
        {it.no_limits_for.length > 0 && <p>{say.unknown(it.no_limits_for)}</p>}
      </details>
      {said.value !== null && (
        <button type="button" class="plain" data-do="go back" onClick={forget}>
          {say.back}
        </button>
      )}
    </>
  );
}

/** One press: whether what is too much can be taken out. */
function Dry({ it }: { it: Told }) {
  if (!it.dry.asks) return it.dry.why && it.cause !== "ran out" ? <p class="hint"><Said text={say.dry.taken(it.dry.taken === true, it.dry.why)} /></p> : null;
  return (
    <div class="dry" role="group" aria-label={say.dry.ask}>
      <p>{say.dry.ask}</p>
      {(["yes", "no"] as const).map((said) => (
        <button
          type="button"
          class="plain"
          key={said}
          data-do={`dry ${said}`}
          aria-pressed={dry.value === said}
          onClick={() => answer(said, it.options.find((one) => one.take_g !== null)?.way ?? "")}
        >
          {say.dry[said]}
        </button>
      ))}
    </div>
  );
}

function Card({ n, one, told: it, checked }: { n: number; one: Way; told: Told; checked: boolean }) {
  const mix = say.mix(one);
  return (
    <label class="way" data-way={one.way} data-testid={`way-${n}`}>
      <input type="radio" name="way" checked={checked} onChange={() => (picked.value = one.way)} />
      <span class="way-n">{n}</span>
      <span class="way-head">{say.head(one, it)}</span>
      <span class="way-comes">{say.comes(one, it)}</span>
      {say.todo(one).length > 0 && <span class="way-todo">{say.todo(one).join(", ")}</span>}
      {mix && (
        <span class="way-mix">
          <Shape name={one.exact || one.stays ? "good" : one.stays === null ? "close" : "warn"} /> {mix}
        </span>
      )}
      {one.broken.map((each) => (
        <span class="way-line" key={each.of.join()}>
          {say.range(each)}
        </span>
      ))}
      {say.effects(one).map((text) => (
        <span class="way-line" key={text}>
          {text}
        </span>
      ))}
      {one.cost !== null && Number(one.cost) !== 0 && <span class="way-line">{say.cost(one.cost)}</span>}
    </label>
  );
}

/** Something the scale cannot see: one button, behind which it is said what. */
export function Say() {
  void stance.value;
  if (trouble.value !== null || sayable(live.peek()).length === 0) return null;
  return (
    <button type="button" class="plain" data-do="trouble" onClick={() => (dialog.value = "trouble")}>
      {say.something}
    </button>
  );
}

/** What somebody may say: that it ran out, that it was something else. */
export function TroubleDialog() {
  void stance.value;
  return (
    <Sheet title={say.whatIs}>
      <div class="quick">
        {sayable(live.peek()).map((what, n) => (
          <button
            type="button"
            class="plain choice"
            key={what}
            data-do={what}
            autoFocus={n === 0}
            onClick={() => {
              if (what === "wrong ingredient") dialog.value = "wrong";
              else {
                said.value = what;
                dialog.value = null;
              }
            }}
          >
            {say.open[what]}
          </button>
        ))}
      </div>
    </Sheet>
  );
}

/** Why: then it is done. */
export function RecoverDialog() {
  const way = chosen.value;
  const it = told.value;
  const gone = way === null || it === null || way.change === null;
  useEffect(() => {
    if (gone) dialog.value = null;
  }, [gone]);
  if (gone) return null;
  const lines = [say.comes(way, it), ...say.todo(way), say.mix(way), ...way.broken.map(say.range), ...say.effects(way)];
  const quick = say.dialog.quick[it.cause];
  return (
    <Ask
      title={say.head(way, it)}
      what={lines.filter(Boolean).join(" \u00b7 ")}
      ask={say.dialog.ask}
      quick={quick}
      first={quick[0]}
      save={say.dialog.save}
      keep={words.cancel}
      send={(reason) => command("put right", { change: way.change!, reason })}
    />
  );
}

/** Which ingredient went in instead. */
export function WrongDialog() {
  const [text, write] = useState("");
  const asked = useAsked<{ ingredients: KnownIngredient[] }>(batch.value ? `api/batches/${encodeURIComponent(batch.value.id)}/ingredients` : null);
  const here = batch.value?.additions.find((it) => it.n === live.value?.addition)?.ingredient;
  const found = (asked.value?.ingredients ?? []).filter((it) => it.ingredient !== here && hasWords(it.name, text));
  const name = (it: KnownIngredient) => {
    was.value = it.ingredient;
    said.value = "wrong ingredient";
    dialog.value = null;
  };
  return (
    <Sheet title={say.wrong.title}>
      <form
        onSubmit={(event) => {
          event.preventDefault();
          if (found.length === 1) name(found[0]!);
        }}
      >
        <p>{say.wrong.what}</p>
        <label class="field">
          <span>{say.wrong.find}</span>
          <input type="text" autoFocus autocomplete="off" value={text} onInput={(e) => write(e.currentTarget.value)} />
        </label>
        {asked.trouble && <p class="complaint"><Said text={asked.trouble} /></p>}
        {asked.value !== null && found.length === 0 && <p class="hint">{say.wrong.none}</p>}
        <div class="quick">
          {found.map((it) => (
            <button type="button" class="plain choice" key={it.ingredient} data-ingredient={it.ingredient} onClick={() => name(it)}>
              <b>{it.name}</b> <small>{say.wrong.contains(it.allergens)}</small>
            </button>
          ))}
        </div>
      </form>
    </Sheet>
  );
}
