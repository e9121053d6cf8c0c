// In the editor: that an earlier revision stands in the fields, and what of it is otherwise by now.

import { type Again, revisions as w } from "../core/revisions.ts";
import { to } from "../core/routes.ts";
import { Shape } from "./shapes.tsx";

export function TakenUp({ it }: { it: Again }) {
  return (
    <div class="taken-up" data-testid="taken-up">
      <p>
        <Shape name="note" />
        {w.taken(it.revision)}
      </p>
      {it.otherwise.map((one) => (
        <p class="warning" key={one.ingredient}>
          <Shape name="warn" />
          {w.otherwise(one)}
        </p>
      ))}
      {it.stays.length > 0 && (
        <p class="warning">
          <Shape name="warn" />
          {w.stays(it.stays)}
        </p>
      )}
      <a class="plain" href={to.revisions(it.id)}>
        {w.toList}
      </a>
    </div>
  );
}
