"""One addition watched on its own, without a formula: how much has come since the start.

This is what ``weighd settle`` speaks: it sits between the detector, which knows only displays,
and a person who wants to know what the addition so far comes to. It answers with the first claim
of the detector, not the firm one that a record needs.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from decimal import Decimal

from weighd.domain import mass
from weighd.domain.metrology import Level, net_uncertainty
from weighd.domain.reading import Reading
from weighd.domain.settling import SILENT_S, Finding, Phase, Settling
from weighd.domain.settling_learned import Learned
from weighd.domain.settling_lift import Lift

#: A display this many intervals below the start is without its vessel.
GONE_D = 5
#: Before anything was at rest, the start follows a display that sinks by no more than this.
SINKING_D = 20
#: Displays that the start is taken from, and the drift (of their spread) that is a sinking.
MOST_EARLY = 40
SINKS = Decimal("0.4")
#: The first level at rest this close to the first display is where the addition starts.
START_D = Decimal("2.5")
#: What disturbs a display without taking the load away.
TREMBLES = ("touch", "shaking")
#: More than one interval is no unsteady digit: an addition that showed this much has begun.
BEGUN_D = Decimal("1.5")


@dataclass(frozen=True, slots=True)
class Watched:
    """What is known after a reading. ``grams`` and ``sigma_g`` only when settled, ``why`` only
    when disturbed; ``grams`` is the addition so far, ``firm`` whether a record could take it.
    ``net_g`` is the display less the start, at rest or not, while something stands there."""

    t: float
    phase: Phase
    grams: Decimal | None = None
    sigma_g: Decimal | None = None
    why: str = ""
    firm: bool = False
    net_g: Decimal | None = None


class Watch:
    """Watches additions on one scale; ``reset`` begins the next one."""

    def __init__(
        self, interval_g: Decimal = Decimal("0.1"), learned: Learned | None = None
    ) -> None:
        self._settling = Settling(interval_g, learned)
        self._last: tuple[float, Level] | None = None
        #: What the detector itself said of the newest reading.
        self.finding: Finding | None = None
        self._begin()

    def _begin(self) -> None:
        #: What stood there at the start, on the zero of the start.
        self._base: Level | None = None
        #: Whether that was at rest, and whether anything came since.
        self._sure = self._begun = False
        self._start_g = Decimal(0)
        self._early: deque[Decimal] = deque(maxlen=MOST_EARLY)
        self._lift = Lift(self._settling.interval_g)

    @property
    def interval_g(self) -> Decimal:
        """The interval of the scale, in grams."""
        return self._settling.interval_g

    @property
    def noise_g(self) -> float:
        """Standard deviation of the display at rest, as learned, in grams."""
        return self._settling.noise_g

    @property
    def drift_g_min(self) -> Decimal | None:
        """Grams a minute by which a load settled for long creeps or wastes away, if it does."""
        if self.finding is None or not self.finding.drift_g_s:
            return None
        told = Decimal(str(self.finding.drift_g_s)) * 60
        return mass.rounded(told, self.interval_g / 10)

    def learned(self) -> Learned:
        """What was learned of the scale."""
        return self._settling.learned()

    def reset(self, interval_g: Decimal, *, forget: bool = False) -> None:
        """Start afresh: what stands on the scale now counts for nothing.

        What was learned of the scale is kept unless ``forget``, or its interval changed.
        Raises ``ValueError`` for an interval that is not above zero.
        """
        if forget or interval_g != self._settling.interval_g:
            self._settling = Settling(interval_g)
            self._last = None
        else:
            self._settling.forget()
        self._begin()

    def feed(self, reading: Reading) -> Watched:
        """Take one reading in."""
        settling = self._settling
        finding = self.finding = settling.feed(reading)
        t, d = reading.t, settling.interval_g
        if reading.grams is None:
            return Watched(t, Phase.DISTURBED, why=finding.why)
        shown = reading.grams - finding.shift_g
        if self._base is None:
            self._base = self._first(t, shown)
        base = self._base
        lifting = finding.why == "lift"
        net = shown - base.grams
        if finding.phase is Phase.DISTURBED and not lifting:
            stays = net if finding.why in TREMBLES else None
            return Watched(t, Phase.DISTURBED, why=finding.why, net_g=stays)
        if not self._sure and net > -SINKING_D * d:
            base = self._start(shown)
            net = shown - base.grams
        if net < -GONE_D * d:
            self._lift.gone()
            return Watched(t, Phase.DISTURBED, why="lift")
        if lifting:
            return Watched(t, Phase.DISTURBED, why="lift")
        self._lift.stands(t, net, at_rest=finding.level is not None)
        if net > BEGUN_D * d and self._sure and finding.rising:
            self._begun = True
        return self._settled(finding, shown) if finding.level else self._waiting(finding, shown)

    def _first(self, t: float, shown: Decimal) -> Level:
        """The display at the start; the level that stood at the reset, if it still does."""
        d = self._settling.interval_g
        if self._last is not None:
            since, before = self._last
            if 0 < t - since < SILENT_S and abs(before.grams - shown) <= d:
                self._sure = True
                self._start_g = before.grams
                return before
        return Level(shown, d)

    def _start(self, shown: Decimal) -> Level:
        """Before anything was at rest: the middle of the displays before something came."""
        early, d = self._early, self._settling.interval_g
        low, high = min(early, default=shown), max(early, default=shown)
        base = self._base
        assert base is not None
        if shown - base.grams <= max(BEGUN_D * d, high - low):
            early.append(shown)
            half = len(early) // 2
            if half > 1:
                first, last = list(early)[:half], list(early)[-half:]
                drift = (sum(last) - sum(first)) / half
                if drift < -SINKS * (high - low):
                    early.clear()  # still on its way down: only the end of it counts
                    early.extend(last)
                elif drift > max(BEGUN_D * d, SINKS * (high - low)):
                    early.clear()  # something comes: only what was before it counts
                    early.extend(first)
            base = self._base = Level(sorted(early)[(len(early) - 1) // 2], d)
        return base

    def _waiting(self, finding: Finding, shown: Decimal) -> Watched:
        assert self._base is not None
        self._last = None
        net = shown - self._base.grams
        if self._lift.other:
            return Watched(finding.t, Phase.DISTURBED, why="vessel", net_g=net)
        phase = Phase.POURING if finding.rising else Phase.SETTLING
        return Watched(finding.t, phase, net_g=net)

    def _settled(self, finding: Finding, shown: Decimal) -> Watched:
        assert finding.level is not None
        assert self._base is not None
        t, d, level = finding.t, self._settling.interval_g, finding.level
        self._last = (t, level) if finding.firm else None
        on_zero = level.grams - finding.shift_g
        net = on_zero - self._base.grams
        if self._lift.off and not self._lift.came_back(net):
            seen = shown - self._base.grams
            return Watched(t, Phase.DISTURBED, why="vessel", net_g=seen)
        spread = Decimal(self._settling.spread_g)
        if not self._sure:
            self._sure = True
            if abs(net) <= max(START_D * d, 2 * spread):
                self._base, net = Level(on_zero, level.u_g), Decimal(0)
                self._start_g = on_zero
        elif not self._begun and spread >= 2 * d:
            # An unsteady display is known the better the longer nothing happens.
            near = max(abs(net), abs(on_zero - self._start_g)) <= spread / 2
            if near:
                self._base, net = Level(on_zero, level.u_g), Decimal(0)
        if net == 0 or (abs(net) <= d and not self._begun):
            return Watched(t, Phase.EMPTY, firm=finding.firm, net_g=shown - self._base.grams)
        self._begun = True
        u = net_uncertainty(level, self._base)
        seen = shown - self._base.grams
        return Watched(t, Phase.SETTLED, net, u, firm=finding.firm, net_g=seen)
