// Addresses within the page: what stands after the #.

export type Route =
  | { screen: "bench" }
  | { screen: "start"; formula: string | null }
  | { screen: "records" }
  | { screen: "record"; batch: string }
  | { screen: "check"; scale: string }
  | { screen: "scales" };

export function readRoute(hash: string): Route {
  const parts = hash.replace(/^#\/?/, "").split("/").map(plain);
  const [screen, id] = parts;
  if (screen === "start") return { screen: "start", formula: id || null };
  if (screen === "records" && id) return { screen: "record", batch: id };
  if (screen === "records") return { screen: "records" };
  if (screen === "scales" && id && parts[2] === "check") return { screen: "check", scale: id };
  if (screen === "scales") return { screen: "scales" };
  return { screen: "bench" };
}

function plain(part: string): string {
  try {
    return decodeURIComponent(part);
  } catch {
    return part;
  }
}

export const to = {
  bench: () => "#/",
  start: (formula?: string) => (formula ? `#/start/${encodeURIComponent(formula)}` : "#/start"),
  records: () => "#/records",
  record: (batch: string) => `#/records/${encodeURIComponent(batch)}`,
  scales: () => "#/scales",
  check: (scale: string) => `#/scales/${encodeURIComponent(scale)}/check`,
};
