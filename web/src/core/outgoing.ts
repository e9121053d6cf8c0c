// How the record goes to the shared store: its shape on the wire, and every word about it.

import { plural, when } from "./locale.ts";

export interface Outgoing {
  state: "current" | "behind" | "stopped";
  store: string;
  /** Entries that the shared store does not have yet. */
  behind: number;
  since: string | null;
  contact: string | null;
  code: string;
  why: string;
}

/** Entries that are on their way anyway; fewer are nothing to tell of. */
const MANY = 200;

const stops: Record<string, string> = {
  "shared-ahead":
    "The shared store has entries of this station that this record does not have. Was it put back from an old copy? Then put back a newer one, or give the station a new name. Has another station this name? Rename one.",
  "shared-forked":
    "The shared store has another record under this station\u2019s name. Has another station this name? Rename one. Was this record put back from an old copy? Go on under a new name.",
  "shared-altered":
    "An entry in the shared store is not as this station sent it. Find out who writes there. The record here is whole.",
  "store-refused": "The shared store refuses this station. Look at its user, its password and what it may do there.",
  "store-missing": "There is no such database at the shared store. Look at the address in the configuration.",
  "store-newer": "The shared store is of a newer weighd. Bring this station up to date.",
  "store-older": "The shared store is of an older weighd. Bring it up to date: weighd share --set-up.",
  "store-empty": "The shared store has no tables yet. Make them: weighd share --set-up.",
  "store-not-ours": "The database that is named as shared store is none of weighd. Look at the address.",
};

export const terms = { stops };

export const outgoing = {
  stopped: "Nothing goes to the shared store",
  entries: (n: number) => ({ one: `${n} entry waits` })[plural(n) as string] ?? `${n} entries wait`,
  waiting: (it: Outgoing) => `${outgoing.entries(it.behind)} for the shared store, the oldest from ${when(it.since)}; `,
  sending: (it: Outgoing) => `${outgoing.entries(it.behind)} for the shared store and ${it.behind === 1 ? "goes" : "go"} there now.`,
  away: "it does not answer.",
  troubled: "it cannot take them now.",
  /** What somebody has to do; the station\u2019s own words for what is rarer. */
  todo: (code: string, why: string) => terms.stops[code] ?? why,
};

/** What stands at the foot of every screen: nothing when all is sent. */
export function waiting(it: Outgoing | null | undefined): string {
  if (!it || it.state !== "behind") return "";
  if (it.code === "") return it.behind < MANY ? "" : outgoing.sending(it);
  return `${outgoing.waiting(it)}${it.code === "store-away" ? outgoing.away : outgoing.troubled}`;
}

/** Whether somebody has to do something: told loudly. */
export const stopped = (it: Outgoing | null | undefined): it is Outgoing => it?.state === "stopped";
