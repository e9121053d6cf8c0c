// How another language is put over the English: word for word, where it has one; English stays where it
// has none. The shape of a translation follows from the English by its type.

/** Stands for a function that has no words of its own: it only looks up what is translated elsewhere. */
export const same: unique symbol = Symbol("same");

type Wide<R> = R extends string ? string : R;

/** What a translation of T looks like: the same keys, functions of the same parameters, lists as long. */
export type Translation<T> = T extends string
  ? string
  : T extends (...args: infer A) => infer R
    ? ((...args: A) => Wide<R>) | typeof same
    : T extends readonly unknown[]
      ? { readonly [K in keyof T]: Translation<T[K]> }
      : { readonly [K in keyof T]-?: Translation<T[K]> };

type Words = Record<string, unknown>;
const isWords = (it: unknown): it is Words => typeof it === "object" && it !== null && !Array.isArray(it);

/** Puts a translation over words, in place: whoever holds these words then says the others. Keys that the
 *  English does not have are left out. */
export function putOver(words: object, translation: object): void {
  const into = words as Words;
  for (const [key, said] of Object.entries(translation)) {
    if (said === same || !(key in into)) continue;
    const there = into[key];
    if (isWords(there) && isWords(said)) putOver(there, said);
    else into[key] = said;
  }
}

/** What was said in another language than the page's stands between these (Unicode isolates, UAX 9):
 *  they do not show, and the page marks what is between. */
const [OPEN, SHUT] = ["\u2068", "\u2069"];

export const foreign = (text: string): string => (text ? `${OPEN}${text}${SHUT}` : "");

/** A text in pieces, each with whether it is in the other language. */
export function pieces(text: string): { text: string; foreign: boolean }[] {
  return text
    .split(/(\u2068[^\u2069]*\u2069)/)
    .filter(Boolean)
    .map((part) => (part.startsWith(OPEN) ? { text: part.slice(1, -1), foreign: true } : { text: part, foreign: false }));
}
