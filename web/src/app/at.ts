// What there is on the page for keys to act on, at this moment.

import { type At, BOARDS } from "../core/keys.ts";
import { told, trouble } from "./recovering.ts";
import { batch, fresh, live, route } from "./store.ts";

const enabled = (id: string): boolean => {
  const it = document.getElementById(id);
  return it !== null && it.getAttribute("aria-disabled") !== "true" && !(it as HTMLButtonElement).disabled;
};

/** The ways to put a pour right that go, in the order they are shown in. */
export const ways = () => (trouble.peek() === null ? [] : (told.peek()?.options.filter((one) => one.goes) ?? []));

/** Whether a board is shown, whatever can be pressed on it. */
export function boardThere(): boolean {
  const { screen } = route.peek();
  return screen === "bench" ? live.peek() !== null : BOARDS.includes(screen) && document.getElementById("primary") !== null;
}

export function at(): At {
  const it = live.peek();
  return {
    screen: route.peek().screen,
    big: boardThere() && enabled("primary"),
    can: it !== null && fresh.peek() ? it.can : [],
    first: (batch.peek()?.first_out ?? null) !== null,
    ways: ways().length,
    measures: enabled("temperature"),
  };
}

/** What the big button does now, in its own words. */
export const bigNow = (): string => document.getElementById("primary")?.textContent?.trim() ?? "";
