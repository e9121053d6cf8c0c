// The way in for a device that the station does not know: a code of eight digits, on large keys.

import { undone } from "../core/answers.ts";
import { devices, DIGITS, grouped, type This, typed } from "../core/devices.ts";
import { words } from "../core/words.ts";
import { forgotten, letIn } from "./door.ts";
import { Keypad, type Refused } from "./keypad.tsx";
import { Shape } from "./shapes.tsx";
import { requests } from "./store.ts";

const FIELD = { secret: false, name: "code", autocomplete: "one-time-code" };

/** Nothing where the code let this device in. */
async function pair(code: string): Promise<Refused | null> {
  const answer = await requests.ask<{ device: This["device"] }>("api/device/pair", { code });
  if (answer.kind === "ok") {
    letIn({ home: false, device: answer.value.device });
    return null;
  }
  const { code: why = "", wait_s = 0 } = answer.kind === "refused" ? answer.problem : {};
  return { text: wait_s ? "" : why === "wrong-code" ? devices.knock.wrong : undone(answer), wait_s };
}

export function Knock() {
  const w = devices.knock;
  return (
    <main class="page narrow knock" data-testid="knock">
      <h1>{w.title}</h1>
      {forgotten.value && (
        <p class="knock-forgotten" role="status">
          <Shape name="lost" /> {w.forgotten}
        </p>
      )}
      <p>{w.how}</p>
      <Keypad label={w.code} words={w} field={FIELD} take={typed} shown={grouped} whole={(code) => code.length === DIGITS} send={pair} />
      <p class="soft">{words.legal}</p>
    </main>
  );
}
