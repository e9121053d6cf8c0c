"""The display of a pour as a line: where it is, how fast it grows, and how well that is known.

A two-state Kalman filter (position and rate; the textbook form). What it is given is not white:
a stream gurgles, so the display swings about the line for a fraction of a second at a time, and
a coarse interval steps. Both are taken as noise that readings close together share, so that many
readings a second count for no more than they tell.

One reading never decides: a display further from the line than a stream can bring it is set
aside, and believed only when the next one agrees; meanwhile the line goes on by itself.
"""

from __future__ import annotations

import math
from collections import deque

#: A gulp moves the display by this many seconds of flow, for about so long.
GULP_S, GULP_LASTS_S = 0.035, 0.2
#: How fast a steady stream changes: its rate wanders by this share in a second; a young one,
#: whose hand is still opening and which the scale's filter still smooths, much faster.
WANDERS, OPENS, YOUNG_S = 0.10, 1.2, 0.30
#: A display may be off the line by so many seconds of flow, intervals and deviations.
ROOM_S, ROOM_D, ROOM_NOISE = 0.12, 2.0, 3.5
#: Rounding is shared by readings within one step of the display, up to this long.
STEP_S = 0.3
#: Readings further apart than this (or so many periods) have a silence between them.
SILENT_S, SILENT_PERIODS = 1.5, 4.0
#: This many readings in a row that agree with nothing: begin again.
LOST = 4


class Stream:
    """Follows one display; grams and seconds. ``d`` is the scale's interval in grams."""

    def __init__(self, d: float) -> None:
        self.d = d
        self.noise = 0.3 * d
        self.period = 0.1
        self._began = False
        self.clear()

    def clear(self) -> None:
        """Begin again with the next reading; the time between readings is kept."""
        self.t = -math.inf
        self.at = self.rate = 0.0
        self._pp = self._pr = self._rr = 0.0
        self._aside: tuple[float, float] | None = None
        self._lost = 0
        self._since = -math.inf
        self._heard: deque[float] = deque(maxlen=2)

    @property
    def aside(self) -> bool:
        """Whether the newest display was set aside."""
        return self._aside is not None

    @property
    def age(self) -> float:
        """Seconds since this stream began."""
        return self.t - self._since

    def spread(self, ahead_s: float) -> float:
        """Standard uncertainty in grams of ``at + rate * ahead_s``."""
        square = self._pp + 2 * ahead_s * self._pr + ahead_s * ahead_s * self._rr
        return math.sqrt(max(square, 0.0))

    @property
    def rate_known(self) -> float:
        """Standard uncertainty of the rate."""
        return math.sqrt(max(self._rr, 0.0))

    def feed(self, t: float, value: float) -> None:
        """Take a display in."""
        dt = t - self.t
        if dt > max(SILENT_S, SILENT_PERIODS * self.period):
            self._start(t, value)
            return
        dt = max(dt, 0.0)
        self.period += 0.1 * (min(dt, 3 * self.period) - self.period)
        self._ahead(t, dt)
        off = value - self.at
        room = ROOM_D * self.d + ROOM_NOISE * self.noise + abs(self.rate) * (ROOM_S + dt)
        if abs(off) <= room:
            self._update(off, dt)
            self._aside, self._lost = None, 0
        elif self._agrees(value):
            self._restart(value, dt)
        else:
            self._aside = (t, value)
            self._lost += 1
            if self._lost >= LOST:
                self._start(t, value)

    def rest(self, value: float, known: float) -> None:
        """The display is known to be at rest at ``value``, to ``known`` grams."""
        self.at, self.rate = value, 0.0
        self._pp, self._pr, self._rr = known * known, 0.0, 0.0
        self._aside, self._lost = None, 0
        self._since = -math.inf

    def loosen(self, share: float) -> None:
        """The rate may change soon, by about this share of itself."""
        self._rr += (share * self.rate) ** 2

    # --- inside ---------------------------------------------------------------------------------

    def _start(self, t: float, value: float) -> None:
        self.t, self.at, self.rate = t, value, 0.0
        self._pp, self._pr, self._rr = (0.5 * self.d) ** 2, 0.0, 0.0
        self._aside, self._lost = None, 0
        self._since = -math.inf

    def _ahead(self, t: float, dt: float) -> None:
        self.t = t
        self.at += self.rate * dt
        young = OPENS * math.exp(-(t - self._since) / YOUNG_S) if self._since > -math.inf else 0.0
        wander = (WANDERS + young) * max(abs(self.rate), 2 * self.d)
        self._pp += dt * (2 * self._pr + dt * self._rr) + wander * wander * dt**3 / 3
        self._pr += dt * self._rr + wander * wander * dt * dt / 2
        self._rr += wander * wander * dt

    def _noise(self, dt: float) -> float:
        """Variance of a display about the line, as much as one more reading tells of it."""
        dt = max(dt, 0.2 * self.period, 1e-3)
        rate = abs(self.rate)
        step_s = min(self.d / rate, STEP_S) if rate > 0 else STEP_S
        square = self.d**2 / 12 * max(1.0, step_s / dt) + self.noise**2
        return square + (GULP_S * rate) ** 2 * max(1.0, GULP_LASTS_S / dt)

    def _update(self, off: float, dt: float) -> None:
        total = self._pp + self._noise(dt)
        for_at, for_rate = self._pp / total, self._pr / total
        self.at += for_at * off
        self.rate += for_rate * off
        self._rr -= for_rate * self._pr
        self._pr *= 1 - for_at
        self._pp *= 1 - for_at

    def _agrees(self, value: float) -> bool:
        """Whether the display set aside and this one tell the same story."""
        if self._aside is None:
            return False
        was = self._aside[1]
        same_way = (value - self.at) * (was - self.at) > 0
        return same_way and abs(value - was) < 0.8 * abs(value - self.at) + self.d

    def _restart(self, value: float, dt: float) -> None:
        assert self._aside is not None
        since, was = self._aside
        dt = max(dt, 0.5 * self.period)
        self.at, self.rate = value, (value - was) / dt
        noise = self.d**2 / 12 + self.noise**2
        self._pp = noise
        self._pr = noise / dt
        self._rr = 2 * noise / (dt * dt) + (0.5 * self.rate) ** 2
        self._aside, self._lost = None, 0
        self._since = since
