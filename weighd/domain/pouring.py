"""When to say slow, and when to say stop, so that a pour lands on its target.

The number on the display lags the bowl: by the scale's filter, by what is still falling, and,
once the cue is given, by the cook's reaction and the hand that closes. For a steady stream all
of these are one time, the *lead*: stopped now, the pour lands at

    display + rate * lead.

The lead is learned from how pours ended: where the line of the display stood when ``stop`` was
told, how fast it grew, and where the load came to rest. It is learned per cook and ingredient
(``pouring_learned``) and never leaves its bounds (``pouring_habits``).

``slow`` comes earlier, so many seconds of full flow before ``stop`` would: the hand throttles,
and the same error in time costs fewer grams at the stop. Whether and how far this cook throttles
is learned too; until the display can show it, both are reckoned with (``pouring_slowing``).

Cues do not flicker: within one stretch of pouring they only go from ``pour`` to ``slow`` to
``stop``, and ``stop`` stands until the load is at rest and clearly short. One reading never
brings a cue about: the line follows a display that jumps only when the next one agrees
(``pouring_stream``). Memory is bounded, and so is the time a reading takes.
"""

from __future__ import annotations

import math
from decimal import Decimal

from weighd.domain.metrology import Level
from weighd.domain.pouring_cue import MOST_G, Aim, Cue, Guidance
from weighd.domain.pouring_habits import LEAD, Habits
from weighd.domain.pouring_landing import YOUNG_S, Landing, Pour
from weighd.domain.pouring_learned import Belief
from weighd.domain.pouring_slowing import Slowing

__all__ = ["Aim", "Cue", "Guidance", "Guide"]

#: ``slow`` comes no less and no more than so many seconds of full flow before ``stop`` would.
EARLY_LEAST_S, EARLY_MOST_S = 0.5, 1.6
#: At the throttled rate, the display needs this long to show it before ``stop`` can be timed.
SHOWS_S = 1.0
#: A cook not known to heed ``slow`` so often is given this much more than the lead: then it
#: shows before ``stop`` is due.
SURE, DOUBT_S = 0.88, 0.6
#: While it is open whether the hand was throttled, ``stop`` waits for this share of the difference.
PATIENCE = 0.5
#: A load at rest that is short is told to be so after this long.
SHORT_S = 1.0
#: A display over capacity so many times in a row stops the pour.
OVERS = 2
#: A pour teaches if its stream was this old at the stop, and its rate known to this share.
TEACHES_AGE_S, TEACHES_KNOWN = 0.8, 0.25
#: More left of the flow than this is no throttle.
THROTTLED_MOST = 0.8
#: A pour that ends before it was seen at rest teaches if the display has nearly come to rest.
NEARLY_S, NEARLY = 1.0, 0.04


