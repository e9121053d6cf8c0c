"""A mean in front of an unsteady display, so that it can be judged like a steady one.

A display that trembles by several intervals (a fan, a mixer, a fine scale in a draught) never
stays within a band. The mean of its newest ``of`` readings does: it is a steadier scale with a
slower filter, and everything else here is made for any filter. ``of`` is the fewest readings
that make it steady enough, found from the display's own trembling, since what its filter leaves
of noise is not independent from reading to reading.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence

#: A mean that stays within this many intervals over a second or two is steady enough.
STEADY_D = 1.3
#: Longest mean, in seconds and in readings.
LONGEST_S = 0.9
MOST = 64
#: The ladder of means that are tried.
LADDER = (1, 2, 3, 4, 5, 6, 8, 10, 13, 16, 20, 25, 32, 40, 50, 64)


class Mean:
    """The running mean of the newest ``of`` values."""

    def __init__(self, of: int = 1) -> None:
        self.of = min(max(1, of), MOST)
        self._values: deque[float] = deque()
        self._sum = 0.0

    def clear(self) -> None:
        """Forget the values."""
        self._values.clear()
        self._sum = 0.0

    def add(self, value: float) -> float:
        """Take a value in; the mean of the newest."""
        if self.of == 1:
            return value
        values = self._values
        values.append(value)
        self._sum += value
        if len(values) > self.of:
            self._sum -= values.popleft()
        return self._sum / len(values)


def steadying(values: Sequence[float], period_s: float) -> tuple[int, float]:
    """How many readings to take the mean of, and the spread that is left of these ``values``.

    ``values``    displays of a load at rest, in intervals, over a second or two.
    ``period_s``  time between them.
    """
    sums, total = [0.0], 0.0
    for value in values:
        total += value
        sums.append(total)
    best = (1, max(values) - min(values))
    for of in LADDER[1:]:
        if best[1] <= STEADY_D or of * period_s > LONGEST_S or 2 * of > len(values):
            break
        means = [(sums[k + of] - sums[k]) / of for k in range(len(values) - of + 1)]
        best = (of, max(means) - min(means))
    return best
