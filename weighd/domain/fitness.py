"""What a scale can do for one weighing: hold it, and judge it."""

from __future__ import annotations

from decimal import Decimal

from weighd.domain.batch import Scale
from weighd.domain.metrology import Rule, expected_budget, root_sum, whole_budget
from weighd.domain.weighable import share_used

#: Ingredient and carrier of a premix are weighed to a tenth.
ROUGH = Decimal("0.1")


def above_min(scale: Scale, net_g: Decimal) -> bool:
    """Whether a net is not below what the scale should be used for."""
    return scale.min_g is None or net_g >= scale.min_g


def expected_u(scale: Scale, net_g: Decimal, parts: int = 1) -> Decimal:
    """The least an amount weighed in so many equal parts is uncertain by, in grams."""
    one = expected_budget(scale.interval_g, scale.accuracy, net_g / parts)
    return whole_budget([one] * parts).u_g if parts > 1 else one.u_g


def share(
    scale: Scale,
    rule: Rule,
    low_g: Decimal,
    high_g: Decimal,
    *,
    parts: int = 1,
    carried_u_g: Decimal = Decimal(0),
) -> Decimal:
    """How much of a tolerance the scale takes up; up to 1 it can judge.

    ``carried_u_g``  what else the amount is uncertain by: what a premix or its rest brings along.
    """
    u = root_sum(expected_u(scale, high_g, parts), carried_u_g)
    return share_used(low_g, high_g, scale.interval_g, rule, u)


def usual_interval(
    low_g: Decimal, high_g: Decimal, rule: Rule, least: Decimal = Decimal("0.00001")
) -> Decimal | None:
    """The coarsest interval of 1, 2 or 5 times a power of ten grams that can judge a band.

    Of a scale of which nothing is stated. ``None`` below ``least``.
    """
    at = Decimal(1).scaleb((high_g - low_g).adjusted()) if high_g > low_g else least
    while True:
        for times in (5, 2, 1):
            interval = at * times
            if interval < least:
                return None
            u = expected_budget(interval).u_g
            if share_used(low_g, high_g, interval, rule, u) <= 1:
                return interval.normalize()
        at /= 10
