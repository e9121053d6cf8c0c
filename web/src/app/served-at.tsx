// The temperature that a mix is served at: chosen once, and remembered on this device.

import { useState } from "preact/hooks";
import { asWeighed as w } from "../core/as-weighed.ts";
import { celsius } from "../core/mix.ts";
import { recall, remember } from "./store.ts";

export function useServed(): [served: string, serve: (c: string) => void] {
  const [served, set] = useState(recall("served") || "-12");
  return [
    served,
    (c) => {
      set(c);
      remember("served", c);
    },
  ];
}

export function ServedAt({ served, serve, more = "" }: { served: string; serve(c: string): void; more?: string }) {
  return (
    <label class={`field ${more}`.trim()}>
      <span>{w.served}</span>
      <select name="served" value={served} onChange={(e) => serve(e.currentTarget.value)}>
        {w.temperatures.map((c) => (
          <option key={c} value={c}>
            {celsius(c)}
          </option>
        ))}
      </select>
    </label>
  );
}
