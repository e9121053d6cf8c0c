// What is chosen for this device: the language, the unit masses are shown in, the hand that pours, a pedal.

import { devices } from "../core/devices.ts";
import { UNITS } from "../core/locale.ts";
import { massWithUnit, stamp } from "../core/numbers.ts";
import { to } from "../core/routes.ts";
import { HANDS, LANGUAGES, settings as w } from "../core/settings.ts";
import { AddScale } from "./first-hint.tsx";
import { hand, pourWith } from "./hands.ts";
import { choose, language, showing } from "./language.ts";
import { Pedal } from "./pedal.tsx";

interface Choice {
  name: "language" | "units";
  label: string;
  now: string;
  options: [value: string, text: string][];
}

function Choices({ name, label, now, options }: Choice) {
  return (
    <fieldset class="settings">
      <legend>{label}</legend>
      {options.map(([value, text]) => (
        <label class="choice" key={value}>
          <input type="radio" name={name} value={value} checked={value === now} onChange={() => choose(name, value)} />
          <span lang={name === "language" ? value : undefined}>{text}</span>
        </label>
      ))}
    </fieldset>
  );
}

function Hands() {
  return (
    <>
      <fieldset class="settings">
        <legend>{w.hand}</legend>
        {HANDS.map((it) => (
          <label class="choice" key={it}>
            <input type="radio" name="hand" value={it} checked={it === hand.value} onChange={() => pourWith(it)} />
            <span>{w.hands[it]}</span>
          </label>
        ))}
      </fieldset>
      <p class="soft">{w.handMore}</p>
    </>
  );
}

export function Settings() {
  return (
    <main class="page narrow">
      <h1>{w.title}</h1>
      <p class="soft">{w.lead}</p>
      <Choices name="language" label={w.language} now={language()} options={Object.entries(LANGUAGES)} />
      {language() !== "en" && <p class="soft">{w.english}</p>}
      <Choices name="units" label={w.units} now={showing()} options={UNITS.map((unit) => [unit, w.unit[unit]])} />
      <p class="soft">{w.unitsMore}</p>
      <p>
        {w.example}: <b>{massWithUnit("12345.6")}</b>, <b>{stamp(new Date().toISOString())}</b>
      </p>
      <Hands />
      <Pedal />
      <AddScale />
      <section class="settings-part">
        <h2>{devices.title}</h2>
        <p class="soft">{devices.lead}</p>
        <a class="plain" href={to.devices()} data-testid="to-devices">
          {devices.title}
        </a>
      </section>
    </main>
  );
}
