// A screen that waits for the station's answer, or did not get one.

import { words } from "../core/words.ts";
import type { Asked } from "./ask.ts";
import { Said } from "./said.tsx";

export function Trouble({ title, asked }: { title: string; asked: Asked<unknown> }) {
  return (
    <main class="page narrow">
      <h1>{title}</h1>
      {asked.trouble ? (
        <>
          <p class="complaint" role="alert">
            <Said text={asked.trouble} />
          </p>
          <button type="button" class="solid" onClick={asked.again}>
            {words.again}
          </button>
        </>
      ) : (
        <p class="soft">{words.loading}</p>
      )}
    </main>
  );
}
