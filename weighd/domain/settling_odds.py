"""The odds that more is to come, from how long the display has been still.

Two explanations of a display that has not grown for ``s`` seconds are weighed against each
other: the flow has *stopped* (then stillness is certain), or it is in a *gap* between drops,
taps or gulps (then stillness for ``s`` has the chance that a gap lasts longer than ``s``). Gaps
are log-normal; what is known of them is a prior, worth a few gaps, and the gaps of this very
addition. The predictive law is used, so that few gaps seen means long waiting. How a stream
flowed and how it ended is evidence too (``settling_stream``).

The push of a falling stream and the scale's filter are dealt with elsewhere (``settling``): here
the display is taken to be at rest.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from weighd.domain.settling_stream import GULPS, Stream

#: Gaps of this addition that are remembered, and how long a pause is no gap but a stop.
GAPS = 8
#: The log odds after a longer stillness than any gap.
STOPPED = -20.0
LONGEST_GAP_S = 2.0
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


#: A gulp within a stream (its odds come from how it flowed), and a stream that thinned out: it
#: did so for longer than its end takes to show.
STREAM = Prior(0.8, 0.12, 0.6)
TAILING = Prior(0.8, 0.25, 0.6)
TAILING_S = 0.2
#: A growth longer than this was a stream, whatever the scale.
LONG_S = 0.75
#: After gaps, only a growth longer than this is a stream again.
LONG_STREAM_S = 3.0
#: A gap after a single drop or tap, and after gaps.
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
#: Sinking back to within this of where it was, such a growth was no flow.
SANK_D = 0.3
#: Back to where the display has rested before, or set down after a lift: hardly ever in gaps.
PLACED = Prior(0.05, 0.12, 0.55)


@dataclass(slots=True)
class Growth:
    """One growth of the display: when, and from where to where in intervals.

    ``slow``   how far apart its moves came at last, in seconds.
    ``start``  where the first growth of this addition began.
    ``top``    where the last stream ended.
    ``gaps``   logarithms of the gaps before it, in seconds.
    """

    began: float = -1e9
    last: float = -1e9
    low: float = 0.0
    high: float = 0.0
    slow: float = 0.0
    start: float = 0.0
    top: float = -1e9
    gaps: tuple[float, ...] = ()


class Flow:
    """What was seen of the present addition's growth. Times in seconds."""

    def __init__(self) -> None:
        self.clear()

    def clear(self) -> None:
        """A stop for certain: the next growth is another addition."""
        self._now = Growth()
        self._flowed = False
        #: What was known before a growth that may only be an unsteady digit.
        self._before: Growth | None = None
        self._stream = Stream()
        #: Streams that went on after the display had been still.
        self.resumed = 0

    @property
    def lasted(self) -> float:
        """How long this growth took so far, in seconds."""
        return self._now.last - self._now.began

    @property
    def grown(self) -> float:
        """How much this growth came to so far, in intervals."""
        return self._now.high - self._now.low

    @property
    def fast(self) -> bool:
        """Whether the growth is (or was) a stream too fast to go on in steps of one interval."""
        return self.lasted > 0.3 and self.grown > FAST_D_S * self.lasted

    @property
    def tail(self) -> float:
        """Seconds from the end of the full flow of a stream to its last growth."""
        return self._stream.tail(self._now.last)

    def broke(self, t: float) -> None:
        """The display showed no number at ``t``: it was not still."""
        self._now.last = t

    def feed(self, t: float, v: float, period_s: float) -> None:
        """Every display, in intervals, after what it moved."""
        lasted = self.lasted
        self._stream.feed(t, v, period_s, self.grown / max(lasted, 0.2), lasted)

    def fell(self, t: float, before: float, now: float, joined_s: float) -> None:
        """The display sank at ``t``, in intervals: it was not still, but this is no flow.

        A small fall after a stream is the end of its push; anything else is a change of its own.
        """
        growth = self._now
        if t - growth.last > joined_s and (before - now > TAIL_D or not self._flowed):
            growth.began, growth.low, growth.slow = t, now, 0.0
        growth.last, growth.high = t, now

    def grew(
        self, t: float, before: float, now: float, joined_s: float, trembles: float = 1.0
    ) -> None:
        """The display grew at ``t``, in intervals; moves within ``joined_s`` are one growth.

        ``trembles``  intervals by which it may grow without anything having come.
        """
        growth, gap = self._now, t - self._now.last
        self._flowed, self._before = True, None
        if gap <= joined_s:
            growth.slow = max(gap, growth.slow + 0.3 * (gap - growth.slow))
            growth.last, growth.high = t, now
            return
        small = DITHER_D * trembles
        if now - before <= small:
            self._before = growth
        start, gaps = growth.start, growth.gaps
        if gap > LONGEST_GAP_S:
            start, gaps = before, ()
        elif gaps or growth.high - start > small:
            gaps = (*gaps, math.log(gap))[-GAPS:]
            self.resumed += self.lasted > LONG_S and now - before > small
        top = growth.high if self.lasted > TAIL_AFTER_S else growth.top
        self._now = Growth(t, t, before, now, 0.0, start, top, gaps)
        self._stream.began()

    def shown(self, value: float) -> None:
        """A display that did not move on: what sinks back to where it was did not flow."""
        if self._before is not None and value <= self._now.low + SANK_D:
            self._now, self._before = self._before, None

    def log_odds(
        self,
        t: float,
        period_s: float,
        *,
        stream_s: float = 0.75,
        placed: bool = False,
        gulps: float = GULPS,
    ) -> float:
        """Natural logarithm of the odds that more is to come.

        ``period_s``  time between readings.
        ``stream_s``  a growth longer than this was a stream: it outlasts the scale's filter.
        ``placed``    the load stands where it rested before, or was set down after a lift.
        ``gulps``     how many gulps a stream is expected to have, as learned.
        """
        growth = self._now
        s = t - growth.last
        if s > LONGEST_GAP_S:
            return STOPPED
        stream = self.lasted >= stream_s
        if s < LEAST_S and not stream:
            return 0.0
        prior = PLACED if placed else self._prior(stream, stream_s)
        gaps = () if placed else growth.gaps
        odds = self._stream.odds(self.lasted, gulps) if prior is STREAM else prior.odds
        mean = math.log(max(prior.gap_s, SLOWING * growth.slow - period_s))
        spread, n = prior.spread, len(gaps)
        if n:
            first = mean
            mean = (WEIGHT * first + sum(gaps)) / (WEIGHT + n)
            square = sum((gap - mean) ** 2 for gap in gaps) + WEIGHT * (first - mean) ** 2
            spread = math.sqrt((SPREAD_WEIGHT * spread * spread + square) / (SPREAD_WEIGHT + n))
        spread *= math.sqrt(1 + 1 / (WEIGHT + n + 1))
        z = (math.log(max(s, 1e-3)) - mean) / spread
        return math.log(odds * 0.5 * math.erfc(z / math.sqrt(2)) + 1e-20)

    def _prior(self, stream: bool, stream_s: float) -> Prior:
        growth = self._now
        n = len(growth.gaps)
        if stream and (n == 0 or self.lasted > LONG_STREAM_S):
            tailed = self.tail > stream_s + TAILING_S
            return TAILING if tailed else STREAM
        if n == 1 and abs(growth.high - growth.top) <= TAIL_D:
            return TAIL
        if n:
            return TRICKLE
        return LUMP if self.grown > LUMP_D else DROP
