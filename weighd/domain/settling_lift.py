"""A vessel that was lifted: what stood before, and whether what comes back is the same.

The amount before is known from the displays of the last moments on the pan: a range, if it was
still growing. What comes back within that range is the same vessel. So is what came back to it,
stayed a while, and then grew: pouring went on before the display was at rest. Anything else is
another vessel, or was changed in the hand; no amount can then be told until it is reset.
"""

from __future__ import annotations

from collections import deque
from decimal import Decimal

#: The amount before a lift is taken from so many seconds, without the last of them: a hand that
#: grips a vessel presses on it first.
BEFORE_S = 0.7
GRIP_S = 0.15
MOST = 60
#: Intervals within which an amount is the same.
SAME_D = 2
#: A display that takes this long to cross so many intervals above is being poured into, not the
#: slope of a heavier vessel set down.
PASSING_D = 25
PASSING_S = 0.4
#: And it must go on by more than the tail of a slow filter could be from there, or take longer
#: than one could.
ONWARD_D = 60
LONG_S = 1.0


class Lift:
    """Amounts in grams, counted from the start of the addition."""

    def __init__(self, interval_g: Decimal) -> None:
        self._d = interval_g
        self._seen: deque[tuple[float, Decimal]] = deque(maxlen=MOST)
        self._back_at: float | None = None
        self._stayed = 0.0
        self._rested_at = -1e9
        #: Whether the vessel is off, or back without being known to be the same.
        self.off = False
        #: Whether something else came back.
        self.other = False

    def stands(self, t: float, net_g: Decimal, *, at_rest: bool) -> None:
        """A display with the vessel on, or with what came back."""
        if not self.off:
            self._rested_at = t if at_rest else self._rested_at
            self._seen.append((t, net_g))
            while t - self._seen[0][0] > BEFORE_S:
                self._seen.popleft()
            return
        low, high = self._before()
        if self._back_at is None:
            if low <= net_g <= high:
                self._back_at = t
        elif net_g > high + PASSING_D * self._d:
            self._stayed = self._stayed or t - self._back_at
        elif net_g < low:
            self._back_at = None

    def gone(self) -> None:
        """The vessel is off."""
        seen = self._seen
        if not self.off and seen and seen[0][0] <= self._rested_at:
            # From a rest, what sinks is on its way up already; else a stream's push may end.
            while len(seen) > 1 and seen[-1][1] < seen[-2][1]:
                seen.pop()
        self.off, self._back_at, self._stayed = True, None, 0.0

    def came_back(self, net_g: Decimal) -> bool:
        """At rest again at ``net_g``: whether it is what was lifted."""
        low, high = self._before()
        onward = ONWARD_D if self._stayed < LONG_S else 0
        poured = self._stayed >= PASSING_S and net_g > high + onward * self._d
        same = low <= net_g <= high or poured
        self.off = self.other = not same
        return same

    def _before(self) -> tuple[Decimal, Decimal]:
        if not self._seen:
            return -SAME_D * self._d, SAME_D * self._d
        last = self._seen[-1][0]
        seen = [net for t, net in self._seen if t <= last - GRIP_S] or [self._seen[0][1]]
        low, high = min(seen), max(seen)
        room = SAME_D * self._d + (high - low)
        return low - room, high + room
