// Other devices that were let in: what the station says of them, and the words for it.

import { when } from "./numbers.ts";

export type May = "look" | "work" | "all";
export const MAYS = ["work", "look", "all"] as const satisfies readonly May[];

/** The answer of api/device: who this page is to the station. */
export interface This {
  home: boolean;
  device: { id: string; name: string; may: May } | null;
}

export interface Device {
  id: string;
  name: string;
  may: May;
  since: string;
  seen: string;
  /** It is the one that asks. */
  this: boolean;
}

/** The answer of api/devices. */
export interface Devices {
  /** What other devices open; empty where none can come in. */
  at: string[];
  /** They come in without TLS. */
  plain: boolean;
  /** Whoever asks stands at the station. */
  here: boolean;
  devices: Device[];
  waiting: { name: string; may: May } | null;
}

/** The answer to a device that is to come in. */
export interface Offer {
  code: string;
  name: string;
  good_s: number;
  at: string[];
}

export const DIGITS = 8;

/** A code as far as it is typed, after a key was pressed. */
export function typed(code: string, key: string): string {
  if (/^[0-9]$/.test(key)) return code.length < DIGITS ? code + key : code;
  if (key === "Backspace") return code.slice(0, -1);
  return key === "Delete" ? "" : code;
}

/** A code in two groups, as it is read aloud. */
export const grouped = (code: string): string => [code.slice(0, 4), code.slice(4)].filter(Boolean).join(" ");

/** Seconds as minutes and seconds. */
export const left = (seconds: number): string => `${Math.floor(seconds / 60)}:${String(Math.floor(seconds % 60)).padStart(2, "0")}`;

/** What has to stand in weighd.toml where there is no second door yet; `host` is where this page was opened. */
export const LINES = `[elsewhere]
host = "0.0.0.0"
names = ["ADDRESS OF THIS COMPUTER"]
certificate = "bench.pem"
key = "bench.key"`;

const mays: Record<May, string> = { work: "Works", look: "Only looks", all: "Stands in for the station's own computer" };
const about: Record<May, string> = {
  work: "Weighs, and whatever the rights of people allow: a tablet at the bench.",
  look: "Changes nothing: a screen on a wall.",
  all: "Also sets scales up and lets devices in: for a station without a screen of its own.",
};

export const terms = { mays, about };

export const devices = {
  title: "Devices",
  nav: "Devices",
  lead: "Tablets, phones and screens that may open this page. Each was let in with a code from here.",
  open: "Devices that were let in",
  none: "No other device was let in.",
  noneMore: "This page opens on the station's own computer only.",
  may: (may: May) => mays[may],
  about: (may: May) => about[may],
  since: (at: string) => `let in ${when(at)}`,
  seen: (at: string) => `last seen ${when(at)}`,
  thisOne: "this device",
  forget: "Forget",
  forgetSure: "Press again to forget",
  add: "Let a device in",
  name: "What it is called",
  nameHint: "like: tablet at the bench",
  what: "What it may do",
  show: "Show the code",
  code: "Code",
  type: "Open this on the device, and type the code there:",
  good: (time: string) => `Good once, for another ${time}`,
  over: "The code is not good any more.",
  isIn: (name: string) => `${name} was let in.`,
  withdraw: "Not now",
  atStation: "Devices are let in and forgotten at the station's own screen.",
  plain: "Without TLS: whoever is on that network can read all that is sent, PINs too.",
  shut: "This station is open to its own computer only.",
  shutMore: "For other devices these lines have to stand in weighd.toml, with the name or address that they open; then the station is started anew:",
  shutDocs: "Where a certificate comes from, and how it goes without one, stands in the documentation (Reach it from elsewhere).",
  only: "This device only looks: nothing can be done at it.",
  knock: {
    title: "Let this device in",
    forgotten: "This device was forgotten at the station.",
    how: "At the station, somebody opens Settings, then Devices, then Let a device in (or runs weighd pair). Type the code that is shown there.",
    code: "Code, eight digits",
    digits: (n: number) => (n === 1 ? "1 digit of 8" : `${n} digits of 8`),
    erase: "Erase",
    ok: "OK",
    checking: "One moment",
    wrong: "That is not the code, or it is not good any more.",
    waits: (seconds: number) => `Too many wrong codes. Wait ${seconds} s.`,
  },
};
