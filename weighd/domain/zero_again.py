"""The vessel weighed again: the scale was zeroed empty, and what it shows is vessel and all."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from weighd.domain import mass
from weighd.domain.addition import Bench, Do, Move, Order, Phase
from weighd.domain.batch import Kind
from weighd.domain.errors import OperatorError
from weighd.domain.metrology import Level
from weighd.domain.zero import Moved, Stood, far_from_zero, nothing_g, on_empty_zero
from weighd.domain.zero_moves import (
    alike,
    held_at_zero,
    move_draft,
    net_of,
    stood_at_rest,
    sure_again,
    tare_of,
    total_so_far,
)

_HOW = "Take the vessel off, zero the scale while it is empty, and set it back."


def weigh_again(here: Bench, order: Order) -> Move:
    """The scale was zeroed empty and the vessel set on it: what it shows is vessel and all."""
    refused = _cannot_weigh_again(here)
    if refused is not None:
        raise refused
    level, held = here.now.level, here.batch.held
    assert level is not None
    assert held is not None
    kind = Kind.RESUMED if held.cause.of_the_scale else Kind.DECIDED
    return from_empty(here, stood_at_rest(level, order.evidence), order.by, kind)


def can_weigh_again(here: Bench) -> bool:
    """Whether what the scale shows may be the vessel on its empty zero."""
    return _cannot_weigh_again(here) is None


def _cannot_weigh_again(here: Bench) -> OperatorError | None:
    level, origin = here.now.level, here.batch.origin
    where = f"addition {here.planned.n}"
    if not held_at_zero(here) and here.batch.shift is None:
        return OperatorError("not-now", "The scale's zero has not moved.", where=where)
    if origin is None or not far_from_zero(origin.grams, here.scale.interval_g):
        return OperatorError(
            "zero-unknown",
            "The vessel was tared with the scale's own key, so its weight is not known.",
            where=where,
            remedy="Go on if nothing was added; else abandon the batch.",
        )
    if level is None:
        return OperatorError("not-settled", "The scale has not come to rest yet.")
    if _as_it_was_held(here, level):
        return OperatorError(
            "not-now",
            "It shows what it showed before: it was not taken off.",
            where=where,
            remedy=_HOW,
        )
    least, room = origin.grams, max(5 * here.scale.interval_g, Decimal(1))
    fits = level.grams >= least - room
    if here.planned.by_difference:
        fits = nothing_g(here.scale.interval_g) < level.grams <= least + room
    if not fits:
        return OperatorError(
            "other-than-vessel" if here.planned.by_difference else "less-than-vessel",
            f"The scale shows {mass.text(level.grams)} g; the vessel with what was in it before "
            f"weighs {mass.text(origin.grams)} g.",
            where=where,
            remedy=_HOW,
        )
    return None


def _as_it_was_held(here: Bench, level: Level) -> bool:
    """Whether what is held for its amount stands there as it did, and was seen to be poured."""
    held = here.batch.held
    if held is None or held.cause.of_the_scale or held.sum_g is None:
        return False
    if here.now.rose_t is None or here.now.came_at_once(level.grams):
        return False
    return alike(here, net_of(here, level), held.sum_g)


def from_empty(here: Bench, after: Stood, by: str, kind: Kind) -> Move:
    """The tare as it was on the zero of the empty pan."""
    held, total = here.batch.held, total_so_far(here)
    assert held is not None
    drafts = []
    if here.batch.shift is not None:
        origin = on_empty_zero(tare_of(here), here.batch.shift)
        found = here.planned.net_g(after.level.grams, origin.grams)
        drafts.append(move_draft(here, Moved.EMPTIED, None, after, by=by, sum_g=found))
    end: dict[str, Any] = {"by": by, "cause": held.cause}
    if kind is Kind.DECIDED:
        end |= {"decision": Do.WEIGH_AGAIN, "sum_g": None if total is None else mass.text(total)}
    else:
        end["scale"] = here.scale.name
    drafts.append(here.draft(kind, **end))
    return Move(sure_again(here, Phase.SETTLING, taking_g=None), tuple(drafts))
