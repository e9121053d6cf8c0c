// Masses below each other end at their decimal marks.

import { cut, places } from "../core/columns.ts";

/** One mass of a column; `most` is how many places the longest of its column has. */
export function Aligned({ text, most }: { text: string; most: number }) {
  const [number, unit] = cut(text);
  const missing = most - places(text);
  // Room as wide as the digits that are not there; nothing that is read or copied.
  const room = missing > 0 ? (missing === most ? "." : "") + "0".repeat(missing) : "";
  return (
    <>
      {number}
      {room && <span class="room" data-room={room} />}
      {unit}
    </>
  );
}
