"""Amounts that no scale at hand can judge: which they are, and what would do."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from weighd.domain import fitness
from weighd.domain.batch import Scale
from weighd.domain.headroom import most_g
from weighd.domain.metrology import Rule
from weighd.domain.plan import Premix, Shortfall, Vessels, Want
from weighd.domain.premix import best_premix
from weighd.domain.splits import splits
from weighd.domain.weighable import finest_tolerance


def judged_somehow(one: Want, scales: Sequence[Scale], rule: Rule, vessels: Vessels) -> bool:
    """Whether some scale can judge an amount, whole in the emptiest vessel or in parts."""
    for scale in scales:
        if not fitness.above_min(scale, one.target_g):
            continue
        ways = [1]
        if not (one.by_difference or _taken_whole(scale, one, vessels)):
            rooms = vessels.bowl_room_g(scale, Decimal(0)), vessels.dish_room_g(scale)
            ways = [len(it) for it in splits(scale, one.target_g, one.high_g, *rooms)]
        for parts in ways:
            if fitness.above_min(scale, one.target_g / parts) and (
                fitness.share(scale, rule, one.low_g, one.high_g, parts=parts) <= 1
            ):
                return True
    return False


def _taken_whole(scale: Scale, one: Want, vessels: Vessels) -> bool:
    return vessels.dish_takes(scale, one.high_g) or vessels.bowl_takes(scale, one.high_g)


def shortfall(
    one: Want, wanted: Sequence[Want], scales: Sequence[Scale], rule: Rule, vessels: Vessels
) -> Shortfall:
    """What an amount lacks, measured on the scale that comes nearest."""

    def nearness(scale: Scale) -> tuple[bool, bool, object]:
        return (
            (most := most_g(scale)) is not None and one.high_g > most,
            not fitness.above_min(scale, one.target_g),
            fitness.share(scale, rule, one.low_g, one.high_g),
        )

    nearest = min(scales, key=nearness)
    below = not fitness.above_min(nearest, one.target_g)
    return Shortfall(
        one.n,
        one.name,
        one.target_g,
        one.tolerance,
        nearest.name,
        one.high_g - one.low_g,
        finest_tolerance(one.target_g, nearest.interval_g, rule, nearest.accuracy),
        fitness.usual_interval(one.low_g, one.high_g, rule),
        one.high_g,
        nearest.min_g if below else None,
        _would_do(one, wanted, scales, rule, vessels),
    )


def _would_do(
    one: Want, wanted: Sequence[Want], scales: Sequence[Scale], rule: Rule, vessels: Vessels
) -> Premix | None:
    """A premix with the largest other amount, which only the cook knows to mix evenly or not."""
    others = [
        it
        for it in wanted
        if it.n != one.n and it.ingredient != one.ingredient and not it.by_difference
    ]
    largest = max(others, key=lambda it: it.target_g, default=None)
    if largest is None or one.by_difference:
        return None
    return best_premix(1, one, largest, scales, rule, vessels)
