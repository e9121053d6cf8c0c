"""Readings into phases: pouring, settling, settled, disturbed.

The rule, on displayed readings that the scale has already filtered, delayed and rounded:

1. *Quiet* is a run of readings that stay within a band: one interval, or four times the noise
   this scale has shown while settled, whichever is wider; and whose earlier and later halves
   agree to half a band.
2. Quiet must *last*: long enough for the scale's filter, and longer than the gaps between the
   last steps of the display, so that drops, taps of a spoon and a slow trickle are not a stop.
3. The scale's own stability flag shortens or lengthens the wait; it never decides.
4. A claim is ``firm`` after it has stood a little longer. Only firm claims may enter a record.
5. One reading decides nothing: no claim rests on fewer than ``FEWEST`` readings.

Memory is bounded by ``LONGEST`` seconds of readings, ``MOST`` at the most.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from weighd.domain.metrology import Level, level
from weighd.domain.reading import Reading

#: Seconds of quiet before a claim, and how much longer before it is firm.
HOLD_S = 0.6
FIRM_S = 0.4
#: Gaps between steps of the display stretch the wait up to this.
LONGEST_HOLD_S = 2.5
GAP_FACTOR = 1.4
GAP_FORGOTTEN_S = 6.0
FLAG_TRUE_S = -0.15
FLAG_FALSE_S = 0.5
FEWEST = 4
LONGEST = 4.0
MOST = 320
#: Readings kept as evidence of a claim: the newest of its quiet run.
EVIDENCE = 12


class Phase(StrEnum):
    """What the load on the scale is doing."""

    EMPTY = "empty"
    POURING = "pouring"
    SETTLING = "settling"
    SETTLED = "settled"
    DISTURBED = "disturbed"


@dataclass(frozen=True, slots=True)
class Finding:
    """What is known after a reading.

    ``level``  the settled display in grams with its uncertainty, only when ``SETTLED``.
    ``firm``   whether the level may enter a record.
    ``why``    only when ``DISTURBED``: ``"lift"``, ``"overload"``, or the scale's fault.
    ``rising`` whether the load is growing.
    """

    t: float
    phase: Phase
    level: Level | None = None
    firm: bool = False
    why: str = ""
    rising: bool = False


class Settling:
    """A streaming detector for one scale with interval ``interval_g`` grams (> 0)."""

    def __init__(self, interval_g: Decimal) -> None:
        if interval_g <= 0:
            raise ValueError(f"a scale interval is above zero, not {interval_g}")
        self.interval_g = interval_g
        self._d = float(interval_g)
        self._noise = 0.3 * self._d
        self.forget()

    def forget(self) -> None:
        """Start afresh, keeping what was learned of the scale: its noise."""
        self._window: deque[tuple[float, float, Reading]] = deque(maxlen=MOST)
        self._gaps: deque[tuple[float, float]] = deque(maxlen=6)
        self._stepped = -1e9
        self._last_level: float | None = None
        self._claimed: Level | None = None
        self._quiet = 0

    @property
    def noise_g(self) -> float:
        """Standard deviation of the display while settled, as learned, in grams."""
        return self._noise

    def evidence(self) -> tuple[Reading, ...]:
        """The readings that the present claim rests on, oldest first; empty without a claim."""
        if self._claimed is None:
            return ()
        count = min(self._quiet, EVIDENCE)
        return tuple(row[2] for row in list(self._window)[-count:])

    def feed(self, reading: Reading) -> Finding:
        """Take one reading in; say what the load is doing."""
        t = reading.t
        if reading.grams is None:
            self._window.clear()
            self._claimed = None
            return Finding(
                t, Phase.DISTURBED, why="overload" if reading.over else reading.fault or "fault"
            )
        window = self._window
        grams = float(reading.grams)
        if window and t - window[-1][0] > LONGEST:
            window.clear()  # a long silence: what came before says nothing about now
        if window and abs(grams - window[-1][1]) > 0.4 * self._d:
            gap = t - self._stepped
            if gap < GAP_FORGOTTEN_S:
                self._gaps.append((t, gap))
            self._stepped = t
        window.append((t, grams, reading))
        while t - window[0][0] > LONGEST:
            window.popleft()

        band = max(1.01 * self._d, 4.0 * self._noise)
        count, low, high = 0, grams, grams
        for row in reversed(window):
            low, high = min(low, row[1]), max(high, row[1])
            if high - low > band:
                break
            count += 1
        self._quiet = count
        since = window[-count][0]
        lasted = t - since
        hold = self._hold(t, reading.stable)
        if count >= FEWEST and lasted >= hold and self._flat(count, band):
            return self._settled(t, count, lasted >= hold + FIRM_S)
        self._claimed = None
        return self._moving(t, grams, band)

    def _hold(self, t: float, stable: bool | None) -> float:
        hold = HOLD_S
        while self._gaps and t - self._gaps[0][0] > GAP_FORGOTTEN_S:
            self._gaps.popleft()
        # A dithering last digit steps all the time; only gaps of a real trickle count: those
        # longer than a couple of readings.
        for _, gap in self._gaps:
            if gap > 0.25:
                hold = max(hold, GAP_FACTOR * gap)
        if stable is not None:
            hold += FLAG_TRUE_S if stable else FLAG_FALSE_S
        return min(hold, LONGEST_HOLD_S)

    def _flat(self, count: int, band: float) -> bool:
        values = [row[1] for row in list(self._window)[-count:]]
        half = count // 2
        first = sum(values[:half]) / half
        last = sum(values[half:]) / (count - half)
        return abs(last - first) <= 0.5 * band

    def _settled(self, t: float, count: int, firm: bool) -> Finding:
        quiet = [row[2].grams for row in list(self._window)[-min(count, EVIDENCE) :]]
        claim = level([grams for grams in quiet if grams is not None], self.interval_g)
        if firm:
            # A pause this long was a stop: what follows is another pour, with gaps of its own.
            self._gaps.clear()
            self._stepped = -1e9
            values = [row[1] for row in list(self._window)[-count:]]
            mean = sum(values) / count
            spread = (sum((value - mean) ** 2 for value in values) / max(count - 1, 1)) ** 0.5
            # Slow to learn, never below what rounding alone does, never above a few intervals.
            self._noise += 0.02 * (min(max(spread, 0.3 * self._d), 3.0 * self._d) - self._noise)
        self._claimed = claim
        self._last_level = float(claim.grams)
        return Finding(t, Phase.SETTLED, level=claim, firm=firm)

    def _moving(self, t: float, grams: float, band: float) -> Finding:
        before = next(
            (row[1] for row in reversed(self._window) if t - row[0] >= 0.3), self._window[0][1]
        )
        change = grams - before
        last = self._last_level
        if last is not None and grams < last - max(10 * self._d, 3.0) and change < band:
            return Finding(t, Phase.DISTURBED, why="lift")
        if change > 0.4 * band:
            return Finding(t, Phase.POURING, rising=True)
        return Finding(t, Phase.SETTLING)
