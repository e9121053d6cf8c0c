// A text in which the station's own words may stand: those are marked as English, for screen readers and
// hyphenation.

import { pieces } from "../core/translation.ts";

export function Said({ text }: { text: string }) {
  return (
    <>
      {pieces(text).map((it, n) =>
        it.foreign ? (
          <span lang="en" key={n}>
            {it.text}
          </span>
        ) : (
          it.text
        ),
      )}
    </>
  );
}
