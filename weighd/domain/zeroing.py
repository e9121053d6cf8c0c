"""Rules for a scale whose zero moved with its load on.

Its own key pressed: the zero moves, durably, and the addition goes on. Back at zero after it
slept or was off: held, since something may have been put on meanwhile; then either a person says
that nothing was, or the vessel is set on the empty scale again and shows by its weight what is
in it. So is a scale too slow to tell its key from a lift.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from weighd.domain import mass
from weighd.domain.addition import Bench, Move, Order, Phase, Seen, Sight
from weighd.domain.batch import Cause, Kind
from weighd.domain.errors import OperatorError
from weighd.domain.metrology import Level
from weighd.domain.zero import (
    Jump,
    Moved,
    Stood,
    as_body,
    far_from_zero,
    lost_zero,
    near_zero,
    nothing_g,
    too_little,
)
from weighd.domain.zero_again import can_weigh_again, from_empty
from weighd.domain.zero_moves import (
    alike,
    below_empty,
    held_at_zero,
    move_draft,
    net_of,
    stood_at_rest,
    stood_g,
    sure_again,
    total_so_far,
    with_vessel,
)


def zero_moved(here: Bench, seen: Seen) -> Move:
    """The zero jumped while an amount was on its way or weighed: it is looked at anew."""
    return _follow(here, seen, Phase.SETTLING)


def zero_moved_idle(here: Bench, seen: Seen) -> Move:
    """The zero jumped, and what the addition waits for is the same."""
    return _follow(here, seen, here.now.phase)


def _follow(here: Bench, seen: Seen, phase: Phase) -> Move:
    jump = seen.jump
    assert jump is not None
    before = with_vessel(here, jump.before)
    if jump.grows is not None:
        return _keyed_pouring(here, jump, before)
    if held_at_zero(here):
        stood = jump.before.level.grams
        if not jump.before.settled or is_off(here, stood) or _empty_pan(here, stood):
            return Move(
                here.now
            )  # a hand that let go, or the pan: what is said, or set on it, decides
        before = jump.before
        draft = move_draft(here, Moved.AT_ZERO, before, jump.after, sum_g=None)
        return Move(here.now, (draft,))
    if jump.why == "asleep":
        return hold_at_zero(here, before, jump.after)
    if before is None:
        return Move(here.now)
    if here.now.unsure:
        # It moved before anybody saw that it was where it had been.
        held = here.batch.held
        return hold_at_zero(here, with_vessel(here, held.before if held else None), jump.after)
    if not jump.sure or _put_back(here, before):
        return hold_at_zero(here, before, jump.after)
    total = net_of(here, before.level)
    now = replace(here.now, phase=phase, claim=None)
    if phase is not Phase.READY and phase is not Phase.AWAITING:
        now = replace(now, sum_g=max(total, Decimal(0)))
    draft = move_draft(here, Moved.TARE_KEY, before, jump.after, sum_g=total)
    return Move(now, (draft,))


def _keyed_pouring(here: Bench, jump: Jump, before: Stood | None) -> Move:
    """The key seems to have been pressed in mid-pour: somebody looks, or the vessel is weighed
    again, for what was in is known as badly as the display moved."""
    if before is None:
        return Move(here.now)
    if not jump.grows and here.is_gone(net_of(here, jump.after.level)):
        return Move(here.now)  # lifted, and the pan is empty
    return hold_at_zero(here, None if here.now.unsure else before, jump.after)


def _put_back(here: Bench, before: Stood) -> bool:
    """Whether the jump may be what was taken out since the key was pressed in this addition, put
    back all at once: that too brings the display to zero."""
    keyed = here.tare is not None and any(it.cause is Moved.TARE_KEY for it in here.tare.moves)
    return keyed and here.planned.change_g(before.level.grams) < 0


def _empty_pan(here: Bench, shown_g: Decimal) -> bool:
    """Held at zero: whether this display is so far below the one it woke with that the vessel,
    which stood there then, is off."""
    less, d = _woke_at(here) - shown_g, here.scale.interval_g
    held, origin = here.batch.held, here.batch.origin
    assert held is not None
    if not here.planned.by_difference or origin is None:
        return less > max(5 * d, Decimal(1))
    # What left it makes the display fall too: only all of it is the vessel itself.
    stood = origin.grams - (total_so_far(here) or 0)
    if held.before is not None:
        stood = held.before.level.grams - (held.shift.grams if held.shift else 0)
    return less >= stood - nothing_g(d)


def _woke_at(here: Bench) -> Decimal:
    """What the scale showed when it came back at zero, on its zero as it is now."""
    held, shift = here.batch.held, here.batch.shift
    assert held is not None
    shown = held.after.level.grams if held.after else Decimal(0)
    if shift is not None:
        shown += shift.grams - (held.shift.grams if held.shift else 0)
    return shown


def hold_at_zero(here: Bench, before: Stood | None, after: Stood) -> Move:
    """Hold until somebody says that nothing was added, or the vessel was set down anew."""
    total = total_so_far(here)
    if before is not None:
        total = max(net_of(here, before.level), Decimal(0))
    draft = here.draft(
        Kind.HELD,
        cause=Cause.SCALE_AT_ZERO,
        scale=here.scale.name,
        sum_g=None if total is None else mass.text(total),
        **as_body(before, after),
    )
    now = replace(here.now, phase=Phase.HELD, claim=None, sum_g=total, unsure=True)
    return Move(now, (draft,))


def check_zero(here: Bench, seen: Seen) -> Move | Bench:
    """The first settled display after a loss or a restart: did the scale keep its zero?

    A move where the answer decides something, else the bench, sure again.
    """
    level, held, d = here.now.level, here.batch.held, here.scale.interval_g
    assert level is not None
    if held_at_zero(here):
        return _set_back(here, level, seen)
    before, shown = held.before if held else None, stood_g(here)
    if before is not None:
        # At zero before and after: nothing that was poured meanwhile would show.
        blind = with_vessel(here, before) is not None and near_zero(shown, d)
        lost = lost_zero(shown, level.grams, d) or (blind and near_zero(level.grams, d))
    else:
        lost = near_zero(level.grams, d) and (here.now.restarted or far_from_zero(shown, d))
        if not lost and here.now.restarted and not far_from_zero(shown, d):
            # Poured into before it was at rest: at first it showed what it would on any zero.
            first = seen.first()
            if first is not None:
                return hold_at_zero(here, None, first)
    falls = here.planned.by_difference
    lost = lost or _crept(here, shown, level.grams)
    if lost or too_little(shown, level.grams, d, falls=falls):
        return hold_at_zero(here, with_vessel(here, before), stood_at_rest(level, seen.evidence()))
    here = replace(here, now=replace(here.now, unsure=False, restarted=False))
    if held is None or not held.cause.of_the_scale:
        return here
    return _resumed(here, _phase_of(here))


def _crept(here: Bench, before_g: Decimal, shown_g: Decimal) -> bool:
    """Whether the display came to what it shows by and by, from far less than what stood there:
    poured in on another zero, for a vessel that is set down shows it at once."""
    at_once = here.now.came_at_once(shown_g)
    return here.now.under and not at_once and not alike(here, shown_g, before_g)


def _set_back(here: Bench, level: Level, seen: Seen) -> Move:
    """Held at zero: the vessel set on the scale again shows that it was off, or by how much."""
    held = here.batch.held
    assert held is not None
    moved = here.batch.shift != held.shift
    stood = _stood_at(here)
    if stood is not None and not moved and alike(here, level.grams, stood):
        return _resumed(here, Phase.SETTLING)  # it had been off, and the zero is the old one
    if here.now.came_at_once(level.grams) and can_weigh_again(here):
        return from_empty(here, stood_at_rest(level, seen.evidence()), "", Kind.RESUMED)
    return Move(here.now)


def _stood_at(here: Bench) -> Decimal | None:
    """What the vessel shows on the zero that the scale had when it went: as seen then, or as it is
    known to weigh. ``None`` where it showed next to nothing, as it would on any zero."""
    held, stood, d = here.batch.held, stood_g(here), here.scale.interval_g
    seen = held is not None and held.before is not None
    told = not near_zero(stood, d) if seen else far_from_zero(stood, d)
    return stood if told else None


def _resumed(here: Bench, phase: Phase) -> Move:
    held = here.batch.held
    assert held is not None
    resumed = here.draft(Kind.RESUMED, scale=here.scale.name, by="", cause=held.cause)
    now = sure_again(here, phase)
    return Move(now.emptied() if phase is Phase.READY else now, (resumed,))


def _phase_of(here: Bench) -> Phase:
    match here.sight:
        case Sight.GONE:
            return Phase.AWAITING
        case Sight.EMPTY:
            return Phase.READY
        case _:
            return Phase.SETTLING


def resume(here: Bench, order: Order) -> Move:
    """Held at zero, and a person says the vessel is on and nothing was added: keep the sum."""
    held, level = here.batch.held, here.now.level
    if held is None or held.cause is not Cause.SCALE_AT_ZERO or here.tare is None:
        raise OperatorError(
            "not-now",
            "The scale has not come back at zero; there is nothing to confirm.",
            where=f"addition {here.planned.n}",
        )
    if level is None:
        # What was just set down may be the vessel on its old zero: its weight is seen first.
        raise OperatorError("not-settled", "The scale has not come to rest yet.")
    if is_off(here, level.grams):
        raise OperatorError(
            "not-now",
            "The scale shows what it showed with the vessel off.",
            where=f"addition {here.planned.n}",
            remedy="Set it back, then go on.",
        )
    after = held.after
    if after is None or _another_stood(here, after.level.grams):
        after = stood_at_rest(level, order.evidence)
    moved = move_draft(here, Moved.AT_ZERO, held.before, after, by=order.by, sum_g=held.sum_g)
    resumed = here.draft(Kind.RESUMED, scale=here.scale.name, by=order.by, cause=held.cause)
    now = sure_again(here, Phase.SETTLING, sum_g=total_so_far(here))
    return Move(now, (moved, resumed))


def is_off(here: Bench, shown_g: Decimal) -> bool:
    """Held at zero with a display of less than nothing, and that is what it still shows."""
    held = here.batch.held
    if held is None or held.after is None:
        return False
    was_off = below_empty(here, held.after.level.grams, held.shift)
    return held_at_zero(here) and was_off and alike(here, shown_g, _woke_at(here))


def _another_stood(here: Bench, then_g: Decimal) -> bool:
    """Whether what was seen first after the scale came back was something else: neither nothing,
    as a scale that woke shows, nor what stands there now. In mid-pour it was what flowed."""
    held, level = here.batch.held, here.now.level
    assert held is not None
    assert level is not None
    rested = held.before is None or held.before.settled
    at_zero = near_zero(then_g, here.scale.interval_g)
    return rested and not at_zero and not alike(here, level.grams, then_g)
