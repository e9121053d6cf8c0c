"""How well an addition is known, and what may be said of it.

Uncertainty is a standard uncertainty in grams (GUM, JCGM 100:2008). A displayed value is known
to within half an interval, so rounding contributes ``d / sqrt(12)`` to each of the two readings
that a net takes (F.2.2.1 and 5.1.2); the spread of the readings and the repeatability of the
scale are added in quadrature.

The decision rules follow JCGM 106:2012: ``simple`` accepts anything inside the limits;
``guarded`` keeps a guard band of ``k`` standard uncertainties and says ``too close to call``
where the uncertainty straddles a limit (the non-binary rule of ILAC-G8:09/2019, 4.2.3).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Context, Decimal
from enum import StrEnum

_CONTEXT = Context(prec=28)
#: Uncertainties are written to this many grams.
_FINEST = Decimal("0.0001")


class Verdict(StrEnum):
    """What is said of a weighed addition."""

    SHORT = "short"
    ON_TARGET = "on target"
    OVER = "over"
    TOO_CLOSE = "too close to call"


@dataclass(frozen=True, slots=True)
class Rule:
    """A decision rule: ``simple``, or ``guarded`` by ``k`` standard uncertainties (``k`` > 0)."""

    name: str = "guarded"
    k: Decimal = Decimal(2)

    def __post_init__(self) -> None:
        if self.name not in ("simple", "guarded"):
            raise ValueError(f'"{self.name}" is not a decision rule; use "simple" or "guarded"')
        if self.name == "guarded" and not 0 < self.k <= 5:
            raise ValueError(f"a guard band of {self.k} standard uncertainties makes no sense")

    def guard(self, u_g: Decimal) -> Decimal:
        """Width of the guard band in grams."""
        return Decimal(0) if self.name == "simple" else self.k * u_g


@dataclass(frozen=True, slots=True)
class Level:
    """A settled display: ``grams`` as displayed and its standard uncertainty in grams."""

    grams: Decimal
    u_g: Decimal


def level(displayed: Sequence[Decimal], interval_g: Decimal) -> Level:
    """The level that a run of settled readings shows.

    ``displayed``   grams, at least one, all of one settled stretch.
    ``interval_g``  the scale interval d, above zero.

    The level is the (lower) median, so it is always a value that stood on the display and one
    misread value cannot move it. ``u² = s²/n + d²/12``. Raises ``ValueError`` when empty.
    """
    if not displayed:
        raise ValueError("a level needs at least one reading")
    ordered = sorted(displayed)
    n = len(ordered)
    middle = ordered[(n - 1) // 2]
    variance = Decimal(0)
    if n > 1:
        mean = sum(ordered, Decimal(0)) / n
        variance = sum(((one - mean) ** 2 for one in ordered), Decimal(0)) / (n - 1)
    square = variance / n + interval_g**2 / 12
    return Level(middle, _CONTEXT.sqrt(square).quantize(_FINEST))


def net_uncertainty(gross: Level, tare: Level, repeatability_g: Decimal = Decimal(0)) -> Decimal:
    """Standard uncertainty in grams of ``gross - tare``, two independent readings of one scale."""
    square = gross.u_g**2 + tare.u_g**2 + repeatability_g**2
    return _CONTEXT.sqrt(square).quantize(_FINEST)


def expected_uncertainty(interval_g: Decimal, repeatability_g: Decimal = Decimal(0)) -> Decimal:
    """The least a net can be uncertain by on this scale: rounding of two readings, 0.41 d."""
    rounding = Level(Decimal(0), _CONTEXT.sqrt(interval_g**2 / 12))
    return net_uncertainty(rounding, rounding, repeatability_g)


def judge(net_g: Decimal, u_g: Decimal, low_g: Decimal, high_g: Decimal, rule: Rule) -> Verdict:
    """The verdict on a net mass; all in grams, ``low_g`` <= ``high_g``. Limits count as inside."""
    guard = rule.guard(u_g)
    if low_g + guard <= net_g <= high_g - guard:
        return Verdict.ON_TARGET
    if net_g < low_g - guard:
        return Verdict.SHORT
    if net_g > high_g + guard:
        return Verdict.OVER
    return Verdict.TOO_CLOSE


def judgeable(
    low_g: Decimal,
    high_g: Decimal,
    interval_g: Decimal,
    rule: Rule,
    repeatability_g: Decimal = Decimal(0),
) -> bool:
    """Whether some displayed net can come out ``on target`` wherever the display's steps fall."""
    guard = rule.guard(expected_uncertainty(interval_g, repeatability_g))
    return high_g - low_g - 2 * guard >= interval_g
