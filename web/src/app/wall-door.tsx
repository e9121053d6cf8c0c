// Before the wall: what it is, and the one press that browsers ask for before they let a page fill the screen.

import { to } from "../core/routes.ts";
import { wall as w } from "../core/wall.ts";
import { canFill, enter } from "./wall-leave.ts";

export function WallDoor() {
  const fills = canFill();
  const address = new URL(to.wall(true), document.baseURI).href;
  return (
    <main class="page narrow wall-door">
      <h1>{w.title}</h1>
      <p>{w.lead}</p>
      <p class="soft">{w.size}</p>
      <div class="row">
        {fills && (
          <button type="button" class="solid" data-testid="wall-full" onClick={() => void enter(true)}>
            {w.full}
          </button>
        )}
        <button type="button" class={fills ? "plain" : "solid"} data-testid="wall-here" onClick={() => void enter(false)}>
          {w.here}
        </button>
      </div>
      <p>{w.leave}</p>
      <p class="soft">{"wakeLock" in navigator ? w.awake : w.asleep}</p>
      <p class="soft">
        {w.itself} <code>{address}</code>
      </p>
    </main>
  );
}
