// A scanner that types is told from a person by its speed and by the key that ends it. A pure function
// over key presses with their times; nothing here looks at a clock.
// That scanners put at most some 30 ms between characters and end with Enter or Tab, and that nobody
// types four in a row so fast, is common practice, no source.

/** The longest wait between two characters of a scan, in ms. */
export const GAP_MS = 50;
/** The same where there is no field to type in: nobody types there, and some scanners are slow, in ms. */
export const SLOW_MS = 120;
/** Codes have this many characters at least; two keys pressed at once are no scan. */
export const LEAST = 4;
/** What parts the fields of a code; scanners type it as itself or as Ctrl and ]. */
export const SEPARATOR = "\u001d";
const LONGEST = 500;

export interface Typed {
  key: string;
  /** When, in ms. */
  t: number;
  ctrlKey: boolean;
  metaKey: boolean;
  altKey: boolean;
}

/** Characters that came fast one after another. */
export interface Burst {
  text: string;
  last: number;
}

export interface Heard {
  burst: Burst | null;
  /** A whole code, once it is ended. */
  scan: string | null;
  /** The press belongs to a scan, as far as can be told, and means nothing by itself. */
  ours: boolean;
}

function character(press: Typed): string {
  const separates = press.key === SEPARATOR || (press.ctrlKey && press.key === "]");
  if (separates) return SEPARATOR;
  if (press.ctrlKey || press.metaKey || press.altKey) return "";
  return press.key.length === 1 ? press.key : "";
}

/** What one more press makes of what was typed before; `gap`: the longest wait within a scan, in ms. */
export function hear(before: Burst | null, press: Typed, gap = GAP_MS): Heard {
  // Shift comes between characters, and is none.
  if (press.key === "Shift" || press.key === "Control") return { burst: before, scan: null, ours: false };
  const fast = before !== null && press.t - before.last <= gap;
  const one = character(press);
  if (one !== "") {
    // No code begins with a blank: the space bar pressed some times in a row is no scan.
    const text = (fast ? before.text + one : one).trimStart();
    if (text === "") return { burst: null, scan: null, ours: false };
    return { burst: { text: text.slice(0, LONGEST), last: press.t }, scan: null, ours: fast };
  }
  const ends = (press.key === "Enter" || press.key === "Tab") && fast && before.text.length >= LEAST;
  return { burst: null, scan: ends ? before.text : null, ours: ends };
}
