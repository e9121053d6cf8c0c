"""What is learned of a scale: how unsteady its last digits are, how it answers a step, its flag.

Everything learned is in one small frozen value, :class:`Learned`, in intervals and seconds, so
that it can be stored, shown, and handed in again. Nothing here is needed to begin with.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from weighd.domain.settling_mean import steadying
from weighd.domain.settling_stream import GULPS, SMOOTH_S

#: A flag that was never seen is believed this much: shown stable in so many of so many moving
#: readings. More readings than ``FLAG_MOST`` are forgotten.
FLAG_TRUE, FLAG_SEEN, FLAG_MOST = 0.6, 2.0, 60.0
#: An honest flag is up in this share of the readings of a load at rest.
FLAG_AT_REST = 0.9
#: Most that a flag may count for, in log odds.
FLAG_STRONGEST = 1.0
FLAG_DOWN = 0.3
#: What nothing learned of gulps counts as, in streams; more streams than this are forgotten.
STREAMS_PRIOR, STREAMS_MOST = 4.0, 40.0
#: Unsteady by more than this many intervals is no display to learn from.
WILDEST_D = 40.0
#: A display is unsteady if it moves at least so often, and this share of its moves turn back; and
#: its mean drifts by no more than this share of its spread.
FEWEST_MOVES, SOME_TURN, DRIFTS = 4, 0.3, 0.38
#: A response is believed between these.
RESPONSES_S = (0.1, 1.2)


@dataclass(frozen=True, slots=True)
class Learned:
    """What was learned of one scale.

    ``spread_d``      how far apart the displays of a load at rest are, in intervals, over a second.
    ``mean_of``       readings to take the mean of, so that an unsteady display is steady, and
    ``mean_d``        how far apart such means then are.
    ``looks``         how often that was looked at.
    ``period_s``      seconds between readings.
    ``response_s``    seconds in which the display follows a step.
    ``streams``       streams that ended for certain, and ``resumed``, how often one went on after
                      the display had been still.
    ``flag_moving``   readings with the flag up, and all readings, of a load that was moving.
    """

    spread_d: float = 0.0
    mean_of: int = 1
    mean_d: float = 0.0
    looks: int = 0
    period_s: float = 0.1
    response_s: float = 0.4
    streams: float = 0.0
    resumed: float = 0.0
    flag_up_moving: float = FLAG_TRUE
    flag_moving: float = FLAG_SEEN


class Learning:
    """Learns one scale, reading by reading."""

    def __init__(self, learned: Learned) -> None:
        #: Spread of the display itself, and of the means that are judged: the same for a mean of 1.
        self.raw = learned.spread_d
        self.spread = learned.mean_d
        self.mean_of = learned.mean_of
        self.period = learned.period_s
        self.response = learned.response_s
        self._looks = learned.looks
        self._up, self._moving = learned.flag_up_moving, learned.flag_moving
        self._streams, self._resumed = learned.streams, learned.resumed
        self._weigh_flag()

    @property
    def gulps(self) -> float:
        """How many gulps a stream is expected to have."""
        return (self._resumed + GULPS * STREAMS_PRIOR) / (self._streams + STREAMS_PRIOR)

    def streamed(self, resumed: int, tail_s: float) -> None:
        """A stream has ended for certain; it had gone on so often after a stillness.

        ``tail_s`` is what its end took to show: the scale's answer at least, and longer where the
        stream itself thinned out, so that a short one says more than a long one.
        """
        if tail_s > 0:
            seconds = tail_s + SMOOTH_S
            self._answered(seconds, 0.3 if seconds < self.response else 0.1)
        if self._streams >= STREAMS_MOST:
            self._streams, self._resumed = self._streams / 2, self._resumed / 2
        self._streams += 1
        self._resumed += resumed

    def value(self) -> Learned:
        """All of it as a value."""
        return Learned(
            self.raw,
            self.mean_of,
            self.spread,
            self._looks,
            self.period,
            self.response,
            self._streams,
            self._resumed,
            self._up,
            self._moving,
        )

    def gap(self, seconds: float) -> None:
        """Seconds between two readings."""
        self.period += 0.1 * (min(seconds, 3 * self.period) - self.period)

    def rested(self, spread: float) -> None:
        """A second or more at rest, with this spread of the means."""
        gain = max(0.1, 1 / (1 + self._looks))
        self._looks += 1
        self.spread += gain * (spread - self.spread)
        if self.mean_of == 1:
            self.raw = self.spread

    def shaken(self, values: Sequence[float]) -> None:
        """Unsteady about one place, with nothing put on or taken off: the displays of it."""
        spread = max(values) - min(values)
        if spread > WILDEST_D:
            return
        self.raw += (0.5 if self._looks else 1.0) * (spread - self.raw)
        of, left = steadying(values, self.period)
        self.mean_of, self.spread = max(of, self.mean_of), left
        self._looks += 1

    def calmed(self, values: Sequence[float]) -> None:
        """Steadier than was learned, for most of a second."""
        self.raw = max(max(values) - min(values), 0.6 * self.raw)
        self.mean_of, self.spread = steadying(values, self.period)

    def answered(self, seconds: float) -> None:
        """A step was followed in this time."""
        self._answered(seconds, 0.3)

    def _answered(self, seconds: float, gain: float) -> None:
        low, high = RESPONSES_S
        self.response += gain * (min(max(seconds, low), high) - self.response)

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
    if n < 6:
        return None
    half = n // 2
    early, late = values[:half], values[half:]
    spread = max(values) - min(values)
    drift = abs(sum(late) / len(late) - sum(early) / half)
    moves = [b > a for a, b in pairwise(values) if a != b]
    turns = sum(a != b for a, b in pairwise(moves))
    before, after = max(early) - min(early), max(late) - min(late)
    ringing = after < 0.6 * before or after > 2 * before + 2
    steady = len(moves) < FEWEST_MOVES or turns < SOME_TURN * (len(moves) - 1)
    return None if steady or drift > DRIFTS * spread or ringing else spread
