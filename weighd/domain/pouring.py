"""When to say slow, and when to say stop, so that a pour lands on its target.

The number on the display lags the bowl: by the scale's filter, by what is still falling, and,
once the cue is given, by the cook's reaction and the hand that closes. For a steady stream all
of these are one time, the *lead*: stopped now, the pour lands at

    display + rate * lead.

The lead is learned from how pours ended: where the line of the display stood when ``stop`` was
said, how fast it grew, and where the load came to rest. It is learned per cook and ingredient
(``pouring_learned``) and never leaves ``LEAD``'s bounds.

``slow`` comes earlier, so many seconds of full flow before ``stop`` would: the hand throttles,
and the same error in time costs fewer grams at the stop. Whether and how far this cook throttles
is learned too. Until the display can show it, both are reckoned with.

Cues do not flicker: within one stretch of pouring they only go from ``pour`` to ``slow`` to
``stop``; ``stop`` stands until the load is at rest and clearly short.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from weighd.domain.metrology import Level
from weighd.domain.pouring_learned import Belief, Learned, Prior
from weighd.domain.pouring_stream import Stream

#: Seconds from the cue to the end of what the display will show: the reaction of a cook (a
#: quarter of a second), a closing hand, the fall, and a scale's filter. From memory; common
#: practice, no source.
LEAD = Prior(mean=0.62, spread=0.20, noise=0.09, low=0.1, high=2.0)
#: Share of the full flow that is left after ``slow``.
THROTTLE = Prior(mean=0.35, spread=0.15, noise=0.08, low=0.05, high=1.0)
#: Logarithm of the full flow in g/s.
FLOW = Prior(mean=3.0, spread=1.5, noise=0.3, low=-3.0, high=7.5)
#: ``slow`` comes this many seconds of full flow before ``stop`` would.
EARLY_S, EARLY_LEAST_S, EARLY_MOST_S = 1.0, 0.6, 1.4
#: At the throttled rate, the display needs this long to show it before ``stop`` can be timed.
SHOWS_S = 0.7
#: Left of the lead while the display still moves after a stop.
TAIL_S = 0.2
#: A growth younger than this may be a lump that has ended already.
YOUNG_S = 0.5
#: A pour teaches if its stream was this old at the stop, and its rate known this well.
TEACHES_AGE_S, TEACHES_KNOWN = 0.8, 0.25
#: A load at rest that is short is told to be so after this long.
SHORT_S = 1.0
#: A display over capacity so many times in a row stops the pour.
OVERS = 2
#: A reset that comes before a claim still teaches if the display is nearly at rest by then.
NEARLY_S, NEARLY = 1.0, 0.04
_MOST_G = 1e9


class Cue(StrEnum):
    """What the cook is told."""

    POUR = "pour"
    SLOW = "slow"
    STOP = "stop"


@dataclass(frozen=True, slots=True)
class Aim:
    """What an addition is to come to. Masses in grams; less than ``low_g`` is short."""

    target_g: Decimal
    low_g: Decimal
    interval_g: Decimal
    ingredient: str = ""
    cook: str = ""

    def __post_init__(self) -> None:
        if self.interval_g <= 0:
            raise ValueError(f"a scale interval is above zero, not {self.interval_g}")
        if not 0 < self.target_g < _MOST_G:
            raise ValueError(f"a target is above zero, not {self.target_g}")


@dataclass(frozen=True, slots=True)
class Guidance:
    """The cue after a reading.

    ``landing_g``  grams of the addition if the cook is told to stop now (has been, after
                   ``stop``), with its standard uncertainty ``sigma_g``; ``None`` without a number.
    """

    t: float
    cue: Cue
    landing_g: Decimal | None = None
    sigma_g: Decimal | None = None


@dataclass(slots=True)
class _Told:
    """A cue that was given: when, where the line stood, and how fast it grew."""

    t: float
    at: float
    rate: float
    age: float
    known: float


class Guide:
    """Guides the pours on one scale; ``begin`` is the next one. ``slow``: whether to say it."""

    def __init__(self, *, slow: bool = True) -> None:
        self._may_slow = slow
        self._lead, self._throttle, self._flow = Learned(LEAD), Learned(THROTTLE), Learned(FLOW)
        self._aim: Aim | None = None
        self._stream = Stream(0.1)
        self._clear()

    def _clear(self) -> None:
        self._cue = Cue.POUR
        self._stop: _Told | None = None
        self._slowed: _Told | None = None
        self._taught = False
        self._rested_at: float | None = None
        self._full = 0.0
        self._overs = 0

    def forget(self) -> None:
        """Everything learned."""
        for one in (self._lead, self._throttle, self._flow):
            one.forget()

    def end(self) -> None:
        """The pour is over: learn from it what there is. Until the next one the cue is stop."""
        if self._aim is not None:
            self._ended()
        self._aim = None

    def begin(self, aim: Aim, *, forget: bool = False) -> None:
        """The next pour; what was learned is kept unless ``forget``."""
        self.end()
        if forget:
            self.forget()
        d = float(aim.interval_g)
        if forget or d != self._stream.d:
            self._stream = Stream(d)
        self._stream.clear()
        self._clear()
        self._aim = aim
        self._cue = self._first_cue(float(aim.target_g))

    @property
    def aim(self) -> Aim | None:
        """What is aimed at."""
        return self._aim

    def lead(self, cook: str, ingredient: str) -> Belief:
        """The lead in seconds, as learned of this cook and ingredient."""
        return self._lead.belief(cook, ingredient)

    # --- a reading ------------------------------------------------------------------------------

    def feed(
        self,
        t: float,
        net_g: Decimal | None,
        rest: Level | None = None,
        *,
        noise_g: float = 0.0,
        over: bool = False,
    ) -> Guidance:
        """Take one reading in.

        ``net_g``    the display less what stood there at the start; ``None`` without a number.
        ``rest``     the amount at rest, while it is claimed to be.
        ``noise_g``  standard deviation of the display at rest, as known.
        ``over``     the load is above capacity.
        """
        aim, stream = self._aim, self._stream
        if aim is None:
            return Guidance(t, Cue.STOP)
        if net_g is None or abs(net_g) > _MOST_G:
            self._overs = self._overs + 1 if over else 0
            if self._overs >= OVERS:
                self._cue = Cue.STOP
            return Guidance(t, self._cue)
        self._overs = 0
        if noise_g > 0:
            stream.noise = noise_g
        stream.feed(t, float(net_g))
        if rest is not None:
            stream.rest(float(rest.grams), float(rest.u_g))
            self._rests(t, float(rest.grams))
        else:
            self._rested_at = None
        landing, sigma = self._landing(t)
        if self._cue is not Cue.STOP and not stream.aside:
            self._decide(t, landing, at_rest=rest is not None)
        step = aim.interval_g.scaleb(-1)
        return Guidance(t, self._cue, _grams(landing, step), _grams(max(sigma, 0.0), step))

    def _landing(self, t: float) -> tuple[float, float]:
        """Where the pour lands if it is stopped now, and how well that is known; grams."""
        stream = self._stream
        rate = max(stream.rate, 0.0)
        lead = self._belief()
        late = math.hypot(lead.known, lead.noise)
        if self._stop is not None:
            since = t - self._stop.t
            if since <= lead.mean + 2.5 * late:
                ahead = max(lead.mean - since, min(TAIL_S, lead.mean))
            else:
                ahead = min(lead.mean, TAIL_S + since - lead.mean - 2.5 * late)
            return stream.at + rate * ahead, math.hypot(stream.spread(ahead), late * rate)
        ahead = lead.mean
        if stream.age < YOUNG_S and self._full == 0:
            ahead = min(ahead, max(stream.age, 0.0))
        coming = rate * ahead
        if self._slowed is not None:
            coming = self._throttled(t, rate, ahead)
        return stream.at + coming, math.hypot(stream.spread(ahead), late * rate)

    def _throttled(self, t: float, rate: float, lead: float) -> float:
        """Grams still to come of a stop now, with a throttle that the display may not show yet."""
        slowed = self._slowed
        assert slowed is not None
        if slowed.rate <= 0:
            return rate * lead
        share = self._throttle_share()
        since = t - slowed.t
        left = lead - since
        if left > 0:
            return rate * left + min(rate, share * slowed.rate) * since
        return rate * lead

    def _decide(self, t: float, landing: float, *, at_rest: bool) -> None:
        aim, stream = self._aim, self._stream
        assert aim is not None
        target, rate = float(aim.target_g), max(stream.rate, 0.0)
        enough = max(float(aim.low_g), min(target, stream.d))
        if at_rest:
            if stream.at >= enough:
                self._say_stop(t)
            return
        next_one = 0.5 * stream.period * rate
        if landing + next_one >= target:
            self._say_stop(t)
        elif self._cue is Cue.POUR and self._may_slow and stream.age > YOUNG_S:
            full = max(rate, 0.0)
            if landing + full * (self._early() + 0.5 * stream.period) >= target:
                self._cue = Cue.SLOW
                self._full = full
                self._slowed = self._told(t)

    def _say_stop(self, t: float) -> None:
        self._cue = Cue.STOP
        self._stop = self._told(t)
        self._taught = False
        if self._slowed is None:
            self._full = max(self._full, self._stream.rate)
        elif self._slowed.rate > 0 and self._stop.t - self._slowed.t > self._belief().mean + 0.5:
            self._teach(self._throttle, self._stop.rate / self._slowed.rate)

    def _told(self, t: float) -> _Told:
        stream = self._stream
        return _Told(t, stream.at, max(stream.rate, 0.0), stream.age, stream.rate_known)

    def _first_cue(self, to_go: float) -> Cue:
        flow = self._full
        if not flow and self._aim is not None:
            known = self._flow.belief(self._aim.cook, self._aim.ingredient)
            flow = math.exp(known.mean) if known.pours else 0.0
        near = to_go < flow * (self._early() + self._belief().mean)
        return Cue.SLOW if near and self._may_slow else Cue.POUR

    # --- at rest, and what it teaches -----------------------------------------------------------

    def _rests(self, t: float, grams: float) -> None:
        aim = self._aim
        assert aim is not None
        if self._rested_at is None:
            self._rested_at = t
        if self._cue is not Cue.STOP:
            self._slowed = None if self._cue is Cue.POUR else self._slowed
            return
        if t - self._rested_at < SHORT_S:
            return
        self._learn(grams)
        short = float(aim.target_g) - grams
        if grams < float(aim.low_g) and short > self._stream.d and short > self._least() / 2:
            self._stop = self._slowed = None
            self._cue = self._first_cue(short)

    def _least(self) -> float:
        """The least that a hand can pour from a stop to a stop, grams: no more than a guess."""
        return self._throttle_share() * self._full * self._belief().mean

    def _ended(self) -> None:
        """The pour is over without having been seen at rest for long."""
        stop, stream = self._stop, self._stream
        if stop is None or self._taught:
            return
        late = stream.t - stop.t > NEARLY_S and not stream.aside
        if self._rested_at is not None or (late and abs(stream.rate) < NEARLY * stop.rate):
            self._learn(stream.at)

    def _learn(self, grams: float) -> None:
        """The pour came to rest at ``grams``: what it says of the lead."""
        stop = self._stop
        if stop is None or self._taught:
            return
        self._taught = True
        if self._full > 0 and stop.age > TEACHES_AGE_S:
            self._teach(self._flow, math.log(self._full))
        if stop.rate <= 0 or stop.age < TEACHES_AGE_S or stop.known > TEACHES_KNOWN * stop.rate:
            return
        lead = (grams - stop.at) / stop.rate
        if -0.2 < lead < LEAD.high * 1.2:
            rounding = 0.4 * self._stream.d / stop.rate
            weight = LEAD.noise**2 / (LEAD.noise**2 + rounding**2)
            self._teach(self._lead, lead, weight)

    # --- what was learned -----------------------------------------------------------------------

    def _teach(self, what: Learned, value: float, weight: float = 1.0) -> None:
        assert self._aim is not None
        what.saw(self._aim.cook, self._aim.ingredient, value, weight)

    def _belief(self) -> Belief:
        assert self._aim is not None
        return self._lead.belief(self._aim.cook, self._aim.ingredient)

    def _throttle_share(self) -> float:
        assert self._aim is not None
        return self._throttle.belief(self._aim.cook, self._aim.ingredient).mean

    def _early(self) -> float:
        """How many seconds of full flow before ``stop`` to say ``slow``."""
        assert self._aim is not None
        share = self._throttle.belief(self._aim.cook, self._aim.ingredient)
        if share.of_cook < 1:
            return EARLY_S
        lead = self._belief()
        early = share.mean * (lead.mean + SHOWS_S) + 2.5 * lead.noise
        return min(max(early, EARLY_LEAST_S), EARLY_MOST_S)


def _grams(value: float, step: Decimal) -> Decimal:
    return Decimal(round(value / float(step))) * step
