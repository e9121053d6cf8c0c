"""How a stream has flowed: has it gulped, and how did it end?

A stream that ran evenly and broke off has stopped; one that faltered before may only have
gulped, and one that thinned out may still trickle. Both show in the rate at which the display
grew. The rate is smoothed over about a quarter of a second; a *gulp* is a fall below a share of
the stream's own mean rate with a recovery after it; the *tail* is the time from the last reading
at a full rate to the last growth.
"""

from __future__ import annotations

#: The rate is smoothed over this time, or so many readings if that is longer.
SMOOTH_S, SMOOTH_READINGS = 0.15, 1.5
#: Shares of the mean rate: below the first a stream falters, above the second it flows again.
FALTERS, FLOWS = 0.3, 0.6
#: What is expected of a stream of which nothing is known: gulps, in seconds of flow.
GULPS, GULPS_IN_S = 0.25, 1.5
#: A stream that ran for so long and never fell below this share of its mean rate is even; so much
#: fewer gulps are expected of it.
EVEN_S, EVEN_LEAST, EVEN = 1.0, 0.5, 0.25
#: A stream lasts about so long.
STREAM_S = 4.0


class Stream:
    """The present stream, fed every reading. Times in seconds, rates in intervals a second."""

    def __init__(self) -> None:
        self._t = self._v = 0.0
        self._rate = 0.0
        self.began()

    def began(self) -> None:
        """Another stream."""
        self.gulps = 0
        self._faltered = self._flowed = False
        self._full_at = 0.0
        self._lowest = self._least = 1.0

    def feed(self, t: float, v: float, period_s: float, mean_rate: float, lasted_s: float) -> None:
        """A display ``v`` at ``t``; ``mean_rate`` of the stream so far."""
        gap = t - self._t
        if gap <= 0:
            return
        rate = (v - self._v) / gap
        self._t, self._v = t, v
        gain = gap / (max(SMOOTH_S, SMOOTH_READINGS * period_s) + gap)
        self._rate += gain * (rate - self._rate)
        share = self._rate / mean_rate if mean_rate > 0 else 1.0
        self._lowest = min(self._lowest, share)
        if self._rate > FLOWS * mean_rate > 0:
            if lasted_s > EVEN_S / 2:
                self._least = min(self._least, self._lowest)
            self._lowest = share
            self._full_at, self._flowed = t, True
            if self._faltered:
                self.gulps += 1
                self._faltered = False
        elif self._rate < FALTERS * mean_rate:
            self._faltered = True

    def odds(self, lasted_s: float, gulps: float = GULPS) -> float:
        """Odds that a stream that falters now has only gulped; ``gulps`` are expected of one."""
        if lasted_s > EVEN_S and self._least > EVEN_LEAST:
            gulps *= EVEN
        return STREAM_S * (self.gulps + gulps) / (lasted_s + GULPS_IN_S)

    def tail(self, last: float) -> float:
        """Seconds for which it had thinned out when it last grew at ``last``; 0 if it never did."""
        return max(0.0, last - self._full_at) if self._flowed else 0.0
