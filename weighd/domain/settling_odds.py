"""The odds that more is to come, from how long the display has been still.

Two explanations of a display that has not grown for ``s`` seconds are weighed against each
other: the flow has *stopped* (then stillness is certain), or it is in a *gap* between drops,
taps or gulps (then stillness for ``s`` has the chance that a gap lasts longer than ``s``). Gaps
are log-normal; what is known of them is a prior, worth a few gaps, and the gaps of this very
addition. The predictive law is used, so that few gaps seen means long waiting.

The push of a falling stream and the scale's filter are dealt with elsewhere (``settling``): here
the display is taken to be at rest.
"""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass

#: Gaps of this addition that are remembered, and how long a pause is no gap but a stop.
GAPS = 8
#: The log odds after a longer stillness than any gap.
STOPPED = -20.0
LONGEST_GAP_S = 2.2
#: Nothing is said of a stillness shorter than this after anything but a stream.
LEAST_S = 0.3
#: What the prior counts as, in gaps.
WEIGHT = 2.0
SPREAD_WEIGHT = 3.0
#: Moves within a growth that come further apart than this say how far apart the next may be.
SLOWING = 1.5


@dataclass(frozen=True, slots=True)
class Prior:
    """What is expected before any gap was seen.

    ``odds``    that more comes, before stillness says anything.
    ``gap_s``   the median gap in seconds, and ``spread`` of its logarithm.
    """

    odds: float
    gap_s: float
    spread: float


#: A gulp within a stream; a gap after a single drop or tap; a gap after gaps.
STREAM = Prior(0.8, 0.12, 0.6)
#: After gaps, only a growth longer than this is a stream again.
LONG_STREAM_S = 3.0
#: A stream that flowed this long without a gulp halves the odds that this is its first.
FLOWED_S = 1.0
DROP = Prior(0.8, 0.40, 0.45)
TRICKLE = Prior(6.0, 0.45, 0.5)
#: One small step after a stream: a drop, or the last of the filter, or an unsteady digit.
TAIL = Prior(0.8, 0.25, 0.5)
TAIL_D = 2.1
TAIL_AFTER_S = 0.6
#: A lump far larger than a drop or a tap: a bag emptied, a vessel set down.
LUMP = Prior(0.3, 0.25, 0.45)
LUMP_D = 200.0
#: A stream faster than this (intervals a second) is not at an end of its own in steps of one.
FAST_D_S = 10.0
#: A growth of no more than this is taken for an unsteady last digit, until another comes.
DITHER_D = 1.6
#: Back to where the display has rested before, or set down after a lift: hardly ever in gaps.
PLACED = Prior(0.05, 0.12, 0.55)


class Flow:
    """What was seen of the present addition's growth. Times in seconds."""

    def __init__(self) -> None:
        self.clear()

    def clear(self) -> None:
        """A stop for certain: the next growth is another addition."""
        self.began = self.last = -1e9
        self._start = self._from = self._to = 0.0
        #: Where the last stream ended.
        self._top = -1e9
        self._slow = 0.0
        self._flowed = False
        self._gaps: deque[float] = deque(maxlen=GAPS)

    def fell(self, t: float, before: float, now: float, joined_s: float) -> None:
        """The display sank at ``t``, in intervals: it was not still, but this is no flow.

        A small fall after a stream is the end of its push; anything else is a change of its own.
        """
        if t - self.last > joined_s and (before - now > TAIL_D or not self._flowed):
            self.began, self._slow = t, 0.0
            self._from = now
        self.last, self._to = t, now

    def grew(self, t: float, before: float, now: float, joined_s: float) -> None:
        """The display grew at ``t``, in intervals; moves within ``joined_s`` are one growth."""
        gap = t - self.last
        self._flowed = True
        if gap <= joined_s:
            self._slow = max(gap, self._slow + 0.3 * (gap - self._slow))
        else:
            if gap > LONGEST_GAP_S:
                self._gaps.clear()
                self._start = before
            elif self._gaps or self._to - self._start > DITHER_D:
                self._gaps.append(math.log(gap))
            if self.last - self.began > TAIL_AFTER_S:
                self._top = self._to
            self.began, self._from, self._slow = t, before, 0.0
        self.last, self._to = t, now

    @property
    def fast(self) -> bool:
        """Whether the growth is (or was) a stream too fast to go on in steps of one interval."""
        lasted = self.last - self.began
        return lasted > 0.3 and self._to - self._from > FAST_D_S * lasted

    @property
    def lasted(self) -> float:
        """How long this growth took so far, in seconds."""
        return self.last - self.began

    @property
    def grown(self) -> float:
        """How much this growth came to so far, in intervals."""
        return self._to - self._from

    def log_odds(
        self,
        t: float,
        period_s: float,
        *,
        stream_s: float = 0.75,
        placed: bool = False,
    ) -> float:
        """Natural logarithm of the odds that more is to come.

        ``period_s``  time between readings.
        ``stream_s``  a growth longer than this was a stream: it outlasts the scale's filter.
        ``placed``    the load stands where it rested before, or was set down after a lift.
        """
        s = t - self.last
        if s > LONGEST_GAP_S:
            return STOPPED
        stream = self.last - self.began >= stream_s
        if s < LEAST_S and not stream:
            return 0.0
        gaps = self._gaps
        n = 0 if placed else len(gaps)
        if placed:
            prior = PLACED
        elif stream and (n == 0 or self.lasted > LONG_STREAM_S):
            prior = STREAM
        elif n == 1 and abs(self._to - self._top) <= TAIL_D:
            prior = TAIL
        elif n:
            prior = TRICKLE
        else:
            prior = LUMP if self._to - self._from > LUMP_D else DROP
        odds = prior.odds
        if prior is STREAM:
            odds /= 1 + self.lasted / FLOWED_S
        gap_s = max(prior.gap_s, SLOWING * self._slow - period_s)
        mean, spread = math.log(gap_s), prior.spread
        if n:
            first = mean
            mean = (WEIGHT * first + sum(gaps)) / (WEIGHT + n)
            square = sum((gap - mean) ** 2 for gap in gaps) + WEIGHT * (first - mean) ** 2
            spread = math.sqrt((SPREAD_WEIGHT * spread * spread + square) / (SPREAD_WEIGHT + n))
        spread *= math.sqrt(1 + 1 / (WEIGHT + n + 1))
        z = (math.log(max(s, 1e-3)) - mean) / spread
        return math.log(odds * 0.5 * math.erfc(z / math.sqrt(2)) + 1e-20)
