// How far behind the shared store is: a line at the foot, and a banner where somebody has to act.

import { outgoing, stopped, waiting } from "../core/outgoing.ts";
import { Shape } from "./shapes.tsx";
import { fresh, sharing } from "./store.ts";

export function OutgoingBanner() {
  const it = sharing.value;
  if (!stopped(it)) return null;
  return (
    <div class="banner banner-error" role="alert" data-testid="outgoing-stopped">
      <Shape name="warn" />
      <details>
        <summary>{outgoing.stopped}</summary>
        <p>{outgoing.todo(it.code, it.why)}</p>
      </details>
    </div>
  );
}

export function OutgoingLine() {
  const said = fresh.value ? waiting(sharing.value) : "";
  return said === "" ? null : <span class="foot-line" data-testid="outgoing">{said} </span>;
}
