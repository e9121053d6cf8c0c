"""One addition watched on its own, without a formula: how much has come since the start.

This is what ``weighd settle`` speaks: it sits between the detector, which knows only displays,
and a person who wants to know what the addition so far comes to.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from weighd.domain.metrology import Level, net_uncertainty
from weighd.domain.reading import Reading
from weighd.domain.settling import Phase, Settling


@dataclass(frozen=True, slots=True)
class Watched:
    """What is known after a reading. ``grams`` and ``sigma_g`` only when settled, ``why`` only
    when disturbed; ``grams`` is the addition so far."""

    t: float
    phase: Phase
    grams: Decimal | None = None
    sigma_g: Decimal | None = None
    why: str = ""


class Watch:
    """Watches additions on one scale; ``reset`` begins the next one."""

    def __init__(self, interval_g: Decimal = Decimal("0.1")) -> None:
        self._settling = Settling(interval_g)
        self._base: Level | None = None

    def reset(self, interval_g: Decimal, *, forget: bool = False) -> None:
        """Start afresh: what stands on the scale now counts for nothing.

        What was learned of the scale is kept unless ``forget``, or its interval changed.
        Raises ``ValueError`` for an interval that is not above zero.
        """
        if forget or interval_g != self._settling.interval_g:
            self._settling = Settling(interval_g)
        else:
            self._settling.forget()
        self._base = None

    def feed(self, reading: Reading) -> Watched:
        """Take one reading in."""
        finding = self._settling.feed(reading)
        d = self._settling.interval_g
        if finding.phase is Phase.DISTURBED or reading.grams is None:
            return Watched(reading.t, Phase.DISTURBED, why=finding.why)
        if self._base is None:
            # Nothing was settled yet: until it is, the first display is what stood there.
            self._base = Level(reading.grams, d)
        if reading.grams < self._base.grams - max(5 * d, Decimal(1)):
            return Watched(reading.t, Phase.DISTURBED, why="lift")
        if not finding.firm or finding.level is None:
            waiting = Phase.POURING if finding.rising else Phase.SETTLING
            return Watched(reading.t, waiting)
        net = finding.level.grams - self._base.grams
        if abs(net) <= d:
            if self._base.u_g >= d:
                self._base = finding.level
            return Watched(reading.t, Phase.EMPTY)
        return Watched(reading.t, Phase.SETTLED, net, net_uncertainty(finding.level, self._base))
