"""Splitting an amount that is too much for a scale or its vessel into several weighings.

All parts but the last are *rough*: they may come out anywhere within ``r`` of their target, and
what they leave out or bring too much is shared among those still to come (``shares``). If each of
``n`` equal parts ``e`` falls short by ``r``, the last has to be ``e + r (1 + 1/2 + ...)``, up to
``1/(n - 1)``, and still fit, which says how large ``r`` can be.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import ROUND_FLOOR, Decimal

from weighd.domain.batch import Scale
from weighd.domain.plan_words import Into

#: A rough part is rough to a tenth where there is room for it, and never finer than a fiftieth.
ROUGH, LEAST_ROUGH = Decimal("0.1"), Decimal("0.02")
#: More parts than this is no plan but a wrong scale.
MOST_PARTS = 50


@dataclass(frozen=True, slots=True)
class Part:
    """A part of a split; masses in grams. ``rough_g`` is zero for the last."""

    into: Into
    target_g: Decimal
    rough_g: Decimal


def splits(
    scale: Scale,
    target_g: Decimal,
    high_g: Decimal,
    bowl_room_g: Decimal | None,
    dish_room_g: Decimal | None,
) -> Iterator[tuple[Part, ...]]:
    """The ways to split an amount on a scale: all in dishes, or begun in the bowl.

    ``bowl_room_g``, ``dish_room_g``  what may still go into the bowl, and into a dish, on it;
    ``None`` for no limit known. Nothing for an amount that a dish takes whole.
    """
    if dish_room_g is None or high_g <= dish_room_g or dish_room_g <= 0:
        return
    over = high_g - target_g
    dishes = _dishes(scale, target_g, over, dish_room_g, Decimal(0))
    if dishes is not None:
        yield dishes
    if bowl_room_g is None or bowl_room_g <= 0:
        return
    best: tuple[Part, ...] | None = None
    for share in (ROUGH, ROUGH / 2, LEAST_ROUGH):
        rough = max(min(bowl_room_g, dish_room_g) * share, 2 * scale.interval_g)
        first = _two_digits(min(bowl_room_g - rough, target_g - 3 * rough))
        if first <= 2 * rough:
            continue
        rest = _dishes(scale, target_g - first, over, dish_room_g, rough)
        if rest is not None and (best is None or len(rest) + 1 < len(best)):
            best = (Part(Into.BOWL, first, rough), *rest)
    if best is not None:
        yield best


def _dishes(
    scale: Scale, target_g: Decimal, over_g: Decimal, room_g: Decimal, before_g: Decimal
) -> tuple[Part, ...] | None:
    """So few equal dishes that each can be rough; ``before_g`` may be left out before them."""
    for parts in range(1, MOST_PARTS + 1):
        each = target_g / parts
        spare = room_g - each - over_g - before_g / parts
        if spare < 0:
            continue
        if parts == 1:
            return (Part(Into.DISH, each, Decimal(0)),)
        lost = 1 + sum((Decimal(1) / k for k in range(1, parts)), Decimal(0))
        rough = min(spare / lost, each * ROUGH)
        if rough < max(each * LEAST_ROUGH, 2 * scale.interval_g):
            continue
        rough = (rough / scale.interval_g).to_integral_value(ROUND_FLOOR) * scale.interval_g
        return (*(Part(Into.DISH, each, rough),) * (parts - 1), Part(Into.DISH, each, Decimal(0)))
    return None


def _two_digits(grams: Decimal) -> Decimal:
    """Rounded down to two digits."""
    step = Decimal(1).scaleb(grams.adjusted() - 1)
    return (grams / step).to_integral_value(ROUND_FLOOR) * step
