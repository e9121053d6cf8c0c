// The keys: what each does now, and what others do at other times. Made from the table that keys act by.

import { useEffect, useState } from "preact/hooks";
import { keyWords as w, listed, nameOfKey } from "../core/keys.ts";
import { nameOf, plainKey } from "../core/pedal.ts";
import { at, bigNow } from "./at.ts";
import { Sheet } from "./dialogs.tsx";
import { pedalKey } from "./pedal-key.ts";
import { fresh, stance } from "./store.ts";

type Row = ReturnType<typeof listed>["now"][number];

/** The keys of a row: all of them, or the first and the last of many. */
function Keys({ keys }: { keys: readonly string[] }) {
  const many = keys.length > 2;
  const shown = many ? [keys[0]!, keys.at(-1)!] : keys;
  return (
    <>
      {shown.map((key, n) => (
        <span key={key}>
          {n > 0 && ` ${many ? w.to : w.or} `}
          <kbd>{nameOfKey(key)}</kbd>
        </span>
      ))}
    </>
  );
}

function Rows({ rows, big = "" }: { rows: readonly Row[]; big?: string }) {
  const pedal = pedalKey.value;
  return (
    <dl class="keys">
      {rows.map((row) => (
        <div key={row.wish} data-wish={row.wish}>
          <dt>
            <Keys keys={row.keys} />
            {row.wish === "primary" && pedal && (
              <span>
                {" "}
                {w.or} <kbd>{nameOf(pedal)}</kbd> <small>{w.pedal}</small>
              </span>
            )}
          </dt>
          <dd>
            {w.what(row.wish)}
            {row.wish === "primary" && big && <small>{w.bigNow(big)}</small>}
          </dd>
        </div>
      ))}
    </dl>
  );
}

export function KeysDialog() {
  void [stance.value, fresh.value];
  // Some of what keys act on is no signal: looked at again while the list is open.
  const [, look] = useState(0);
  useEffect(() => {
    const beat = setInterval(() => look((n) => n + 1), 500);
    return () => clearInterval(beat);
  }, []);
  const pedal = pedalKey.value;
  const own = plainKey(pedal);
  const { now, not } = listed(at(), own === " " || own === "Enter" ? "" : own);
  return (
    <Sheet title={w.title}>
      <section data-testid="keys-now">
        <h3>{w.now}</h3>
        <Rows rows={now} big={bigNow()} />
      </section>
      {not.length > 0 && (
        <section class="keys-not" data-testid="keys-not">
          <h3>{w.not}</h3>
          <Rows rows={not} />
        </section>
      )}
    </Sheet>
  );
}
