"""One pour as it goes: the line of its display, what was told, and where it would land."""

from __future__ import annotations

import math
from dataclasses import dataclass

from weighd.domain.pouring_gurgle import Gurgle
from weighd.domain.pouring_habits import Habits
from weighd.domain.pouring_slowing import Line, Slowing
from weighd.domain.pouring_stream import Stream

#: A growth younger than this may be a lump that has ended already.
YOUNG_S = 0.5
#: Nearer to the target than this, in seconds of flow, the wave of a gurgling stream is reckoned.
WAVES_S = 0.3
#: Once the lead is over, a display that moves still has about this long to go.
TAIL_S = 0.12
#: A stop is ignored, so it seems, when it takes so many deviations longer than expected.
IGNORED = 2.5


@dataclass(frozen=True, slots=True)
class Landing:
    """Where a pour lands and its standard uncertainty, in grams."""

    grams: float
    sigma: float


@dataclass(frozen=True, slots=True)
class Stop:
    """A ``stop`` that was told: the line of the display then, its age in seconds, how well its
    rate was known, the lead reckoned with, and where the pour was to land."""

    line: Line
    age: float
    known: float
    lead_s: float
    landing: Landing


class Pour:
    """One pour on a scale with interval ``d`` grams, by somebody with these habits."""

    def __init__(self, d: float, habits: Habits, target: float) -> None:
        self.habits, self.target = habits, target
        self.stream = Stream(d, habits.gulp)
        self.slowing: Slowing | None = None
        self.stop: Stop | None = None
        #: The full flow as far as it was seen in this pour, g/s; 0 before.
        self.full = 0.0
        self._gurgle = Gurgle()

    def feed(self, t: float, shown: float, noise: float) -> None:
        """Take a display in; ``noise`` is its standard deviation at rest."""
        stream, slowing = self.stream, self.slowing
        stream.steady = slowing is None and self.stop is None
        stream.feed(t, shown, noise)
        if stream.aside:
            return
        if stream.age < YOUNG_S or self.stop is not None:
            self._gurgle.clear()
        else:
            self._gurgle.add(t, shown)
        if slowing is None or self.stop is not None:
            return
        display = stream.noise + 0.3 * stream.d
        if slowing.looks(t, shown, self.habits.lead, stream.gulp, display):
            self._gurgle.clear()
            full = slowing.line.rate
            stream.turn(shown, slowing.share * full, slowing.share_off * full)

    def at_rest(self, grams: float, known: float) -> None:
        """The load is at rest."""
        self.stream.rest(grams, known)

    def say_slow(self, t: float) -> None:
        """``slow`` is told."""
        self.full = self.stream.rate
        habits = self.habits
        self.slowing = Slowing(self._line(t), habits.throttle, habits.heeds)

    def say_stop(self, t: float, landing: Landing) -> None:
        """``stop`` is told."""
        stream = self.stream
        line = self._line(t)
        self.stop = Stop(line, stream.age, stream.rate_known, self.habits.lead.mean, landing)
        if self.slowing is None:
            self.full = max(self.full, line.rate)

    def again(self) -> None:
        """After a rest: the next stretch of pouring."""
        self.stop = self.slowing = None

    @property
    def rate(self) -> float:
        """Grams a second, never below zero."""
        return max(self.stream.rate, 0.0)

    @property
    def open_still(self) -> bool:
        """Whether ``slow`` was told and nothing shows yet."""
        slowing = self.slowing
        return slowing is not None and slowing.shown_at is None and slowing.line.rate > 0

    def _line(self, t: float) -> Line:
        return Line(t, self.stream.at, self.rate)

    # --- the landing ------------------------------------------------------------------------------

    def landing(self, t: float) -> Landing:
        """Where the pour lands if it is stopped now, or since it was."""
        if self.stop is not None:
            return self._stopped(t, self.stop)
        stream, rate, habits = self.stream, self.rate, self.habits
        ahead = habits.lead.mean
        if stream.age < YOUNG_S and self.full == 0:
            ahead = min(ahead, stream.age)
        coming = rate * ahead
        sigma = math.hypot(stream.spread(ahead), habits.late * rate)
        if abs(self.target - stream.at - coming) < WAVES_S * rate:
            forecast, share = self._gurgle.forecast(t + ahead)
            coming += share * (forecast - stream.at - coming)
        slowing = self.slowing
        if slowing is not None and self.open_still:
            likely = slowing.likely
            throttled = slowing.coming(habits.lead)
            # Two places where it may land: how far apart they are is part of what is not known.
            sigma = math.hypot(sigma, math.sqrt(likely * (1 - likely)) * (coming - throttled))
            coming += likely * (throttled - coming)
        return Landing(stream.at + coming, sigma)

    def _stopped(self, t: float, stop: Stop) -> Landing:
        """As foretold at first; the nearer the end of the lead, the more as the display has it."""
        stream, rate, habits = self.stream, self.rate, self.habits
        if rate == 0.0:
            return Landing(stream.at, stream.spread(0.0))
        since = t - stop.line.t - habits.lead.mean
        over = since - IGNORED * habits.late
        ahead = TAIL_S if over < 0 else min(habits.lead.mean, TAIL_S + over)
        shown = stream.at + rate * ahead
        share = min(max((since + habits.late) / (3 * habits.late), 0.0), 1.0)
        foretold = stop.landing
        grams = max(foretold.grams + share * (shown - foretold.grams), min(stream.at, shown))
        doubt = share * rate * 0.5 * (ahead + habits.late)
        sigma = math.hypot((1 - share) * foretold.sigma, doubt, stream.spread(0.0))
        return Landing(grams, sigma)
