"""What a scale can judge: told before anything is poured, not at the bowl.

An amount is *judgeable* on a scale when some displayed net comes out ``on target`` wherever the
display's steps happen to fall: between the acceptance limits there must be room for one interval.
A larger amount with a relative tolerance has more room, so there is a *least net* from which a
scale can judge a tolerance. (The same idea, for one tolerance and without a guard band, is the
minimum weight of USP <41> and EURAMET cg-18: second-hand.)

All of it is worked out for a display that stands still, so it is what the scale can do at best.
"""

from __future__ import annotations

from decimal import ROUND_CEILING, Decimal, localcontext
from functools import lru_cache

from weighd.domain.accuracy import Accuracy
from weighd.domain.formula import FINEST, Limit, Tolerance
from weighd.domain.mass import EXACT
from weighd.domain.metrology import Rule, expected_budget

_NOTHING = Decimal(0)


def judgeable(
    low_g: Decimal,
    high_g: Decimal,
    interval_g: Decimal,
    rule: Rule,
    accuracy: Accuracy | None = None,
) -> bool:
    """Whether some displayed net can come out ``on target`` wherever the display's steps fall.

    The guard band is the one at the upper limit, where it is widest.
    """
    return high_g - low_g >= _room(interval_g, rule, accuracy, high_g)


def share_used(
    low_g: Decimal,
    high_g: Decimal,
    interval_g: Decimal,
    rule: Rule,
    u_g: Decimal,
) -> Decimal:
    """How much of a band both guard bands and one interval take up; judgeable up to 1.

    ``u_g``  standard uncertainty of the amount in grams. A band of no width gives ``Infinity``.
    """
    width = high_g - low_g
    if width <= 0:
        return Decimal("Infinity")
    return (2 * rule.guard(u_g) + interval_g) / width


def least_net(
    tolerance: Tolerance,
    interval_g: Decimal,
    rule: Rule,
    accuracy: Accuracy | None = None,
    max_g: Decimal | None = None,
) -> Decimal | None:
    """The smallest target in grams from which on, up to ``max_g``, every one is judgeable.

    Rounded up to 0.01 g; zero where any amount is, ``None`` where none is: an absolute tolerance
    does not grow with the amount. The guard band grows with the load in steps where an accuracy
    class is stated, so the loads between two steps are looked at from the largest down.
    """
    stated = accuracy or Accuracy()
    least: Decimal | None = None
    ends = [None, *reversed([target_at(tolerance, step) for step in stated.steps_g()])]
    starts = [*ends[1:], _NOTHING]
    for start, end in zip(starts, ends, strict=True):
        assert start is not None
        if max_g is not None and start >= max_g:
            continue
        if end is not None and end <= 0:
            break  # the tolerance alone is wider than that
        start = max(start, _NOTHING)
        # Any load of this stretch has the same guard band; just above its start is as good.
        inside = tolerance.band(start)[1] + FINEST / 1000
        found = _reaches(tolerance, _room(interval_g, rule, stated, inside))
        if found is None or (end is not None and found > end):
            break
        least = max(found, start)
        if least > start:
            break
    if least is None or (max_g is not None and least > max_g):
        return None
    return least.quantize(FINEST, rounding=ROUND_CEILING)


def finest_tolerance(
    target_g: Decimal, interval_g: Decimal, rule: Rule, accuracy: Accuracy | None = None
) -> Decimal:
    """The finest tolerance, the same on both sides, that is judgeable at a target; in grams.

    Rounded up to 0.01 g, or to a tenth of a finer interval.
    """
    half = _NOTHING
    for _ in range(3):  # a wider tolerance reaches further up, where the guard band may be wider
        half = _room(interval_g, rule, accuracy, target_g + half) / 2
    step = min(FINEST, interval_g / 10)
    with localcontext(EXACT):
        return (half / step).to_integral_value(rounding=ROUND_CEILING) * step


def _room(interval_g: Decimal, rule: Rule, accuracy: Accuracy | None, net_g: Decimal) -> Decimal:
    """How wide a band must be at a net mass, in grams: both guard bands and one interval."""
    stated = accuracy or Accuracy()
    u = _least_u(interval_g, stated.repeatability_g, stated.error_g(net_g), stated.creep_g)
    return 2 * rule.guard(u) + interval_g


@lru_cache(maxsize=256)
def _least_u(
    interval_g: Decimal, repeatability_g: Decimal, error_g: Decimal, creep_g: Decimal
) -> Decimal:
    """The least a net is uncertain by; a station has few scales and asks again and again."""
    return expected_budget(interval_g, Accuracy(repeatability_g, error_g, creep_g=creep_g)).u_g


def target_at(tolerance: Tolerance, high_g: Decimal) -> Decimal:
    """The largest target whose upper limit is at most ``high_g``, in grams."""
    over = tolerance.over
    with localcontext(EXACT):
        return min(high_g - over.grams, high_g / (1 + over.percent / 100))


def _reaches(tolerance: Tolerance, width_g: Decimal) -> Decimal | None:
    """The smallest target whose band is this wide, in grams; ``None`` where none is."""
    level, slope, reached = _NOTHING, _NOTHING, _NOTHING
    with localcontext(EXACT):
        # Each side is level at first and grows with the target from a corner on.
        sides = sorted((tolerance.under, tolerance.over), key=_corner)
        level = sum((one.grams for one in sides), _NOTHING)
        for side in sides:
            if level >= width_g:
                break
            if not side.percent:
                continue
            corner = _corner(side)
            if slope and reached + (width_g - level) / slope <= corner:
                break
            level += slope * (corner - reached)
            reached, slope = corner, slope + side.percent / 100
        if level >= width_g:
            return reached
        return reached + (width_g - level) / slope if slope else None


def _corner(side: Limit) -> Decimal:
    """The target from which on a side follows the target, in grams."""
    return side.grams * 100 / side.percent if side.percent else _NOTHING
