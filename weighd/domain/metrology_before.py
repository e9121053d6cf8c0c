"""How uncertainty was worked out before records kept a budget: to verify records of that time.

The readings of a level counted as independent (``u² = s²/n + d²/12``), figures had four decimals,
and repeatability was the only figure of a scale. Nothing new is judged by this.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Context, Decimal

from weighd.domain.metrology import Level

_CONTEXT = Context(prec=28)
_FINEST = Decimal("0.0001")


def level(displayed: Sequence[Decimal], interval_g: Decimal) -> Level:
    """The level that a run of readings shows, at least one, in grams."""
    ordered = sorted(displayed)
    n = len(ordered)
    variance = Decimal(0)
    if n > 1:
        mean = sum(ordered, Decimal(0)) / n
        variance = sum(((one - mean) ** 2 for one in ordered), Decimal(0)) / (n - 1)
    square = variance / n + interval_g**2 / 12
    return Level(ordered[(n - 1) // 2], _CONTEXT.sqrt(square).quantize(_FINEST))


def net_uncertainty(gross: Level, tare: Level, repeatability_g: Decimal = Decimal(0)) -> Decimal:
    """Standard uncertainty in grams of ``gross - tare``."""
    square = gross.u_g**2 + tare.u_g**2 + repeatability_g**2
    return _CONTEXT.sqrt(square).quantize(_FINEST)
