// What is typed finds what is written, with or without accents and capitals.

/** A text in small letters without their accents. */
export const folded = (text: string): string =>
  text
    .normalize("NFKD")
    .replace(/[\u0300-\u036f]/g, "")
    .toLowerCase();

/** Whether a text has every word of what was typed, in any order; nothing typed is in every text. */
export function hasWords(text: string, typed: string): boolean {
  const where = folded(text);
  return folded(typed).split(/\s+/).every((word) => where.includes(word));
}
