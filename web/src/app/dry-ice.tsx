// Freezing a formula with dry ice: what to read first, what it takes, and what it does to the air.

import { useEffect, useState } from "preact/hooks";
import { type About, type AirLimit, bar, clock, type DryIce, dryIce, type Loss, POST, ppm } from "../core/dry-ice.ts";
import { massWithUnit, typedMass } from "../core/numbers.ts";
import { useAsked, useSettled } from "./ask.ts";
import { Said } from "./said.tsx";
import { Shape } from "./shapes.tsx";
import { recall, remember, scales } from "./store.ts";

interface FieldProps {
  name: string;
  label: string;
  hint?: string;
  value: string;
  type(text: string): void;
  /** A temperature may be below zero, and a number pad of a phone has no minus. */
  signed?: boolean;
}

export function Field({ name, label, hint, value, type, signed }: FieldProps) {
  return (
    <label class="field">
      <span>
        {label} {hint && <small>{hint}</small>}
      </span>
      <input
        type="text"
        inputMode={signed ? "text" : "decimal"}
        autocomplete="off"
        name={name}
        value={value}
        onInput={(e) => type(e.currentTarget.value)}
      />
    </label>
  );
}

/** One limit of the air: the post stands at the limit, the bar is what was reckoned. */
function Limit({ it }: { it: AirLimit }) {
  return (
    <li class="air" data-over={it.exceeded}>
      <span>{it.over}</span>
      <strong>
        {it.exceeded && <Shape name="over" />}
        {ppm(it.reckoned_ppm)}
      </strong>
      <svg viewBox="0 0 100 10" preserveAspectRatio="none" aria-hidden="true">
        <rect class="room" width="100" height="10" />
        <rect class="level" width={bar(it).toFixed(1)} height="10" />
        <rect class="post" x={POST - 0.5} width="1" height="10" />
      </svg>
      <em>{dryIce.against(it)}</em>
      <small>
        {it.by}. {it.exceeded && dryIce.needed(it)}
      </small>
    </li>
  );
}

function Result({ it }: { it: DryIce }) {
  const missing = dryIce.missing(it);
  return (
    <>
      <p class="charge" data-testid="charge">
        <strong>{dryIce.charge(it.charge)}</strong> <Said text={dryIce.chargeNote(it.charge)} />
      </p>
      {missing && <p class="hint">{missing}</p>}
      <h3>{dryIce.air}</h3>
      <p>{dryIce.airOf(it.room)}</p>
      <ul class="airs">
        {it.room.limits.map((each) => (
          <Limit key={each.id} it={each} />
        ))}
      </ul>
      <p>{dryIce.after(it.room)}</p>
      <p class="warning">
        <Shape name="warn" />
        {it.room.warning}
      </p>
      <dl class="facts">
        {dryIce.heat(it.heat).map(([name, value]) => (
          <div key={name}>
            <dt>{name}</dt>
            <dd>{value}</dd>
          </div>
        ))}
      </dl>
      <p class="soft"><Said text={dryIce.leftOut(it.heat)} /></p>
      <p><Said text={dryIce.portions(it.portions)} /></p>
      <ol class="portions">
        {it.portions.list.map((each) => (
          <li key={each.n}>
            <span>{clock(each.at_s)}</span> {massWithUnit(each.grams)}
          </li>
        ))}
      </ol>
      <p><Said text={dryIce.then(it.portions)} /></p>
      <p class="soft"><Said text={dryIce.rule(it.charge)} /></p>
      <p class="soft"><Said text={dryIce.elsewhere(it.elsewhere)} /></p>
      <details class="sources">
        <summary>{dryIce.sources}</summary>
        <dl>
          {it.constants.map((each) => (
            <div key={each.name}>
              <dt>{each.name}</dt>
              <dd><Said text={dryIce.constant(each)} /></dd>
            </div>
          ))}
        </dl>
        {it.assumptions.map((text) => (
          <p class="soft" key={text}>
            {text}
          </p>
        ))}
      </details>
    </>
  );
}

/** How fast what stands on a scale wastes away, asked anew every two seconds. */
function Losing({ charge }: { charge: string }) {
  const names = Object.keys(scales.value);
  const [chosen, choose] = useState(names[0] ?? "");
  const [wanted, want] = useState("");
  const [minutes, wait] = useState("5");
  const scale = names.includes(chosen) ? chosen : (names[0] ?? "");
  const usual = String(Math.round(Number(charge)));
  const typed = typedMass(useSettled(wanted.trim() === "" ? usual : wanted));
  const later = typedMass(useSettled(minutes));
  const query = new URLSearchParams();
  if (typed) query.set("want_g", typed);
  if (later) query.set("wait_s", String(Math.round(Number(later) * 60)));
  const asked = useAsked<Loss>(scale && typed && later ? `api/scales/${encodeURIComponent(scale)}/loss?${query}` : null);
  useEffect(() => {
    const soon = setInterval(asked.again, 2000);
    return () => clearInterval(soon);
  }, []);
  const it = asked.value;
  return (
    <section class="losing" data-testid="losing">
      <h3>{dryIce.losing}</h3>
      <div class="fields">
        {names.length > 1 && (
          <label class="field">
            <span>{dryIce.scale}</span>
            <select name="loss_scale" value={scale} onChange={(e) => choose(e.currentTarget.value)}>
              {names.map((name) => (
                <option key={name}>{name}</option>
              ))}
            </select>
          </label>
        )}
        <Field name="want_g" label={dryIce.want} hint={usual} value={wanted} type={want} />
        <Field name="wait_min" label={dryIce.wait} value={minutes} type={wait} />
      </div>
      {it === null ? (
        <p class="soft">{asked.trouble || dryIce.waiting}</p>
      ) : (
        <>
          <p class="charge">
            <strong>{dryIce.shows(it)}</strong> {dryIce.rate(it)}
          </p>
          {it.weigh_out_g !== null && typed && later ? (
            <p data-testid="weigh-out">{dryIce.weighOut(it, typed, later)}</p>
          ) : (
            it.at_use_g !== null && later && <p>{dryIce.atUse(it, later)}</p>
          )}
          {it.why && <p class="soft">{it.why}</p>}
        </>
      )}
    </section>
  );
}

