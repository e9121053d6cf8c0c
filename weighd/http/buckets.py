"""How many requests an address may send: so many at once, then so many a second; and all together.

Addresses that have not been heard of for long are forgotten first: whoever floods from many of them
is held by what all have together.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable

#: Addresses that are counted.
MOST = 2048


class Buckets:
    """``burst`` requests at once and ``rate`` a second, of one and of all together.

    ``now``  a clock in seconds that never falls.
    """

    def __init__(
        self,
        burst: float,
        rate: float,
        burst_together: float,
        rate_together: float,
        now: Callable[[], float],
    ) -> None:
        self._each, self._together = (burst, rate), (burst_together, rate_together)
        self._now = now
        self._left: OrderedDict[str, tuple[float, float]] = OrderedDict()
        self._all = (burst_together, now())

    def holds(self, address: str) -> bool:
        """Whether there is one left; none is taken."""
        now = self._now()
        own = _refilled(self._left.get(address, (self._each[0], now)), self._each, now)
        return own >= 1 and _refilled(self._all, self._together, now) >= 1

    def take(self, address: str) -> bool:
        """Whether one more request is let through."""
        now = self._now()
        own = _refilled(self._left.get(address, (self._each[0], now)), self._each, now)
        everybody = _refilled(self._all, self._together, now)
        good = own >= 1 and everybody >= 1
        self._left[address] = (own - good, now)
        self._left.move_to_end(address)
        while len(self._left) > MOST:
            self._left.popitem(last=False)
        self._all = (everybody - good, now)
        return good


def _refilled(left: tuple[float, float], limits: tuple[float, float], now: float) -> float:
    burst, rate = limits
    return min(burst, left[0] + max(0.0, now - left[1]) * rate)
