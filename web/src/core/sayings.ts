// What the station says in sentences of its own, said again in another language. As with gettext the
// English sentence is the key; `{}` stands for what the station filled in.

export type Sayings = Readonly<Record<string, string>>;

/** How a slot is written: `{1}` as it came, `{1:g}` a mass in the unit that is shown,
 *  `{1?short=zu wenig|over=zu viel}` a word for a word. */
const SLOT = /\{(\d)(?::(g)|\?([^}]*))?\}/g;

const literal = (text: string) => text.replace(/[.*+?^${}()|[\]\\]/g, "\\$&");

function pattern(key: string): RegExp {
  return new RegExp(`^${key.split("{}").map(literal).join("(.+?)")}$`, "su");
}

/** A table made ready: gives a sentence in its language, null where it has none for it.
 *
 *  A sentence may begin with a capital or not, and end with a full stop or not: the station makes a
 *  sentence of what a field says. Of two that fit, the one with more words of its own is taken. */
export function sayer(table: Sayings, inUnit: (grams: string) => string): (text: string) => string | null {
  const known = Object.entries(table)
    .map(([key, said]) => ({ at: pattern(key), own: key.replaceAll("{}", "").length, said }))
    .sort((a, b) => b.own - a.own);
  const filled = (said: string, slots: string[]) =>
    said.replace(SLOT, (_, n: string, g: string | undefined, choices: string | undefined) => {
      const slot = slots[Number(n) - 1] ?? "";
      if (g) return inUnit(slot);
      const chosen = choices?.split("|").find((one) => one.startsWith(`${slot}=`));
      return chosen ? chosen.slice(slot.length + 1) : slot;
    });
  return (text) => {
    const bare = text.replace(/\.$/, "");
    const forms = [bare, bare.slice(0, 1).toLowerCase() + bare.slice(1)];
    for (const { at, said } of known) {
      for (const form of forms) {
        const found = at.exec(form);
        if (found) return sentence(filled(said, found.slice(1)), text);
      }
    }
    return null;
  };
}

/** A sentence where the text it stands for is one. */
function sentence(said: string, like: string): string {
  return like.endsWith(".") ? `${said.slice(0, 1).toUpperCase()}${said.slice(1)}.` : said;
}
