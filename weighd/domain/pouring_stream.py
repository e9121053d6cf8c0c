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

#: A gulp moves the display by so many seconds of flow, least and most, and for about so long.
GULP_LEAST_S, GULP_MOST_S, GULP_LASTS_S = 0.015, 0.25, 0.2
#: How much is learned from forecasts this far ahead, made so often; what they taught lasts so long.
AHEAD_S, FORECAST_S, TEACHES_S = 0.5, 0.1, 3.0
#: A young stream forecasts nothing.
SETTLED_S = 0.6
#: How fast a steady stream changes: its rate wanders by this share in a second; a young one,
#: whose hand is still opening and which the scale's filter still smooths, much faster.
WANDERS, OPENS, YOUNG_S = 0.10, 1.2, 0.30
#: A display may be off the line by so many seconds of flow, intervals and deviations.
ROOM_S, ROOM_D, ROOM_NOISE = 0.12, 2.0, 3.5
#: A display that jumped, and is to be believed, falls back by no more than this share.
WAVERS = 0.05
#: Rounding is shared by readings within one step of the display, up to this long.
STEP_S = 0.3
#: No scale tells its display more often than this, seconds.
LEAST_PERIOD_S = 0.001
#: Readings further apart than this (or so many periods) have a silence between them.
SILENT_S, SILENT_PERIODS = 1.5, 4.0
#: This many readings in a row that agree with nothing: begin again, and take it for noisier.
LOST, NOISIER = 4, 2.0
#: Without a stream, a display that swings to and fro tells its noise: a deviation is followed by
#: steps of this factor to where it balances, this share of a standard deviation.
FOLLOWS, BALANCE = 1.25, 0.43
#: One that stays on one side of the line for so long, and so many readings, has begun to flow.
ASIDE_S, ASIDE_MOST = 0.4, 5


