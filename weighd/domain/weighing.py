"""THE transition table of an addition; nothing else moves one from phase to phase.

Rules of this file
1. Everything that decides a phase is in ``TABLE``: (phase, what came) -> a rule. What came is a
   sight of the scale (:class:`Sight`), its link, or a command of a person.
2. A sight that has no row leaves the phase as it is: the scale may show anything at any time.
   A command that has no row is refused with an :class:`OperatorError` naming both.
3. A rule returns a :class:`Move`: the next :class:`Now`, and drafts of journal entries. The move
   takes effect only once its drafts are durable; if they cannot be written, nothing happened.
4. ``Now`` is what can be seen again after a crash by looking at the scale. All that cannot is in
   the drafts, and so in :class:`~weighd.domain.batch.Batch`.

An addition waits for its vessel (``awaiting vessel``), is tared (``ready``), grows (``pouring``),
comes to rest (``settling``), is given a verdict (``judged``), and is ``accepted`` by a person.
An over-pour, or pressing on while not on target, holds it (``held``) until somebody decides:
take out, top up, accept with a reason, or abandon. A scale that cannot be heard, or that comes
back at zero under a full vessel, holds it too; one whose own key is pressed does not
(``zeroing``), unless that looked as if the vessel had been lifted (``zero_unseen``).
"""

from __future__ import annotations

from weighd.domain.addition import (
    Bench,
    Do,
    Event,
    Link,
    LinkEvent,
    Move,
    Now,
    Order,
    Phase,
    Rule,
    Seen,
    Sight,
    bench,
)
from weighd.domain.batch import Batch, Cause
from weighd.domain.errors import OperatorError
from weighd.domain.orders import (
    abandon,
    accept,
    amiss,
    decide,
    guard,
    name_lot,
    next_lot,
    none_of_lot,
    not_now,
)
from weighd.domain.other_scale import can_use_another, use_scale
from weighd.domain.recovery_order import can_put_right, put_right
from weighd.domain.sights import (
    emptied,
    judge_amount,
    lifted,
    link_gone,
    look,
    pour,
    slowed,
    watch,
)
from weighd.domain.taring import can_swap, can_tare, tare_vessel
from weighd.domain.zero_again import can_weigh_again, weigh_again
from weighd.domain.zero_unseen import another_zero, set_back
from weighd.domain.zeroing import check_zero, is_off, resume, zero_moved, zero_moved_idle

_WEIGHABLE = (Phase.READY, Phase.POURING, Phase.SETTLING, Phase.JUDGED)
_LIVE = (Phase.AWAITING, *_WEIGHABLE, Phase.HELD)

TABLE: dict[tuple[Phase, Sight | Link | Do], Rule] = {
    (Phase.AWAITING, Sight.EMPTY): emptied,
    (Phase.AWAITING, Sight.AMOUNT): set_back,
    (Phase.AWAITING, Sight.GONE): another_zero,
    (Phase.READY, Sight.RISING): pour,
    (Phase.READY, Sight.AMOUNT): judge_amount,
    (Phase.READY, Sight.GONE): lifted,
    (Phase.POURING, Sight.MOVING): slowed,
    (Phase.POURING, Sight.AMOUNT): judge_amount,
    (Phase.POURING, Sight.EMPTY): emptied,
    (Phase.POURING, Sight.GONE): lifted,
    (Phase.SETTLING, Sight.RISING): pour,
    (Phase.SETTLING, Sight.AMOUNT): judge_amount,
    (Phase.SETTLING, Sight.EMPTY): emptied,
    (Phase.SETTLING, Sight.GONE): lifted,
    (Phase.JUDGED, Sight.RISING): pour,
    (Phase.JUDGED, Sight.MOVING): slowed,
    (Phase.JUDGED, Sight.UNUSABLE): slowed,
    (Phase.JUDGED, Sight.AMOUNT): judge_amount,
    (Phase.JUDGED, Sight.EMPTY): emptied,
    (Phase.JUDGED, Sight.GONE): lifted,
    (Phase.HELD, Sight.AMOUNT): watch,
    (Phase.AWAITING, Sight.ZERO_MOVED): zero_moved_idle,
    (Phase.READY, Sight.ZERO_MOVED): zero_moved_idle,
    (Phase.POURING, Sight.ZERO_MOVED): zero_moved,
    (Phase.SETTLING, Sight.ZERO_MOVED): zero_moved,
    (Phase.JUDGED, Sight.ZERO_MOVED): zero_moved,
    (Phase.HELD, Sight.ZERO_MOVED): zero_moved_idle,
    (Phase.AWAITING, Do.TARE): tare_vessel,
    (Phase.READY, Do.TARE): tare_vessel,
    (Phase.SETTLING, Do.ACCEPT): accept,
    (Phase.JUDGED, Do.ACCEPT): accept,
    (Phase.JUDGED, Do.TARE): tare_vessel,
    (Phase.HELD, Do.TARE): tare_vessel,
    (Phase.HELD, Do.ACCEPT): accept,
    (Phase.JUDGED, Do.TOP_UP): decide,
    (Phase.JUDGED, Do.TAKE_OUT): decide,
    (Phase.HELD, Do.TOP_UP): decide,
    (Phase.HELD, Do.TAKE_OUT): decide,
    (Phase.HELD, Do.RESUME): resume,
    (Phase.HELD, Do.WEIGH_AGAIN): weigh_again,
    (Phase.AWAITING, Do.USE_SCALE): use_scale,
    (Phase.READY, Do.USE_SCALE): use_scale,
    (Phase.HELD, Do.USE_SCALE): use_scale,
    (Phase.READY, Do.PUT_RIGHT): put_right,
    (Phase.JUDGED, Do.PUT_RIGHT): put_right,
    (Phase.HELD, Do.PUT_RIGHT): put_right,
    **{(phase, Do.ABANDON): abandon for phase in _LIVE},
    **{(phase, Do.NAME_LOT): name_lot for phase in _LIVE},
    **{(phase, Do.NEXT_LOT): next_lot for phase in _LIVE},
    **{(phase, Link.LOST): link_gone for phase in _LIVE},
    **{(phase, Link.SILENT): link_gone for phase in _LIVE},
}

