"""The detector before this one: quiet for long enough, kept to be compared with.

Quiet is a run of readings within one interval or four times the noise; it must last 0.6 s, or
longer than the gaps between the last steps of the display; the scale's flag shortens or
lengthens that. A claim is firm after another 0.4 s, and only firm ones are told.
"""

from __future__ import annotations

from collections import deque
from decimal import Decimal

from benchmarks.settling_worlds import Shown

HOLD_S = 0.6
FIRM_S = 0.4
LONGEST_HOLD_S = 2.5
GAP_FACTOR = 1.4
GAP_FORGOTTEN_S = 6.0
FLAG_TRUE_S = -0.15
FLAG_FALSE_S = 0.5
FEWEST = 4
LONGEST = 4.0
MOST = 320
EVIDENCE = 12


class Before:
    """The whole of it, answering grams of the addition so far while it holds them firm."""

    def __init__(self, interval_g: Decimal) -> None:
        self._d = float(interval_g)
        self._noise = 0.3 * self._d
        self._window: deque[tuple[float, float]] = deque(maxlen=MOST)
        self._gaps: deque[tuple[float, float]] = deque(maxlen=6)
        self._stepped = -1e9
        self._last: float | None = None
        self._base: float | None = None
        self._sure = False

    def feed(self, shown: Shown) -> float | None:
        """Grams of the addition so far while settled."""
        if shown.grams is None:
            self._window.clear()
            return None
        t, grams, window, d = shown.t, float(shown.grams), self._window, self._d
        if self._base is None:
            self._base = grams
        if window and t - window[-1][0] > LONGEST:
            window.clear()
        if window and abs(grams - window[-1][1]) > 0.4 * d:
            gap = t - self._stepped
            if gap < GAP_FORGOTTEN_S:
                self._gaps.append((t, gap))
            self._stepped = t
        window.append((t, grams))
        while t - window[0][0] > LONGEST:
            window.popleft()
        band = max(1.01 * d, 4.0 * self._noise)
        run: list[float] = []
        since, low, high = t, grams, grams
        for at, value in reversed(window):
            low, high = min(low, value), max(high, value)
            if high - low > band:
                break
            since = at
            run.append(value)
        lasted, hold = t - since, self._hold(t, shown.stable)
        half = len(run) - len(run) // 2
        if len(run) < FEWEST or lasted < hold + FIRM_S or not self._flat(run, half, band):
            return None
        return self._firm(run)

    @staticmethod
    def _flat(run: list[float], half: int, band: float) -> bool:
        late, early = run[:half], run[half:]
        return abs(sum(late) / len(late) - sum(early) / len(early)) <= 0.5 * band

    def _hold(self, t: float, stable: bool | None) -> float:
        hold = HOLD_S
        while self._gaps and t - self._gaps[0][0] > GAP_FORGOTTEN_S:
            self._gaps.popleft()
        for _, gap in self._gaps:
            if gap > 0.25:
                hold = max(hold, GAP_FACTOR * gap)
        if stable is not None:
            hold += FLAG_TRUE_S if stable else FLAG_FALSE_S
        return min(hold, LONGEST_HOLD_S)

    def _firm(self, run: list[float]) -> float | None:
        assert self._base is not None
        d = self._d
        self._gaps.clear()
        self._stepped = -1e9
        mean = sum(run) / len(run)
        spread = (sum((value - mean) ** 2 for value in run) / max(len(run) - 1, 1)) ** 0.5
        self._noise += 0.02 * (min(max(spread, 0.3 * d), 3.0 * d) - self._noise)
        newest = sorted(run[:EVIDENCE])
        level = newest[(len(newest) - 1) // 2]
        net = level - self._base
        if net < -max(5 * d, 1.0):
            return None
        if abs(net) <= d:
            if not self._sure:
                self._base, self._sure = level, True
            return 0.0
        return net