class Guide:
    """Guides the pours on one scale; ``begin`` is the next one. ``slow``: whether to say it."""

    def __init__(self, *, slow: bool = True) -> None:
        self._may_slow = slow
        self._habits = Habits()
        self._aim: Aim | None = None
        self._cue = Cue.STOP
        self._pour = Pour(1.0, self._habits, 0.0)
        self._clear()

    def _clear(self) -> None:
        self._taught = False
        self._rested_at: float | None = None
        self._overs = 0

    @property
    def aim(self) -> Aim | None:
        """What is aimed at; ``None`` before the first pour and after the end of one."""
        return self._aim

    @property
    def lead(self) -> Belief:
        """The lead in seconds, as known of the cook and ingredient of this pour."""
        return self._habits.lead

    def begin(self, aim: Aim, *, forget: bool = False) -> None:
        """The next pour; what was learned is kept unless ``forget``."""
        self.end()
        if forget:
            self._habits.forget()
        before = self._pour.stream
        self._habits.of(aim.cook, aim.ingredient)
        self._aim = aim
        self._pour = Pour(float(aim.interval_g), self._habits, float(aim.target_g))
        self._pour.stream.period = before.period
        if before.d == self._pour.stream.d and not forget:
            self._pour.stream.seen_noise = before.seen_noise
        self._clear()
        self._cue = self._first_cue(self._pour.target)

    def end(self) -> None:
        """The pour is over: learn from it what there is. Until the next one the cue is stop."""
        pour, stop = self._pour, self._pour.stop
        if self._aim is not None and stop is not None:
            stream = pour.stream
            late = stream.t - stop.line.t > NEARLY_S and not stream.aside
            if self._rested_at is not None or (late and pour.rate < NEARLY * stop.line.rate):
                self._learn(stream.at)
        self._aim, self._cue = None, Cue.STOP

    def drop(self) -> None:
        """What was seen was no pour: nothing is learned from it."""
        self._pour.stop = None
        self.end()

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
        aim, pour = self._aim, self._pour
        if aim is None:
            return Guidance(t, Cue.STOP)
        if net_g is None or abs(net_g) > MOST_G:
            self._overs = self._overs + 1 if over else 0
            if self._overs >= OVERS:
                self._cue = Cue.STOP
            return Guidance(t, self._cue)
        self._overs = 0
        pour.feed(t, float(net_g), noise_g)
        if rest is None:
            self._rested_at = None
        else:
            pour.at_rest(float(rest.grams), float(rest.u_g))
            self._rests(t, float(rest.grams))
        landing = pour.landing(t)
        if self._cue is not Cue.STOP and not pour.stream.aside:
            self._decide(t, landing, at_rest=rest is not None)
        step = aim.interval_g.scaleb(-1)
        return Guidance(t, self._cue, _grams(landing.grams, step), _grams(landing.sigma, step))

    def _decide(self, t: float, landing: Landing, *, at_rest: bool) -> None:
        pour = self._pour
        if at_rest:
            if pour.stream.at >= self._enough():
                self._say_stop(t, landing)
            return
        # Of this reading and the next, the one whose landing is nearer.
        due = landing.grams + 0.5 * pour.stream.period * pour.rate
        if due - self._patience() >= pour.target:
            self._say_stop(t, landing)
            return
        streams = pour.rate > 0 and pour.stream.age > YOUNG_S
        if self._cue is not Cue.POUR or not self._may_slow or not streams:
            return
        if due + pour.rate * self._early() >= pour.target:
            self._cue = Cue.SLOW
            pour.say_slow(t)

    def _say_stop(self, t: float, landing: Landing) -> None:
        self._cue = Cue.STOP
        self._taught = False
        self._pour.say_stop(t, landing)

    def _enough(self) -> float:
        """What a load at rest must have to be enough: not nothing, however wide the tolerance."""
        assert self._aim is not None
        target = self._pour.target
        return max(float(self._aim.low_g), min(target, 1.5 * self._pour.stream.d))

    def _first_cue(self, to_go: float) -> Cue:
        """``slow`` from the start where little is to go for so fast a flow."""
        flow = self._habits.flow or self._pour.full
        near = to_go < flow * (self._early() + self._habits.lead.mean)
        return Cue.SLOW if near and self._may_slow else Cue.POUR

    def _early(self) -> float:
        """How many seconds of full flow before ``stop`` to say ``slow``.

        Enough for the throttled flow to show and to be stopped in time; and, for a cook who may
        not heed it, enough to see that before ``stop`` is due.
        """
        habits, period = self._habits, self._pour.stream.period
        lead = habits.lead.mean
        early = habits.throttle.mean * (lead + SHOWS_S + period) + 2 * habits.late + period / 2
        if habits.heeds < SURE:
            early = max(early, lead + DOUBT_S + period)
        return min(max(early, EARLY_LEAST_S), EARLY_MOST_S + period)

    def _patience(self) -> float:
        """Grams by which ``stop`` waits while it is open whether the flow was throttled.

        The next reading will tell more; too early a stop costs more than a reading's wait.
        """
        slowing = self._pour.slowing
        if slowing is None or not self._pour.open_still:
            return 0.0
        apart = (1 - slowing.share) * self._habits.lead.mean * slowing.line.rate
        open_still = math.sqrt(slowing.likely * (1 - slowing.likely))
        return PATIENCE * self._habits.heeds * open_still * apart

    # --- at rest, and what it teaches -----------------------------------------------------------

    def _rests(self, t: float, grams: float) -> None:
        aim, pour = self._aim, self._pour
        assert aim is not None
        if self._rested_at is None:
            self._rested_at = t
        if self._cue is Cue.POUR or t - self._rested_at < SHORT_S:
            return
        self._learn(grams)
        short = pour.target - grams
        if grams >= float(aim.low_g) or short <= max(pour.stream.d, self._least() / 2):
            return
        if self._cue is Cue.SLOW and pour.slowing is None:
            return
        pour.again()
        self._cue = self._first_cue(short)

    def _least(self) -> float:
        """Grams that a throttled hand pours at least from start to stop, as far as is known.

        A shortfall of less than half of it would be a surplus, and as large, after a top-up.
        """
        return self._habits.throttle.mean * self._pour.full * self._habits.lead.mean

    def _learn(self, grams: float) -> None:
        """The pour came to rest at ``grams``: what it says of the cook and the flow."""
        pour, stop, habits = self._pour, self._pour.stop, self._habits
        if stop is None or self._taught:
            return
        self._taught = True
        rate, slowing = stop.line.rate, pour.slowing
        lead, sure = stop.lead_s + (grams - stop.landing.grams) / max(rate, 1e-9), 1.0
        if slowing is not None and slowing.line.rate > 0:
            sure = self._heeded(slowing, grams)
            if slowing.shown_at is None:
                # Where it was to land reckoned with a throttle that there may not have been.
                lead = (grams - stop.line.at) / max(rate, 1e-9)
        elif stop.age < TEACHES_AGE_S:
            return
        if rate <= 0 or stop.known > TEACHES_KNOWN * rate:
            return
        # Above nothing, since the flow at the stop was: either cue keeps what it saw of it.
        habits.flowed(pour.full, pour.stream.gulp)
        if -0.2 < lead < 1.2 * LEAD.high:
            off = math.hypot(0.4 * pour.stream.d, stop.known * habits.lead.mean) / rate
            habits.took(lead, sure * LEAD.noise**2 / (LEAD.noise**2 + off**2))

    def _heeded(self, slowing: Slowing, grams: float) -> float:
        """Learn whether ``slow`` was heeded, and how; how surely the flow at the stop is known."""
        stop, habits = self._pour.stop, self._habits
        assert stop is not None
        full, came = slowing.line.rate, grams - stop.line.at
        if slowing.shown_at is not None and stop.line.t - slowing.shown_at > YOUNG_S:
            share, weight, chance = stop.line.rate / full, 1.0, 1.0
        else:
            # Nothing was seen for long, but what came after the stop tells the flow then.
            share, weight = came / (full * habits.lead.mean), 0.5
            chance = slowing.after(came, habits.lead, self._pour.stream.gulp)
        if share > THROTTLED_MOST:
            chance = 0.0
        habits.heeded(chance)
        if chance > 0 and share > 0:
            habits.throttled(share, weight * chance)
        return 1.0 if slowing.shown_at is not None else (1.0 - chance) ** 2


def _grams(value: float, step: Decimal) -> Decimal:
    return Decimal(round(value / float(step))) * step
