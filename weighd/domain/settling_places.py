"""Where the load has rested: so that what comes back to a known place is known to be there."""

from __future__ import annotations

from collections import deque
from decimal import Decimal

#: Levels at which the load is known to have rested.
KNOWN = 3
#: The same level again, in intervals.
SAME_D = 2.5
#: A fall below the last level by more than this, in intervals, is a lift while it lasts.
LIFT_D = 10.0
#: The load stands where it rested before if it is within so many intervals, and this share of the
#: spread, of there; and, where it rested last, if it had left in between by more than that.
NEAR_D, NEAR_SPREAD = 0.5, 0.5
LEFT_D = 1.5


class Places:
    """Levels in intervals of the scale, newest last."""

    def __init__(self) -> None:
        self._levels: deque[float] = deque(maxlen=KNOWN)
        self._grams = Decimal(0)
        self._last: float | None = None
        self._far = 0.0
        self._lifted = False

    @property
    def last(self) -> float | None:
        """Where it rested last; ``None`` before it ever did."""
        return self._last

    def grams_near(self, value: float, near: float) -> Decimal | None:
        """The last level in grams, if ``value`` is within ``near`` intervals of it."""
        if self._last is None or abs(self._last - value) >= near:
            return None
        return self._grams

    def rested(self, level: float, grams: Decimal) -> None:
        """It rests here."""
        if self._last is not None and abs(level - self._last) > LIFT_D:
            self._lifted = level < self._last
        self._last, self._grams = level, grams
        if self._levels and abs(self._levels[-1] - level) <= SAME_D:
            self._levels[-1] = level
        else:
            self._levels.append(level)

    def only(self, level: float, grams: Decimal) -> None:
        """The zero is another one: nothing but this is known on it."""
        self._last, self._grams = level, grams
        self._levels.clear()
        self._levels.append(level)

    def left(self) -> None:
        """It does not rest there any more."""
        self._far = 0.0

    def passed(self, value: float) -> None:
        """It was seen here, not at rest."""
        if self._last is not None:
            self._far = max(self._far, abs(value - self._last))

    def again(self, value: float, spread: float, *, up: bool) -> bool:
        """Whether it has come back to a known level, or ``up`` from a lower one after a lift."""
        if self._lifted and up:
            return True
        near = max(1.02, NEAR_D + NEAR_SPREAD * spread)
        left = self._far > LEFT_D + spread
        return any(
            abs(value - level) <= near and (left or level != self._levels[-1])
            for level in self._levels
        )

    def lifted(self, value: float, change: float) -> bool:
        """Whether the load is off: far below where it rested, and not growing by ``change``."""
        return self._last is not None and value < self._last - LIFT_D and change < 1
