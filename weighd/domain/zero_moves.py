"""What the rules for a moved zero share: what is known to be in, and the entry of a move."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Any

from weighd.domain import mass
from weighd.domain.addition import Bench, Draft, Evidence, Now, Phase
from weighd.domain.batch import Cause, Kind
from weighd.domain.metrology import Level
from weighd.domain.zero import Moved, Stood, as_body, far_from_zero, new_tare

#: Readings of a display back at the level that it left: within so many intervals.
SAME_D = 3


def held_at_zero(here: Bench) -> bool:
    """Whether a person is being asked about a scale that came back at zero."""
    return here.batch.held is not None and here.batch.held.cause is Cause.SCALE_AT_ZERO


def total_so_far(here: Bench) -> Decimal | None:
    """What is known to be in of this ingredient, in grams: as seen, or as it was recorded."""
    if here.now.sum_g is not None:
        return here.now.sum_g
    if here.batch.held is not None and here.batch.held.sum_g is not None:
        return here.batch.held.sum_g
    return here.tare.moves[-1].sum_g if here.tare and here.tare.moves else None


def holds_some(here: Bench) -> bool:
    """Some of this ingredient was added already: a new tare would lose that."""
    total = total_so_far(here) or Decimal(0)
    return here.tare is not None and total > 2 * here.scale.interval_g


def below_empty(here: Bench, shown_g: Decimal, shift: Level | None) -> bool:
    """Whether that is less than the empty pan shows on a zero that had moved by ``shift``: then it
    was zeroed with something on it that is off now. What was tared at zero does not tell."""
    d, origin = here.scale.interval_g, here.batch.origin
    below = (shift.grams if shift else Decimal(0)) - shown_g
    known = origin is not None and far_from_zero(origin.grams, d)
    return known and below > 0 and far_from_zero(below, d)


def stood_g(here: Bench) -> Decimal:
    """What stood there when the scale went, in grams on its display: as seen then, or as what was
    tared is known to weigh with what is in by now."""
    held = here.batch.held
    if held is not None and held.before is not None:
        return held.before.level.grams
    return tare_of(here).grams + here.planned.change_g(total_so_far(here) or Decimal(0))


def alike(here: Bench, one_g: Decimal, other_g: Decimal) -> bool:
    """Whether two displays are the same, but for how they tremble."""
    return abs(one_g - other_g) <= SAME_D * here.scale.interval_g


def sure_again(here: Bench, phase: Phase, **more: Any) -> Now:
    """The zero is known again, and what stands there is judged anew."""
    return replace(here.now, phase=phase, claim=None, unsure=False, restarted=False, **more)


def move_draft(
    here: Bench,
    cause: Moved,
    before: Stood | None,
    after: Stood,
    *,
    sum_g: Decimal | None,
    by: str = "",
) -> Draft:
    """The entry of a zero that moved, with the tare on the new one."""
    known = None if before is None else before.level
    change = None if sum_g is None else here.planned.change_g(sum_g)
    tare, moved = new_tare(
        cause, tare_of(here), here.batch.shift, known, after.level, change, here.scale.interval_g
    )
    return here.draft(
        Kind.ZERO_MOVED,
        scale=here.scale.name,
        cause=cause,
        by=by,
        sum_g=None if sum_g is None else mass.text(sum_g),
        **as_body(before, after),
        shift_g=mass.text(moved.grams),
        shift_u_g=mass.text(moved.u_g),
        shift_budget=moved.budget.as_json(),
        tare_g=mass.text(tare.grams),
        u_g=mass.text(tare.u_g),
        budget=tare.budget.as_json(),
    )


def tare_of(here: Bench) -> Level:
    """The tare of the addition, which has one."""
    assert here.tare is not None
    return here.tare.level


def net_of(here: Bench, shown: Level) -> Decimal:
    """What a level says was added, in grams, on the tare as it is."""
    return here.planned.net_g(shown.grams, tare_of(here).grams)


def stood_at_rest(level: Level, evidence: Evidence) -> Stood:
    """A display at rest, with the readings that show it."""
    kept = {"decoder": dict(evidence.decoder), "readings": list(evidence.readings)}
    return Stood(level, settled=True, evidence=kept)


def with_vessel(here: Bench, stood: Stood | None) -> Stood | None:
    """What stood on the scale, unless that cannot have been the vessel: then it was off."""
    if stood is None or here.is_gone(net_of(here, stood.level)):
        return None
    return stood
