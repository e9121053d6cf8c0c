// A step of freezing with dry ice: its figures before it begins, its portions while it goes on, and what
// its record keeps.

import { useEffect, useRef, useState } from "preact/hooks";
import { type About, coldest, dryIce, due, type Figures } from "../core/dry-ice.ts";
import { useAsked } from "./ask.ts";
import { Answer, Field, GivenFields, said, useGiven, useReckoned } from "./dry-ice.tsx";
import { Shape } from "./shapes.tsx";
import { scales } from "./store.ts";

interface Before {
  batch: string;
  limits: string;
  /** What goes along with the command that begins the step; null while it cannot begin. */
  give(fields: Record<string, string> | null): void;
}

/** Before the step: the figures for what is in the bowl, and where the dry ice stands. */
export function DryIceBefore({ batch, limits, give }: Before) {
  const about = useAsked<About>("api/dry-ice").value;
  const [given, set] = useGiven(coldest(limits));
  const [scale, stands] = useState("");
  const [tare, weigh] = useState("");
  const { known, asked } = useReckoned(`api/batches/${encodeURIComponent(batch)}/dry-ice`, given, about);
  const it = asked.value;
  const names = Object.keys(scales.value);
  // With a charge of one's own, or one that is weighed, a mix of which too little is known will do.
  const enough = known && (it !== null || given.charge_g.trim() !== "" || scale !== "");
  const fields = { ...said(given), ...(scale ? { scale, ...(tare.trim() ? { tare_g: tare.trim() } : {}) } : {}) };
  const text = JSON.stringify(enough ? fields : null);
  useEffect(() => give(JSON.parse(text) as Record<string, string> | null), [text]);
  return (
    <section class="dry-ice dry-ice-inside" data-testid="dry-ice-before">
      <h3>{dryIce.step}</h3>
      <GivenFields given={given} set={set} about={about} />
      {names.length > 0 && (
        <div class="fields">
          <label class="field">
            <span>
              {dryIce.stands} <small>{dryIce.standsHint}</small>
            </span>
            <select name="stands" value={scale} onChange={(e) => stands(e.currentTarget.value)}>
              <option value="">{dryIce.standsNowhere}</option>
              {names.map((name) => (
                <option key={name} value={name}>
                  {name}
                </option>
              ))}
            </select>
          </label>
          {scale && <Field name="tare_g" label={dryIce.tare} hint={dryIce.tareHint} value={tare} type={weigh} />}
        </div>
      )}
      <Answer known={known} trouble={asked.trouble} it={it} />
    </section>
  );
}

/** While it goes on: the portion that is due, and when the next one is. */
export function DryIceNow({ figures, elapsed }: { figures: Figures; elapsed: number }) {
  const { now, next } = due(figures.portions, elapsed);
  const seen = useRef<HTMLElement>(null);
  // What came before it was long: the portions are brought into sight once.
  useEffect(() => seen.current?.scrollIntoView({ block: "center" }), []);
  return (
    <section class="dry-ice-now" data-testid="dry-ice-now" role="timer" ref={seen}>
      {now === null ? (
        <p>
          <Shape name="good" /> {dryIce.allIn}
        </p>
      ) : (
        <p>
          <strong>{dryIce.portion(now.n, figures.portions.length, now.grams)}</strong>{" "}
          {next ? dryIce.nextIn(next.at_s - elapsed) : dryIce.lastIn}
        </p>
      )}
    </section>
  );
}

/** What its record keeps of it. */
export function DryIceKept({ figures }: { figures: Figures }) {
  return (
    <div data-testid="dry-ice-kept">
      <p>{dryIce.reckoned(figures)}</p>
      <p>
        {figures.room.above.length > 0 && <Shape name="warn" />} {dryIce.aired(figures)}
      </p>
      {figures.weighed && <p>{dryIce.weighed(figures.weighed)}</p>}
      {figures.share_percent && <p>{dryIce.share(figures.share_percent)}</p>}
    </div>
  );
}
