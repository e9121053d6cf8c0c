// What a screen reader hears: a change of addition, phase or verdict, once; never each reading.

import { useSignalEffect } from "@preact/signals";
import { useState } from "preact/hooks";
import { words } from "../core/words.ts";
import { cue, current, fresh, link, live, past, stance } from "./store.ts";

export function Announcer() {
  const [polite, sayPolitely] = useState("");
  const [urgent, sayUrgently] = useState("");
  useSignalEffect(() => {
    void stance.value;
    if (link.value === "lost") {
      sayUrgently(words.link.lost);
      return;
    }
    const it = live.peek();
    if (!fresh.value) return;
    if (it === null) {
      // What was said of a batch, or of a link that was lost, is over: nobody should find it still standing.
      sayUrgently("");
      sayPolitely("");
      return;
    }
    const text = `${current.peek()?.name ?? ""}: ${words.phase(it, past.peek(), cue.peek())}`;
    if (it.phase === "held") sayUrgently(text);
    else {
      sayUrgently("");
      sayPolitely(text);
    }
  });
  return (
    <div class="visually-hidden">
      <p aria-live="polite" data-testid="said">
        {polite}
      </p>
      <p aria-live="assertive" data-testid="said-urgently">
        {urgent}
      </p>
    </div>
  );
}
