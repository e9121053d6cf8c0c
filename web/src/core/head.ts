// What /api/head answers, and the words for it.

export interface HeadAnswer {
  configured: boolean;
  head: { day: string; short: string; entries: number; at: string; key: string; missed: string[] } | null;
  next: string;
  folder: string;
  problem: string;
}

export const headWords = {
  title: (day: string | null) => (day ? `Head of ${day}` : "No head yet"),
  about: (entries: number) => `It stands for ${entries} ${entries === 1 ? "entry" : "entries"}.`,
  what: "Copied into a book, it shows any rewriting of what was recorded before.",
  missed: (days: string) => `It stands for ${days} too, when the station was not running.`,
  problem: (why: string) => `It is not where it should be: ${why}`,
  next: (at: string) => `The next one is made ${at}.`,
};
