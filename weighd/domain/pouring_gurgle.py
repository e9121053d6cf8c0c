"""The swing of a gurgling stream about its line, and where it will be when the pour ends.

A bottle gurgles at a steady beat, one to four gulps a second. The newest displays are fitted by a
line and one wave (least squares, for each of a few beats); if the best wave explains clearly more
than chance would, its swing at a moment just ahead is told. The scale's filter has made the swing
smaller than it is in the bowl; the scatter of the cook's reaction makes it count for less; the two
are taken to cancel.
"""

from __future__ import annotations

import math
from collections import deque

#: What is looked at, how many displays at most and at least, and how many beats.
SECONDS, APART_S, FEWEST = 2.2, 0.06, 10
BEATS_HZ = (1.0, 1.3, 1.6, 1.9, 2.2, 2.6, 3.0, 3.5)
#: A wave must explain this share of what the line leaves, before it counts, and counts in full.
CHANCE, SURE = 0.5, 0.9


class Gurgle:
    """Displays of one stream: times in seconds, grams."""

    def __init__(self) -> None:
        self._rows: deque[tuple[float, float]] = deque()

    def clear(self) -> None:
        """Another stream."""
        self._rows.clear()

    def add(self, t: float, value: float) -> None:
        """A display."""
        rows = self._rows
        if rows and t - rows[-1][0] < APART_S:
            return
        rows.append((t, value))
        while t - rows[0][0] > SECONDS:
            rows.popleft()

    def forecast(self, t: float) -> tuple[float, float]:
        """Grams displayed at ``t`` by line and wave, and how far to believe it (0 to 1)."""
        rows = self._rows
        if len(rows) < FEWEST or rows[-1][0] - rows[0][0] < 0.7 * SECONDS:
            return 0.0, 0.0
        last = rows[-1][0]
        times = [one - last for one, _ in rows]
        shown = [value for _, value in rows]
        values = _off_line(times, shown)
        total = sum(value * value for value in values)
        if total <= 0:
            return 0.0, 0.0
        apart = -times[0] / (len(times) - 1)
        best, found = CHANCE * total, (0.0, 0.0, 0.0)
        for hz in BEATS_HZ:
            if hz * apart > 0.36:
                break
            explained, a, b = _wave(times, values, math.tau * hz)
            if explained > best:
                best, found = explained, (math.tau * hz, a, b)
        omega, a, b = found
        if not omega:
            return 0.0, 0.0
        waves = [a * math.cos(omega * one) + b * math.sin(omega * one) for one in times]
        n = len(times)
        rest = [v - w for v, w in zip(shown, waves, strict=True)]
        t0, v0 = sum(times) / n, sum(rest) / n
        square = sum((one - t0) ** 2 for one in times)
        slope = sum((one - t0) * v for one, v in zip(times, rest, strict=True)) / square
        ahead = t - last
        share = min((best / total - CHANCE) / (SURE - CHANCE), 1.0)
        wave = a * math.cos(omega * ahead) + b * math.sin(omega * ahead)
        return v0 + slope * (ahead - t0) + wave, share


def _off_line(times: list[float], values: list[float]) -> list[float]:
    """What a straight line (least squares) leaves of ``values``."""
    n = len(times)
    t0, v0 = sum(times) / n, sum(values) / n
    square = sum((t - t0) ** 2 for t in times)
    slope = sum((t - t0) * v for t, v in zip(times, values, strict=True)) / square
    return [v - v0 - slope * (t - t0) for t, v in zip(times, values, strict=True)]


def _wave(times: list[float], values: list[float], omega: float) -> tuple[float, float, float]:
    """The wave of this beat that fits best: the square sum it explains, cosine and sine part."""
    cosines = _off_line(times, [math.cos(omega * t) for t in times])
    sines = _off_line(times, [math.sin(omega * t) for t in times])
    cc = sum(c * c for c in cosines)
    ss = sum(s * s for s in sines)
    cs = sum(c * s for c, s in zip(cosines, sines, strict=True))
    vc = sum(v * c for v, c in zip(values, cosines, strict=True))
    vs = sum(v * s for v, s in zip(values, sines, strict=True))
    determinant = cc * ss - cs * cs
    # Displays 0.06 s apart make no beat's two parts one; a guard for a division, should they.
    if determinant <= 1e-9 * cc * ss:  # pragma: no cover
        return 0.0, 0.0, 0.0
    a, b = (vc * ss - vs * cs) / determinant, (vs * cc - vc * cs) / determinant
    return a * vc + b * vs, a, b
