// What there is to put a pour right with: the bowl's room, what is left of each, what else may go in.

import { useState } from "preact/hooks";
import { massWithUnit, typedMass } from "../core/numbers.ts";
import type { KnownIngredient, Recovery } from "../core/recovery.ts";
import { words } from "../core/words.ts";
import { useAsked } from "./ask.ts";
import { Field } from "./fields.tsx";
import { bowl, extras, left } from "./recovering.ts";
import { Said } from "./said.tsx";
import { batch } from "./store.ts";

const say = words.recovery.there;

export function There({ it, trouble }: { it: Recovery | null; trouble: string }) {
  const [open, setOpen] = useState(false);
  return (
    <details class="ways-not" data-testid="there" open={open || trouble !== ""} onToggle={(e) => setOpen(e.currentTarget.open)}>
      <summary>{say.title}</summary>
      {(open || trouble !== "") && <Fields it={it} trouble={trouble} />}
    </details>
  );
}

function Fields({ it, trouble }: { it: Recovery | null; trouble: string }) {
  const here = batch.value;
  const [room, setRoom] = useState(bowl.value);
  const [typed, type] = useState<Record<string, string>>(left.value);
  const known = useAsked<{ ingredients: KnownIngredient[] }>(here ? `api/batches/${encodeURIComponent(here.id)}/ingredients` : null);
  const own = new Map((here?.additions ?? []).map((one) => [one.ingredient, one.name]));
  for (const id of extras.value) own.set(id, known.value?.ingredients.find((one) => one.ingredient === id)?.name ?? id);
  const rest = (known.value?.ingredients ?? []).filter((one) => !own.has(one.ingredient));
  const plain = (text: string) => typedMass(text) ?? text.trim();
  const take = () => {
    bowl.value = plain(room);
    left.value = Object.fromEntries(Object.entries(typed).filter(([, text]) => text.trim() !== ""));
  };
  const hint = (id: string) => {
    const found = it?.on_hand?.find((one) => one.ingredient === id);
    if (!found || found.by === "said") return undefined;
    return found.lots.length ? say.books(massWithUnit(found.grams), found.lots.join(", ")) : say.none;
  };
  return (
    <form
      class="there"
      onSubmit={(event) => {
        event.preventDefault();
        take();
      }}
    >
      {trouble && <p class="complaint"><Said text={trouble} /></p>}
      <Field label={say.bowl} name="bowl_holds_g" value={room} type={setRoom} number unit="g" />
      {[...own].map(([id, name]) => (
        <Field
          key={id}
          label={say.left(name)}
          hint={hint(id) ?? ""}
          name={`left-${id}`}
          value={typed[id] ?? ""}
          type={(text) => type({ ...typed, [id]: text })}
          number
          unit="g"
        />
      ))}
      {rest.length > 0 && (
        <label class="field">
          <span>{say.add}</span>
          <select name="add" value="" onChange={(e) => e.currentTarget.value && (extras.value = [...extras.value, e.currentTarget.value])}>
            <option value="">{say.none_added}</option>
            {rest.map((one) => (
              <option key={one.ingredient} value={one.ingredient}>
                {one.name}
              </option>
            ))}
          </select>
        </label>
      )}
      <button type="submit" class="plain" data-do="reckon anew">
        {say.again}
      </button>
    </form>
  );
}