/** What can be typed, each key a field that the station knows. */
export interface Given {
  from_c: string;
  to_c: string;
  room_m3: string;
  air_changes: string;
  release_min: string;
  efficiency_percent: string;
  vessel_g: string;
  vessel_of: string;
  charge_g: string;
}

/** What was typed, with the room as it was on this device. */
export function useGiven(to: string): [Given, (key: keyof Given) => (text: string) => void] {
  const [given, keep] = useState<Given>({
    from_c: "5",
    to_c: to,
    room_m3: recall("room_m3"),
    air_changes: recall("air_changes"),
    release_min: "",
    efficiency_percent: "",
    vessel_g: "",
    vessel_of: "",
    charge_g: "",
  });
  useEffect(() => {
    remember("room_m3", given.room_m3.trim());
    remember("air_changes", given.air_changes.trim());
  }, [given.room_m3, given.air_changes]);
  return [given, (key) => (text) => keep((now) => ({ ...now, [key]: text }))];
}

/** The fields that hold something, as the station takes them. */
export function said(given: Given): Record<string, string> {
  return Object.fromEntries(Object.entries(given).flatMap(([key, text]) => (text.trim() === "" ? [] : [[key, text.trim()]])));
}

export function GivenFields({ given, set, about }: { given: Given; set: ReturnType<typeof useGiven>[1]; about: About | null }) {
  const usual = about?.usual ?? {};
  const field = (name: keyof Given, label: string, hint?: string, signed = false) => (
    <Field name={name} label={label} {...(hint ? { hint } : {})} value={given[name]} type={set(name)} signed={signed} />
  );
  return (
    <div class="fields">
      {field("from_c", dryIce.from, undefined, true)}
      {field("to_c", dryIce.to, undefined, true)}
      {field("room_m3", dryIce.room, usual["room_m3"] ?? dryIce.roomHint)}
      {field("air_changes", dryIce.changes, usual["air_changes"] ?? dryIce.changesHint)}
      {field("release_min", dryIce.release, dryIce.releaseHint)}
      {field("efficiency_percent", dryIce.efficiency, usual["efficiency_percent"] ?? `60, ${dryIce.efficiencyHint}`)}
      {field("vessel_g", dryIce.vessel, dryIce.vesselHint)}
      {given.vessel_g.trim() !== "" && (
        <label class="field">
          <span>
            {dryIce.vesselOf} <small>{dryIce.vesselOfHint}</small>
          </span>
          <select name="vessel_of" value={given.vessel_of || "steel"} onChange={(e) => set("vessel_of")(e.currentTarget.value)}>
            {(about?.materials ?? ["steel"]).map((each) => (
              <option key={each}>{each}</option>
            ))}
          </select>
        </label>
      )}
      {field("charge_g", dryIce.own, dryIce.ownHint)}
    </div>
  );
}

/** What the station makes of what was typed; nothing before there is a room. */
export function useReckoned(path: string, given: Given, about: About | null, more: Record<string, string> = {}) {
  const query = useSettled(new URLSearchParams({ ...more, ...said(given) }).toString());
  const known = given.room_m3.trim() !== "" || about?.usual["room_m3"] !== undefined;
  return { known, asked: useAsked<DryIce>(known && about !== null ? `${path}?${query}` : null) };
}

/** What was worked out; why there is nothing, where that is so. */
export function Answer({ known, trouble, it }: { known: boolean; trouble: string; it: DryIce | null }) {
  return (
    <>
      {!known && <p class="hint">{dryIce.needsRoom}</p>}
      {trouble && (
        <p class="complaint" role="alert">
          <Said text={trouble} />
        </p>
      )}
      {it !== null && <Result it={it} />}
      {it !== null && <Losing charge={it.charge.counted_g} />}
    </>
  );
}

export function DryIcePanel({ formula, batch_g }: { formula: string; batch_g: string | null }) {
  const [open, turn] = useState(false);
  return (
    <details class="mix dry-ice" data-testid="dry-ice" open={open} onToggle={(e) => turn(e.currentTarget.open)}>
      <summary>{dryIce.title}</summary>
      {open && <Inside formula={formula} batch_g={batch_g} />}
    </details>
  );
}

function Inside({ formula, batch_g }: { formula: string; batch_g: string | null }) {
  const about = useAsked<About>("api/dry-ice").value;
  const [given, set] = useGiven("-6");
  const path = `api/formulas/${encodeURIComponent(formula)}/dry-ice`;
  const { known, asked } = useReckoned(path, given, about, batch_g ? { batch_g } : {});
  const it = asked.value;
  // It stands in the form that starts a batch: Enter here starts none.
  const stay = (event: KeyboardEvent) => {
    if (event.key === "Enter" && event.target instanceof HTMLInputElement) event.preventDefault();
  };
  return (
    <div class="dry-ice-inside" onKeyDown={stay}>
      <h3>{dryIce.first}</h3>
      <ul class="cautions">
        {(about?.cautions ?? []).map((each) => (
          <li key={each.name}>
            <Shape name="warn" />
            <span>
              <strong>{dryIce.caution(each.name)}</strong> {each.text}
            </span>
          </li>
        ))}
      </ul>
      <GivenFields given={given} set={set} about={about} />
      <Answer known={known} trouble={asked.trouble} it={it} />
    </div>
  );
}