#: Where each rule may lead; what the diagram in DEVELOPERS.md is drawn from.
#: ``None`` is to stay.
LEADS_TO: dict[Rule, tuple[Phase | None, ...]] = {
    pour: (Phase.POURING,),
    emptied: (Phase.READY,),
    judge_amount: (Phase.JUDGED, Phase.HELD, Phase.SETTLING),
    watch: (Phase.HELD,),
    lifted: (Phase.AWAITING,),
    slowed: (Phase.SETTLING,),
    tare_vessel: (Phase.READY,),
    accept: (Phase.READY, Phase.AWAITING, Phase.ACCEPTED, Phase.HELD),
    decide: (Phase.SETTLING,),
    resume: (Phase.SETTLING,),
    weigh_again: (Phase.SETTLING,),
    zero_moved: (Phase.SETTLING, Phase.HELD, None),
    zero_moved_idle: (Phase.HELD, None),
    another_zero: (Phase.HELD, None),
    set_back: (Phase.JUDGED, Phase.HELD, Phase.SETTLING),
    use_scale: (Phase.AWAITING,),
    put_right: (Phase.SETTLING, Phase.READY, Phase.AWAITING),
    abandon: _LIVE,
    name_lot: _LIVE,
    next_lot: _LIVE,
    link_gone: (Phase.AWAITING, Phase.HELD),
}


def step(batch: Batch, now: Now, event: Event) -> Move:
    """What ``event`` does to the current addition of an open batch.

    Raises :class:`OperatorError` for a command that the present phase does not allow.
    """
    here = bench(batch, now)
    if here is None:
        if isinstance(event, Order):
            raise OperatorError("no-open-batch", "This batch is over; nothing is being weighed.")
        return Move(now)
    if isinstance(event, Seen):
        return _seen(look(here, event), event)
    if isinstance(event, LinkEvent):
        rule = TABLE.get((now.phase, event.link))
        return rule(here, event) if rule else Move(now)
    guard(here, event)
    rule = TABLE.get((now.phase, event.do))
    if rule is None:
        raise not_now(here, event.do)
    return rule(here, event)


def _seen(here: Bench, event: Seen) -> Move:
    if here.sight is None:
        return Move(here.now)
    if here.now.unsure and here.now.level is not None:
        checked = check_zero(here, event)
        if isinstance(checked, Move):
            return checked
        here = checked
    sight = here.sight
    rule = TABLE.get((here.now.phase, sight)) if sight else None
    return rule(here, event) if rule else Move(here.now)


def can(batch: Batch, now: Now) -> tuple[str, ...]:
    """The commands the present state would take, for pages and cooks to offer."""
    here = bench(batch, now)
    if here is None:
        return ()
    out: list[str] = []
    if can_tare(here):
        out.append(Do.TARE)
    if now.phase is Phase.HELD and batch.held and batch.held.cause.of_the_scale:
        stands = now.level is not None and not is_off(here, now.level.grams)
        if batch.held.cause is Cause.SCALE_AT_ZERO and stands:
            out.append(Do.RESUME)
    elif now.phase is Phase.SETTLING and now.taking_g is not None and now.claim:
        out.append("accept with reason")  # nothing can be taken out after all
    elif now.phase in (Phase.JUDGED, Phase.HELD):
        cause = amiss(here)
        if now.claim and cause is None:
            out.append(Do.ACCEPT)
        if cause is not None and not now.unsure:
            out += _decisions(cause, now)
    if can_swap(here):
        out.append("tare another")  # it is another vessel, and nothing was added
    if now.phase is Phase.HELD and can_weigh_again(here):
        out.append(Do.WEIGH_AGAIN)
    if can_use_another(here):
        out.append(Do.USE_SCALE)  # where there is another
    if can_put_right(here):
        out.append(Do.PUT_RIGHT)
    named = batch.lots.get(here.planned.n)
    if named and now.claim and not none_of_lot(here, now.claim.net_g):
        out.append(Do.NEXT_LOT)
    return (*out, Do.ABANDON, Do.NAME_LOT)


def _decisions(cause: Cause, now: Now) -> list[str]:
    out: list[str] = []
    if cause is not Cause.OVER:
        out.append(Do.TOP_UP)
    if cause is not Cause.SHORT:
        out.append(Do.TAKE_OUT)
    if now.claim:
        out.append("accept with reason")
    return out
