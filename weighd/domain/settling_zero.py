"""When the display's zero jumps with the load still on: the tare key, and waking up.

Both leave the display at zero. A lift may too, but its way down shows, and a lifted vessel that
was tared shows less than zero. A jump is believed only when a second reading confirms it.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

#: A way down that takes longer than this between two readings could have been a lift.
TARE_GAP_S = 0.35
#: The load must have been at rest this long before its zero is taken to have jumped.
TARE_REST_S = 0.25
#: From less than this, in intervals, no jump is told from a small change.
LEAST_D = 5.0
#: After a silence this long the scale may have slept; it wakes within so much of zero.
SLEPT_S = 1.5
WAKES_D = 3.0
ASLEEP_LEAST_D = 10.0
#: How long a jump is told before claims are made again, in seconds.
TOLD_S = {"tare key": 0.3, "asleep": 1.0}


@dataclass(frozen=True, slots=True)
class Jump:
    """A zero that jumped: ``before_g`` became ``after_g``."""

    t: float
    why: str
    before_g: Decimal
    after_g: Decimal


class Zero:
    """Watches for jumps of one scale's zero."""

    def __init__(self) -> None:
        self._waiting: tuple[float, Decimal] | None = None
        self._telling = ("", -1e9)
        #: How far the display's zero has jumped since the start, in grams.
        self.shift_g = Decimal(0)

    def slept(self, t: float, value: float, before: float, grams: tuple[Decimal, Decimal]) -> bool:
        """A reading after a long silence: whether the scale woke at zero with its load on.

        ``value``, ``before``  the displays now and before, in intervals; ``grams`` both in grams,
        before first.
        """
        self._waiting = None
        if abs(value) > WAKES_D or abs(before) <= ASLEEP_LEAST_D:
            return False
        self._take(Jump(t, "asleep", *grams))
        return True

    def jumped(
        self, value: float, before: float, gap_s: float, rested_s: float, room: float
    ) -> bool:
        """Whether this reading looks like the tare key: a rest, then zero within one reading."""
        return (
            abs(value) <= room
            and abs(before) > LEAST_D + 3 * room
            and gap_s <= TARE_GAP_S
            and rested_s > TARE_REST_S
        )

    def wait(self, value: float, before_g: Decimal) -> None:
        """Such a reading came: the next one decides."""
        self._waiting = (value, before_g)

    @property
    def waiting(self) -> bool:
        """Whether the next reading decides."""
        return self._waiting is not None

    def decide(self, t: float, value: float, after_g: Decimal, room: float) -> bool:
        """The next reading: whether the tare key was pressed."""
        assert self._waiting is not None
        was, before_g = self._waiting
        self._waiting = None
        if abs(value - was) > room:
            return False
        self._take(Jump(t, "tare key", before_g, after_g))
        return True

    def _take(self, jump: Jump) -> None:
        self.shift_g += jump.after_g - jump.before_g
        self._telling = (jump.why, jump.t + TOLD_S[jump.why])

    def telling(self, t: float) -> str:
        """What is still being told of a jump; empty for nothing."""
        if self._waiting is not None:
            return "tare key"
        why, until = self._telling
        return why if t < until else ""
