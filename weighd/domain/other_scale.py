"""Weighing on with another scale: where the one that was planned has failed, or is too coarse."""

from __future__ import annotations

from weighd.domain import mass
from weighd.domain.addition import Bench, Move, Now, Order, Phase
from weighd.domain.batch import Kind
from weighd.domain.errors import OperatorError
from weighd.domain.zero_moves import holds_some


def can_use_another(here: Bench) -> bool:
    """Whether nothing of this addition is in yet, so that another scale can weigh it whole."""
    held = here.batch.held
    if here.now.phase is Phase.HELD and (held is None or not held.cause.of_the_scale):
        return False
    return here.now.phase in (Phase.AWAITING, Phase.READY, Phase.HELD) and not holds_some(here)


def use_scale(here: Bench, order: Order) -> Move:
    """This addition, and the ones after it that were to be weighed on the same scale, on another.

    Its vessel is tared there anew. Raises :class:`OperatorError`: ``unknown-scale``,
    ``same-scale``, ``some-is-in``, ``over-capacity``.
    """
    where = f"addition {here.planned.n}"
    other = order.scale
    if other is None:
        raise OperatorError(
            "unknown-scale", "There is no such scale, or it was not heard yet.", where=where
        )
    if other.name == here.scale.name:
        raise OperatorError(
            "same-scale", f"It is being weighed on the scale {other.name}.", where=where
        )
    if not can_use_another(here):
        raise OperatorError(
            "some-is-in",
            f"Some of the {here.planned.name} is in already, and only the scale "
            f"{here.scale.name} knows how much.",
            where=where,
            remedy=f"Bring {here.scale.name} back, or abandon the batch.",
        )
    if other.max_g is not None and here.planned.high_g > other.max_g:
        raise OperatorError(
            "over-capacity",
            f"{mass.text(here.planned.target_g)} g of {here.planned.name} are more than the scale "
            f"{other.name} can weigh ({mass.text(other.max_g)} g).",
            where=where,
            remedy="Choose another.",
        )
    draft = here.draft(
        Kind.SCALE_CHANGED,
        **{"from": here.scale.name},
        to=other.name,
        figures=other.as_json(),
        reason=order.reason,
        by=order.by,
    )
    return Move(Now(Phase.AWAITING), (draft,))
