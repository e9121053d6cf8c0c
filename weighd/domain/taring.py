"""Taring: what stands on the scale before an addition, and whether it may be taken for that."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from weighd.domain import mass
from weighd.domain.addition import Bench, Move, Now, Order, Phase
from weighd.domain.batch import Batch, Cause, Kind
from weighd.domain.errors import OperatorError
from weighd.domain.metrology import Level, Verdict
from weighd.domain.recovery_record import as_before
from weighd.domain.tipping import as_expected
from weighd.domain.vessel_record import as_body, compared, contents_of, fits, standing
from weighd.domain.vessels import Vessel, which
from weighd.domain.zero import nothing_g
from weighd.domain.zero_moves import SAME_D, held_at_zero, holds_some, total_so_far


def tare_vessel(here: Bench, order: Order) -> Move:
    """What stands on the scale now is the tare of this addition."""
    swap = can_swap(here)
    if here.now.phase in (Phase.HELD, Phase.JUDGED) and not swap and not held_at_zero(here):
        raise _not_now(here)
    level = here.now.level
    if _tared_already(here, order):
        raise OperatorError(
            "already-tared",
            "The vessel was tared already, and the scale has shown nothing else since.",
            where=f"addition {here.planned.n}",
        )
    if level is None:
        raise OperatorError("not-settled", "The scale has not come to rest yet.")
    more: dict[str, Any] = {}
    if swap:
        more["not_added_g"] = mass.text(_swapped(here, order))
    elif holds_some(here):
        raise _holds_some(here)
    _stands(here, level, order)
    if here.planned.by_difference:
        _source(here, level, order)
    vessel = vessel_for(here, order)
    if vessel is not None:
        _is_that(here, vessel, level, order)
        more["vessel"] = as_body(here.batch, vessel, level)
    draft = here.draft(
        Kind.TARED,
        scale=here.scale.name,
        tare_g=mass.text(level.grams),
        u_g=mass.text(level.u_g),
        budget=level.budget.as_json(),
        by=order.by,
        **as_expected(here, level, confirmed=order.confirm),
        **as_before(here.batch, here.scale.name, level, confirmed=order.confirm),
        evidence=_evidence(order),
        **more,
    )
    return Move(Now(Phase.READY, gross_g=here.now.gross_g), (draft,))


def _tared_already(here: Bench, order: Order) -> bool:
    """Pressed at two pages at once: the second press would only make the same entry again."""
    tare, level = here.tare, here.now.level
    if here.now.phase is not Phase.READY or tare is None or tare.moves or order.confirm:
        return False
    name = here.batch.standing.get(here.scale.name, "")
    if order.vessel is not None and order.vessel.name != name:
        return False
    return level is None or abs(level.grams - tare.level.grams) < here.scale.interval_g


def can_tare(here: Bench) -> bool:
    """Whether to offer it: at rest, with nothing of this ingredient in, and a vessel there."""
    phase, level = here.now.phase, here.now.level
    idle = phase in (Phase.AWAITING, Phase.READY) or held_at_zero(here)
    if not idle or level is None or holds_some(here):
        return False
    return not here.planned.by_difference or level.grams > nothing_g(here.scale.interval_g)


def can_swap(here: Bench) -> bool:
    """Whether what counts as added may be another vessel instead.

    The vessel was off while nothing was in. By difference that is how it is poured from, so only
    what is too much is asked about.
    """
    claim, held = here.now.claim, here.batch.held
    if not here.now.swapped or claim is None:
        return False
    if here.now.phase is not Phase.JUDGED and (held is None or held.cause is not Cause.OVER):
        return False
    return not here.planned.by_difference or claim.verdict is Verdict.OVER


def _not_now(here: Bench) -> OperatorError:
    if holds_some(here):
        return _holds_some(here)
    return OperatorError(
        "not-now",
        f'"tare" does not go with an addition that is {here.now.phase}.',
        where=f"addition {here.planned.n}",
    )


def _holds_some(here: Bench) -> OperatorError:
    total = mass.text(total_so_far(here) or Decimal(0))
    name = here.planned.name
    if here.planned.by_difference:
        return OperatorError(
            "vessel-holds-some",
            f"{total} g of the {name} were taken from the vessel that was tared.",
            where=f"addition {here.planned.n}",
            remedy="Set it back on the scale; another one can be tared for the next addition.",
        )
    return OperatorError(
        "vessel-holds-some",
        f"The vessel that was lifted holds {total} g of the {name}.",
        where=f"addition {here.planned.n}",
        remedy="Put it back on the scale; another one can be tared for the next addition.",
    )


def _swapped(here: Bench, order: Order) -> Decimal:
    """Another vessel, and nothing was added: only somebody who was there knows."""
    claim = here.now.claim
    assert claim is not None
    if not order.confirm:
        raise OperatorError(
            "counts-as-added",
            f"{mass.text(claim.net_g)} g count as {here.planned.name}.",
            where=f"addition {here.planned.n}",
            remedy="If another vessel stands there and nothing was added, confirm.",
        )
    return claim.net_g


def _stands(here: Bench, level: Level, order: Order) -> None:
    """Something must stand there, and not what the addition before left."""
    where = f"addition {here.planned.n}"
    if level.grams <= nothing_g(here.scale.interval_g):
        if here.planned.by_difference:
            raise OperatorError(
                "no-vessel",
                "The scale shows nothing.",
                where=where,
                remedy=f"Set the vessel with the {here.planned.name} on it; if it is on, take it "
                "off, zero the scale while it is empty, and set it back.",
            )
        if not order.confirm:
            raise OperatorError(
                "no-vessel",
                "The scale shows nothing.",
                remedy="Set the vessel on it; if it is on and was tared with the scale's own key, "
                "confirm.",
            )
    if is_left(here.batch, level) and not order.confirm:
        before = here.batch.accepted[-1].n
        raise OperatorError(
            "same-vessel",
            f"What stands on the scale weighs as much as at the end of addition {before}.",
            where=where,
            remedy=f"Set {_wanted(here)} on it; if it is the same vessel, confirm.",
        )


def _wanted(here: Bench) -> str:
    if here.planned.by_difference:
        return f"the vessel with the {here.planned.name}"
    return "the vessel to weigh into"


def is_left(batch: Batch, level: Level | None) -> bool:
    """Whether what stands there weighs as much as what the addition before left there, and is to
    make room: the next ingredient is in a vessel of its own, or goes into another."""
    planned, scale = batch.current, batch.scale
    if planned is None or scale is None or level is None or batch.tare is not None:
        return False
    left = batch.left.get(scale.name)
    if left is None:
        return False
    before = batch.additions[planned.n - 2]
    both = before.by_difference and planned.by_difference
    if both and before.ingredient == planned.ingredient:
        return False
    return abs(level.grams - left.grams) <= SAME_D * scale.interval_g


def _source(here: Bench, level: Level, order: Order) -> None:
    """A vessel to pour from: it must show its whole weight, and hold enough."""
    where, planned = f"addition {here.planned.n}", here.planned
    if here.now.below_zero:
        raise OperatorError(
            "zero-is-off",
            "The empty scale shows less than nothing, so it would not tell an empty vessel from "
            "none.",
            where=where,
            remedy="Take everything off, zero the scale with its own key, and set the vessel on.",
        )
    if level.grams < planned.low_g and not order.confirm:
        raise OperatorError(
            "not-enough",
            f"The vessel weighs {mass.text(level.grams)} g with all that is in it; "
            f"{mass.text(planned.target_g)} g of {planned.name} are to leave it.",
            where=where,
            remedy="Fill it first, or set another one on; to pour what there is, confirm.",
        )


def vessel_for(here: Bench, order: Order) -> Vessel | None:
    """The vessel that is said to stand there: as named, or at first the one that was chosen."""
    first = not here.batch.accepted and not here.planned.by_difference
    return order.vessel or (here.batch.vessel if first else None)


def _is_that(here: Bench, vessel: Vessel, level: Level, order: Order) -> None:
    """Whether the vessel that stands there weighs what it should; else somebody must confirm."""
    stands = standing(here.batch, level)
    fit = compared(here.batch, vessel, stands)
    if fit is None or stands is None or fits(here.batch, fit) or order.confirm:
        return
    inside = contents_of(here.batch, vessel.name).grams
    told = f"{vessel.name} weighs {mass.text(vessel.mass_g)} g"
    if here.planned.by_difference:
        told += " when it is empty"
    elif inside:
        told += f", and {mass.text(inside)} g are in it"
    others = which(order.vessels, stands)
    names = " or ".join(one.vessel.name for one in others[:2] if one.vessel != vessel)
    hint = f"It weighs as much as {names}. " if names and not here.planned.by_difference else ""
    raise OperatorError(
        "other-vessel",
        f"{mass.text(level.grams)} g stand on the scale, but {told}: "
        f"{_short(abs(fit.differs_g))} g {'less' if fit.differs_g < 0 else 'more'}, where "
        f"{_short(fit.limit_g)} g are allowed for.",
        where=f"addition {here.planned.n}",
        remedy=f"{hint}Set down {vessel.name}, name the vessel that stands there, or confirm.",
    )


def _short(grams: Decimal) -> str:
    """To be read: to a hundredth of a gram."""
    return mass.text(grams.quantize(Decimal("0.01")))


def _evidence(order: Order) -> dict[str, Any]:
    return {
        "decoder": dict(order.evidence.decoder),
        "readings": list(order.evidence.readings),
    }
