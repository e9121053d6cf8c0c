// What is chosen for this device: the language, and the unit masses are shown in.

import { UNITS } from "../core/locale.ts";
import { massWithUnit, stamp } from "../core/numbers.ts";
import { LANGUAGES, settings as w } from "../core/settings.ts";
import { choose, language, showing } from "./language.ts";

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
    </main>
  );
}
