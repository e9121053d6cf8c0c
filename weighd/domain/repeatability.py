"""Repeatability, measured: one weight put on and taken off again and again.

The standard deviation of the nets (GUM, JCGM 100:2008, 4.2.2), each the level with the weight on
less the level before it. Ten weighings or more (as USP <41> asks: second-hand); of ten, a standard
deviation is itself only known to about a quarter (GUM, table E.1, from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, Context, Decimal

from weighd.domain.settling_finding import Finding

#: A level this many intervals from the one without the weight is still without it.
NEAR_D = 10
#: A net this far from the median is another load: in intervals, or as a share of it.
OTHER_D = 50
OTHER = Decimal("0.02")
#: Weighings below which the answer is not worth much.
ENOUGH = 10
_CONTEXT = Context(prec=28)


@dataclass(frozen=True, slots=True)
class Repeatability:
    """What the weighings show, in grams. ``s_g`` is ``None`` with fewer than two.

    ``nets``    the weighings that count; ``others`` those of another load.
    """

    nets: tuple[Decimal, ...]
    others: tuple[Decimal, ...] = ()

    @property
    def mean_g(self) -> Decimal | None:
        return sum(self.nets, Decimal(0)) / len(self.nets) if self.nets else None

    @property
    def s_g(self) -> Decimal | None:
        """Standard deviation."""
        mean, n = self.mean_g, len(self.nets)
        if mean is None or n < 2:
            return None
        squares = sum(((one - mean) ** 2 for one in self.nets), Decimal(0))
        return _CONTEXT.sqrt(squares / (n - 1))

    def stated_g(self) -> Decimal | None:
        """The standard deviation as it would be configured: rounded up to two digits."""
        s = self.s_g
        if not s:
            return s
        return s.quantize(Decimal(1).scaleb(s.adjusted() - 1), rounding=ROUND_CEILING)


class Repeats:
    """Takes the findings of a scale on which a weight is put on and taken off."""

    def __init__(self, interval_g: Decimal) -> None:
        self._d = interval_g
        self._base: Decimal | None = None
        self._loaded: Decimal | None = None
        self._nets: list[Decimal] = []

    def take(self, finding: Finding) -> Decimal | None:
        """Take a finding in; the net of a weighing when its weight was taken off again."""
        if finding.level is None or not finding.firm:
            return None
        shown = finding.level.grams - finding.shift_g
        if self._base is None or shown < self._base - NEAR_D * self._d:
            # The weight was on from the start: only now is it known what stands there without it.
            self._base, self._loaded = shown, None
            return None
        if shown > self._base + NEAR_D * self._d:
            self._loaded = shown
            return None
        done = self._done()
        self._base = shown
        return done

    def finish(self) -> Repeatability:
        """What they show; a weight still on counts."""
        self._done()
        return of(self._nets, self._d)

    def _done(self) -> Decimal | None:
        if self._loaded is None or self._base is None:
            return None
        net, self._loaded = self._loaded - self._base, None
        self._nets.append(net)
        return net


def of(nets: Sequence[Decimal], interval_g: Decimal) -> Repeatability:
    """The repeatability that nets show; those far from their median were another load."""
    if not nets:
        return Repeatability(())
    middle = sorted(nets)[(len(nets) - 1) // 2]
    far = max(OTHER_D * interval_g, OTHER * middle)
    return Repeatability(
        tuple(one for one in nets if abs(one - middle) <= far),
        tuple(one for one in nets if abs(one - middle) > far),
    )
