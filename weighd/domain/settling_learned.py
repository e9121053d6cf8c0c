"""What is learned of a scale: how unsteady its last digits are, how it answers a step, its flag.

Everything learned is in one small frozen value, :class:`Learned`, in intervals and seconds, so
that it can be stored, shown, and handed in again. Nothing here is needed to begin with.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

#: A flag that was never seen is believed this much: shown stable in so many of so many moving
#: readings. More readings than ``FLAG_MOST`` are forgotten.
FLAG_TRUE, FLAG_SEEN, FLAG_MOST = 0.6, 2.0, 60.0
#: An honest flag is up in this share of the readings of a load at rest.
FLAG_AT_REST = 0.9
#: Most that a flag may count for, in log odds.
FLAG_STRONGEST = 1.0
FLAG_DOWN = 0.3
#: Unsteady by more than this many intervals is no display to learn from.
WILDEST_D = 40.0
#: A response is believed between these.
RESPONSES_S = (0.1, 1.2)


@dataclass(frozen=True, slots=True)
class Learned:
    """What was learned of one scale.

    ``spread_d``      how far apart the displays of a load at rest are, in intervals, over a second.
    ``looks``         how often that was looked at.
    ``period_s``      seconds between readings.
    ``response_s``    seconds in which the display follows a step.
    ``flag_moving``   readings with the flag up, and all readings, of a load that was moving.
    """

    spread_d: float = 0.0
    looks: int = 0
    period_s: float = 0.1
    response_s: float = 0.4
    flag_up_moving: float = FLAG_TRUE
    flag_moving: float = FLAG_SEEN


class Learning:
    """Learns one scale, reading by reading."""

    def __init__(self, learned: Learned) -> None:
        self.spread = learned.spread_d
        self.period = learned.period_s
        self.response = learned.response_s
        self._looks = learned.looks
        self._up, self._moving = learned.flag_up_moving, learned.flag_moving
        self._weigh_flag()

    def value(self) -> Learned:
        """All of it as a value."""
        return Learned(self.spread, self._looks, self.period, self.response, self._up, self._moving)

    def gap(self, seconds: float) -> None:
        """Seconds between two readings."""
        self.period += 0.1 * (min(seconds, 3 * self.period) - self.period)

    def rested(self, spread: float) -> None:
        """A second or more at rest, with this spread."""
        gain = max(0.1, 1 / (1 + self._looks))
        self._looks += 1
        self.spread += gain * (spread - self.spread)

    def shaken(self, spread: float) -> None:
        """Unsteady about one place, with nothing put on or taken off."""
        if spread > WILDEST_D:
            return
        self.spread += (0.5 if self._looks else 1.0) * (spread - self.spread)
        self._looks += 1

    def calmed(self, spread: float) -> None:
        """Steadier than was learned, for most of a second."""
        self.spread = max(spread, 0.6 * self.spread)

    def answered(self, seconds: float) -> None:
        """A step was followed in this time."""
        low, high = RESPONSES_S
        self.response += 0.3 * (min(max(seconds, low), high) - self.response)

    def moved(self, stable: bool | None) -> None:
        """The flag of a reading that shows a moving load."""
        if stable is None:
            return
        if self._moving > FLAG_MOST:
            self._up, self._moving = self._up / 2, self._moving / 2
        self._moving += 1
        self._up += stable
        self._weigh_flag()

    def flag(self, stable: bool | None) -> float:
        """What the flag adds to the log odds that more is to come."""
        if stable is None:
            return 0.0
        return self._flag_up if stable else FLAG_DOWN

    def _weigh_flag(self) -> None:
        says = math.log(FLAG_AT_REST * self._moving / max(self._up, 0.01))
        self._flag_up = -min(max(says, 0.0), FLAG_STRONGEST)


def unsteady(values: Sequence[float]) -> float | None:
    """The spread of ``values`` if they are unsteady about one place, else ``None``.

    Not if they drift, ring out, or seldom turn: that is a load on its way.
    """
    n = len(values)
    half = n // 2
    early, late = values[:half], values[half:]
    spread = max(values) - min(values)
    if n < 6:
        return None
    drift = abs(sum(late) / len(late) - sum(early) / half)
    turns = sum(
        (values[i] - values[i - 1]) * (values[i + 1] - values[i]) < 0 for i in range(1, n - 1)
    )
    ringing = max(late) - min(late) < 0.6 * (max(early) - min(early))
    return None if drift > 0.35 * spread or turns < 0.15 * n or ringing else spread