class Stream:
    """Follows one display; grams and seconds.

    ``d``     the scale's interval in grams.
    ``gulp``  seconds of flow by which gulps move the display, as known before; learned on.
    """

    def __init__(self, d: float, gulp: float = 0.035) -> None:
        self.d = d
        #: Standard deviation of one display, as told and as seen.
        self.noise = self.seen_noise = 0.3 * d
        self.period = 0.1
        self.gulp = gulp
        #: Whether the flow is left alone, so that forecasts teach how it gurgles.
        self.steady = True
        self.clear()

    def clear(self) -> None:
        """Begin again with the next reading; the time between readings is kept."""
        self.t = -math.inf
        self.at = self.rate = 0.0
        self._pp = self._pr = self._rr = 0.0
        self._aside: tuple[float, float] | None = None
        self._alone = True
        self._lost = 0
        self._since = -math.inf
        self._off, self._side = 0.0, (-math.inf, 0)
        self._forecasts: deque[tuple[float, float, float]] = deque(maxlen=8)

    @property
    def aside(self) -> bool:
        """Whether the newest display is set aside, or the first and still alone."""
        return self._aside is not None or self._alone

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

    def feed(self, t: float, value: float, noise: float = 0.0) -> None:
        """Take a display in; ``noise`` is its standard deviation at rest, as known elsewhere."""
        self.noise = max(noise, self.seen_noise)
        dt = t - self.t
        if dt > max(SILENT_S, SILENT_PERIODS * self.period):
            self._start(t, value)
            return
        dt = max(dt, 0.0)
        self.period += 0.1 * (min(dt, 3 * self.period) - self.period)
        # Displays that come all at once, as a late cable brings them, teach no period of nothing.
        self.period = max(self.period, LEAST_PERIOD_S)
        self._ahead(t, dt)
        off = value - self.at
        if self._since == -math.inf:
            self._without_stream(t, off)
        room = ROOM_D * self.d + ROOM_NOISE * self.noise + abs(self.rate) * (ROOM_S + dt)
        if abs(off) <= room:
            self._update(off, dt)
            self._aside, self._alone, self._lost = None, False, 0
            self._forecast(t, value)
        elif self._agrees(value):
            self._restart(value, dt)
        else:
            self._aside = (t, value)
            self._lost += 1
            if self._lost >= LOST:
                self.seen_noise *= NOISIER
                self._start(t, value)

    def _without_stream(self, t: float, off: float) -> None:
        """Learn the noise of a display at rest; see a stream begin that is too thin to jump."""
        before, self._off = self._off, off
        if abs(off) <= BALANCE * self.seen_noise:
            self.seen_noise = max(self.seen_noise / FOLLOWS, 0.3 * self.d)
        elif off * before < 0:
            self.seen_noise *= FOLLOWS
        if off * before <= 0:
            self._side = (t, 0)
            return
        since, count = self._side
        self._side = (since, count + 1)
        if count >= ASIDE_MOST and t - since >= ASIDE_S and off > 0:
            self._since = since
            self._rr = max(self._rr, (2 * off / (t - since)) ** 2)

    def rest(self, value: float, known: float) -> None:
        """The display is known to be at rest at ``value``, to ``known`` grams."""
        self.at, self.rate = value, 0.0
        self._pp, self._pr, self._rr = known * known, 0.0, 0.0
        self._aside, self._alone, self._lost = None, False, 0
        self._since = -math.inf

    def turn(self, at: float, rate: float, known: float) -> None:
        """The flow is known to have changed a moment ago, to about ``rate``."""
        self.at, self.rate = at, rate
        self._pp, self._pr, self._rr = self.d**2 / 12 + self.noise**2, 0.0, known * known
        self._since = self.t

    # --- inside ---------------------------------------------------------------------------------

    def _start(self, t: float, value: float) -> None:
        self.t, self.at, self.rate = t, value, 0.0
        self._pp, self._pr, self._rr = (0.5 * self.d) ** 2, 0.0, 0.0
        self._aside, self._alone, self._lost = None, True, 0
        self._since = -math.inf

    def _ahead(self, t: float, dt: float) -> None:
        self.t = t
        self.at += self.rate * dt
        young = OPENS * math.exp(-(t - self._since) / YOUNG_S) if self._since > -math.inf else 0.0
        wander = (WANDERS + young) * max(abs(self.rate), 2 * self.d)
        self._pp += dt * (2 * self._pr + dt * self._rr) + wander * wander * dt**3 / 3
        self._pr += dt * self._rr + wander * wander * dt * dt / 2
        self._rr += wander * wander * dt

    def _forecast(self, t: float, value: float) -> None:
        """Compare with what was forecast half a second ago, and forecast again."""
        forecasts = self._forecasts
        if not self.steady or self.age < SETTLED_S or self.rate <= 4 * self.d:
            forecasts.clear()
            return
        while forecasts and forecasts[0][0] <= t:
            due, forecast, known = forecasts.popleft()
            if t - due < 2 * self.period:
                off = (value - forecast - (t - due) * self.rate) / self.rate
                # Two gulps, and what was not known of the line, are in it.
                square = max(off * off - known, 0.0) / 2
                gain = FORECAST_S / TEACHES_S
                square = self.gulp**2 + gain * (square - self.gulp**2)
                self.gulp = min(max(math.sqrt(square), GULP_LEAST_S), GULP_MOST_S)
        if not forecasts or t + AHEAD_S - forecasts[-1][0] >= FORECAST_S:
            known = (self.spread(AHEAD_S) / self.rate) ** 2
            rounding = (0.4 * self.d / self.rate) ** 2
            forecasts.append((t + AHEAD_S, self.at + AHEAD_S * self.rate, known + rounding))

    def _noise(self, dt: float) -> float:
        """Variance of a display about the line, as much as one more reading tells of it."""
        dt = max(dt, 0.2 * self.period, 1e-3)
        rate = abs(self.rate)
        step_s = min(self.d / rate, STEP_S) if rate > 0 else STEP_S
        square = self.d**2 / 12 * max(1.0, step_s / dt) + self.noise**2
        return square + (self.gulp * rate) ** 2 * max(1.0, GULP_LASTS_S / dt)

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
        way, on = self._aside[1] - self.at, value - self._aside[1]
        back = ROOM_D * self.d + ROOM_NOISE * self.noise + WAVERS * abs(way)
        same_way = (value - self.at) * way > 0 and (on * way > 0 or abs(on) <= back)
        return same_way and abs(on) < 0.8 * abs(value - self.at) + self.d

    def _restart(self, value: float, dt: float) -> None:
        assert self._aside is not None
        since, was = self._aside
        dt = max(dt, 0.5 * self.period)
        self.at, self.rate = value, (value - was) / dt
        noise = self.d**2 / 12 + self.noise**2
        self._pp = noise
        self._pr = noise / dt
        self._rr = 2 * noise / (dt * dt) + (0.5 * self.rate) ** 2
        self._aside, self._alone, self._lost = None, False, 0
        self._since = since
