"""A zero that moved without being seen to, while the vessel was taken for lifted.

Its scale's own key, pressed while the display was still moving, looks like a lift. What is poured
on then shows on a display that was next to nothing; a lift now shows less than nothing. Neither
fits a vessel that is off the zero it was tared on, so somebody is asked.
"""

from __future__ import annotations

from weighd.domain.addition import Bench, Move, Phase, Seen
from weighd.domain.sights import judge_amount
from weighd.domain.zero import far_from_zero, near_zero
from weighd.domain.zero_again import can_weigh_again
from weighd.domain.zero_moves import (
    alike,
    below_empty,
    holds_some,
    stood_at_rest,
    stood_g,
    tare_of,
)
from weighd.domain.zeroing import hold_at_zero


def another_zero(here: Bench, seen: Seen) -> Move:
    """What was tared seems to be off, and the scale shows what it would not on the zero that is
    known: that moved unseen, and only a person knows what stands there."""
    level = here.now.level
    if level is None or not holds_some(here):
        return Move(here.now)
    if here.planned.by_difference:
        # More than before, on a moved zero: the pan may have been zeroed empty meanwhile.
        if here.batch.shift is None or not can_weigh_again(here):
            return Move(here.now)
    elif not below_empty(here, level.grams, here.batch.shift):
        if not far_from_zero(level.grams, here.scale.interval_g):
            return Move(here.now)
        return _if_poured(here, seen) or Move(here.now)
    return hold_at_zero(here, None, stood_at_rest(level, seen.evidence()))


def perhaps_on(here: Bench) -> bool:
    """Whether what is awaited, with some in, may stand there all the same: the scale is at zero, as
    with an empty pan, or zeroed under it."""
    level = here.now.level
    waits = here.now.phase is Phase.AWAITING and not here.planned.by_difference
    at_zero = level is not None and near_zero(level.grams, here.scale.interval_g)
    return waits and at_zero and holds_some(here)


def set_back(here: Bench, seen: Seen) -> Move:
    """The vessel is back, and what shows is judged, unless it came by pouring: then it was never
    off, but zeroed in a way that looked so."""
    level = here.now.level
    assert level is not None
    if alike(here, level.grams, stood_g(here)) or not holds_some(here):
        return judge_amount(here, seen)
    return _if_poured(here, seen) or judge_amount(here, seen)


def _if_poured(here: Bench, seen: Seen) -> Move | None:
    """Hold what came by pouring onto a display that cannot have been that of the vessel; what it
    was then is the new zero, if the vessel was never off. ``None`` for what was set down."""
    climb, tare = here.now.climb, tare_of(here).grams
    told = tare > 0 and far_from_zero(tare, here.scale.interval_g)
    if not told or here.planned.by_difference or climb is None:
        return None
    if not climb.poured(stood_g(here)):
        return None
    nought = seen.nought()
    return None if nought is None else hold_at_zero(here, None, nought)
