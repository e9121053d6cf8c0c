"""Between the cue to slow down and the moment the display shows that the hand did.

For about a lead after ``slow`` nothing shows, whether the cook heeds it or not. So two
explanations are weighed by what the display falls short of its old line: the flow went on as it
was; or it was throttled, after one of several delays that this cook may have taken. Bayes' rule
over these few, with the newest display as evidence.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from weighd.domain.pouring_learned import Belief

#: Delays looked at, in standard deviations from the lead, and their shares.
DELAYS = ((-2.0, 0.08), (-1.0, 0.22), (-0.3, 0.2), (0.3, 0.2), (1.0, 0.2), (2.0, 0.08), (3.0, 0.02))
#: A display is off its line by so many gulps, at least so many seconds of flow, and more the
#: further it is forecast.
GULPS, LEAST_S, WANDERS = 1.5, 0.03, 0.04
#: A filter spreads the bend of the line over about this long.
BENDS_S = 0.15
#: A bend this old, this likely twice in a row, is seen; the chance that the cook does not heed
#: is never reckoned smaller than so much for this.
OLD_S, SHOWN, UNSURE = 0.1, 0.95, 0.2


@dataclass(frozen=True, slots=True)
class Line:
    """The display's line when a cue was given: time, grams, grams a second."""

    t: float
    at: float
    rate: float


class Slowing:
    """What became of one ``slow``.

    ``line``    the line of the display when it was said.
    ``share``   of the flow that a throttle leaves, as known, and its ``share_off``: how far this
                one may be from it.
    ``heeds``   how likely this cook heeds it.
    """

    def __init__(self, line: Line, throttle: Belief, heeds: float) -> None:
        self.line = line
        self.share = min(throttle.mean, 0.8)
        self.share_off = math.hypot(throttle.known, throttle.noise)
        self._heeds = min(max(heeds, 0.02), 0.98)
        #: When the throttle showed.
        self.shown_at: float | None = None
        self._looks = 0
        self._still = 1.0 - self._heeds
        self._full_s = math.inf

    def looks(self, t: float, shown: float, lead: Belief, gulp_s: float, noise_g: float) -> bool:
        """Look at a display; whether the throttle shows, told once.

        ``gulp_s`` is what gulps move it by, in seconds of flow; ``noise_g`` its own noise.
        """
        line = self.line
        if self.shown_at is not None or line.rate <= 0:
            return False
        since = t - line.t
        short = since - (shown - line.at) / line.rate
        off = math.hypot(GULPS * gulp_s, LEAST_S, noise_g / line.rate) + WANDERS * since
        late = math.hypot(lead.known, lead.noise)
        still = (1 - self._heeds) * _likelihood(short, off)
        throttled = full_s = seen = 0.0
        for deviation, share in DELAYS:
            bent = since - lead.mean - deviation * late
            through = _softly(bent)
            expected = (1 - self.share) * through
            weight = self._heeds * share
            weight *= _likelihood(short - expected, math.hypot(off, self.share_off * through))
            throttled += weight
            full_s += weight * max(-bent, 0.0)
            seen += weight if bent > OLD_S else 0.0
        total = throttled + still  # above nothing, as every likelihood is
        self._still = still / total
        self._full_s = full_s / throttled if throttled > 0 else 0.0
        doubt = max(still, UNSURE / (1 - UNSURE) * still * self._heeds / (1 - self._heeds))
        self._looks = self._looks + 1 if seen > SHOWN * (throttled + doubt) else 0
        if self._looks < 2:
            return False
        self.shown_at = t
        return True

    @property
    def likely(self) -> float:
        """How likely it is that the hand was throttled, or is about to be."""
        return 1.0 if self.shown_at is not None else 1.0 - self._still

    def coming(self, lead: Belief) -> float:
        """Grams still to come of a stop now, if the hand was throttled or is about to be."""
        full = min(self._full_s, lead.mean)
        return self.line.rate * (full + self.share * (lead.mean - full))

    def after(self, came_g: float, lead: Belief, gulp_s: float) -> float:
        """How likely it was throttled at a stop after which ``came_g`` more was displayed."""
        came, full = came_g / self.line.rate, lead.mean
        off = math.hypot(lead.known, lead.noise, gulp_s)
        still = self._still * _likelihood(came - full, off)
        expected = self.coming(lead) / self.line.rate
        off = math.hypot(off, self.share_off * full)
        throttled = (1 - self._still) * _likelihood(came - expected, off)
        return throttled / (throttled + still) if throttled + still > 0 else 0.5


def _softly(seconds: float) -> float:
    """``seconds`` above zero, with the corner rounded."""
    return 0.5 * (seconds + math.hypot(seconds, BENDS_S)) if seconds > -1 else 0.0


def _likelihood(off: float, sigma: float) -> float:
    return math.exp(-0.5 * min((off / sigma) ** 2, 200.0)) / sigma
