// Before a batch: scales that do not stand well by their check, and the way to it.

import { checks as w } from "../core/checks.ts";
import { to } from "../core/routes.ts";
import { Shape } from "./shapes.tsx";
import { scales } from "./store.ts";

export function CheckHints({ names }: { names: string[] }) {
  const unwell = names.flatMap((name) => {
    const check = scales.value[name]?.check ?? null;
    return check === null || (check.standing === "good" && check.running === null) ? [] : [{ name, check }];
  });
  return (
    <>
      {unwell.map(({ name, check }) => (
        <p class="board-check" key={name} data-testid="check-hint">
          <Shape name={check.barred ? "warn" : "note"} />
          <span>{check.running ? `${name}: ${w.checking}` : w.hint(name, check)}</span>
          <a href={to.check(name)}>{check.running ? w.see : w.open}</a>
        </p>
      ))}
    </>
  );
}
