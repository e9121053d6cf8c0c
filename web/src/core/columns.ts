// Numbers below each other: where each is cut, and how many places it has.

/** A written mass: its number, and its unit with the space before it. */
export function cut(text: string): [string, string] {
  const at = text.search(/[^\d\u2212\u2013+.,\u2009\u202f'-]/u);
  return at < 0 ? [text, ""] : [text.slice(0, at), text.slice(at)];
}

/** How many digits stand after its decimal mark: the last point or comma. Groups are parted by thin spaces. */
export function places(text: string): number {
  const found = /[.,](\d+)$/.exec(cut(text)[0]);
  return found === null ? 0 : found[1]!.length;
}

/** The most places of a column. */
export const most = (texts: readonly string[]): number => Math.max(0, ...texts.map(places));
