"""The rule for putting a pour right: what somebody has chosen is what is weighed from now on."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Any

from weighd.domain import mass
from weighd.domain.addition import Bench, Move, Now, Order, Phase
from weighd.domain.batch import Kind
from weighd.domain.errors import FormulaError, OperatorError, RecordError
from weighd.domain.plan_words import Role
from weighd.domain.recovery import Change, Way, state_of, whole_only
from weighd.domain.recovery_coming import coming
from weighd.domain.recovery_record import body_of, rests, stands
from weighd.domain.recovery_ways import check
from weighd.domain.sights import claim as claim_at
from weighd.domain.zero_moves import holds_some

_NONE = Decimal(0)


def can_put_right(here: Bench) -> bool:
    """Whether there is something to put right: an amount at rest, or an ingredient of which none
    is left before any of it was poured."""
    held, now = here.batch.held, here.now
    if now.unsure or (held is not None and held.cause.of_the_scale):
        return False
    if any(one.step and one.step.role is not Role.WHOLE for one in here.batch.additions):
        return False
    if now.phase is Phase.READY:
        return not holds_some(here)
    return now.phase in (Phase.JUDGED, Phase.HELD) and now.claim is not None


def put_right(here: Bench, order: Order) -> Move:
    """From now on the batch is weighed as the change says; why stands in the record.

    Raises :class:`OperatorError`: ``no-change``, ``not-settled``, ``not-now``, ``needs-reason``,
    ``nothing-poured``, ``amount-changed``, ``does-not-follow``, ``nothing-to-come``, and what
    :func:`~weighd.domain.recovery.state_of` does.
    """
    change, where = order.change, f"addition {here.planned.n}"
    if change is None:
        raise OperatorError(
            "no-change", "It was not said what to do.", where=where, remedy="Choose a way."
        )
    whole_only(here.batch)
    if not can_put_right(here):
        if here.now.unsure or here.now.phase in (Phase.JUDGED, Phase.HELD):
            raise OperatorError("not-settled", "The scale has not come to rest yet.", where=where)
        raise OperatorError(
            "not-now", "There is nothing to put right in this addition.", where=where
        )
    if not order.reason:
        raise OperatorError(
            "needs-reason", "A batch is changed with a reason.", where=where, remedy="Give one."
        )
    net, told = _poured(here, order)
    if not rests(change, net, here.scale.interval_g):
        raise OperatorError(
            "amount-changed",
            f"{mass.text(net)} g of it are in, and not {mass.text(change.rests_on_g)} g any more.",
            where=where,
            remedy="Look at what can be done once more.",
        )
    try:
        state = state_of(here.batch, change.trouble, change.rests_on_g, change.was)
        check(state, change)
        body = body_of(state, change)
    except (RecordError, FormulaError) as error:
        raise OperatorError(error.code, error.message, where=where) from error
    except (ArithmeticError, AttributeError, LookupError, TypeError, ValueError) as error:
        raise OperatorError(
            "does-not-follow", f"It does not follow from the batch: {error}.", where=where
        ) from error
    if not body["additions"]:
        raise OperatorError(
            "nothing-to-come",
            "Nothing would be left to weigh.",
            where=where,
            remedy="Keep what is in with a reason, or abandon the batch.",
        )
    draft = here.draft(
        Kind.PUT_RIGHT,
        **body,
        scale=here.scale.name,
        net_g=mass.text(net),
        **told,
        reason=order.reason,
        by=order.by,
    )
    return Move(_afterwards(here, change, net), (draft,))


def _poured(here: Bench, order: Order) -> tuple[Decimal, dict[str, Any]]:
    """What of it is in, and what an entry keeps to show it."""
    if here.now.phase is Phase.READY or here.tare is None:
        return _NONE, {}
    claim = claim_at(here, order.at)
    if claim.net_g <= 0:
        raise OperatorError("nothing-poured", "The scale shows no more than before it.")
    return claim.net_g, {
        "tare_g": mass.text(here.tare.level.grams),
        "gross_g": mass.text(claim.gross.grams),
        "evidence": {
            "decoder": dict(order.evidence.decoder),
            "readings": list(order.evidence.readings),
        },
    }


def _afterwards(here: Bench, change: Change, net_g: Decimal) -> Now:
    """What was poured is judged anew; where nothing was, the vessel stands there or is awaited."""
    now = here.now
    if change.way is Way.START_AGAIN:
        return Now(Phase.AWAITING, gross_g=now.gross_g)
    if net_g:
        return replace(now, phase=Phase.SETTLING, claim=None, taking_g=None)
    state = state_of(here.batch, change.trouble, change.rests_on_g, change.was)
    first = coming(state, change)[0]
    tared = stands(here.batch, here.planned, first)
    gross = now.gross_g if first.scale == here.planned.scale else None
    return Now(Phase.READY if tared else Phase.AWAITING, gross_g=gross)
