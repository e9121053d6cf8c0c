"""Rules for what people ask: each takes the bench and an order, and returns a move or refuses."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Any

from weighd.domain import mass
from weighd.domain.addition import Bench, Claim, Do, Draft, Move, Now, Order, Phase
from weighd.domain.batch import CAUSE_OF, Accepted, Cause, Kind, Tare
from weighd.domain.errors import OperatorError
from weighd.domain.formula import BY_DIFFERENCE
from weighd.domain.lot_splits import as_fields
from weighd.domain.metrology import Verdict, acceptance
from weighd.domain.sights import claim as claim_at
from weighd.domain.sights import hold
from weighd.domain.steps import stands_tared
from weighd.domain.tipping import sums_as_json, within_the_whole


def guard(here: Bench, order: Order) -> None:
    """A press meant for an addition that is over must not act on the next one."""
    if order.addition is None or order.addition == here.planned.n:
        return
    if order.addition < here.planned.n:
        raise OperatorError(
            "already-accepted",
            f"Addition {order.addition} was already accepted.",
            where=f"batch {here.batch.id}",
        )
    raise OperatorError(
        "not-current",
        f"Addition {order.addition} is not the one being weighed; that is {here.planned.n}.",
        where=f"batch {here.batch.id}",
    )


def not_now(here: Bench, do: Do) -> OperatorError:
    """Why a command does not go with the present phase."""
    code = {Do.ACCEPT: "not-settled", Do.TARE: "not-now"}.get(do, "not-now")
    if do is Do.ACCEPT and here.now.phase in (Phase.READY, Phase.AWAITING):
        code = "nothing-poured"
    messages = {
        "nothing-poured": f"Nothing of the {here.planned.name} has been poured yet.",
        "not-settled": "The scale has not come to rest yet.",
        "not-now": f'"{do}" does not go with an addition that is {here.now.phase}.',
    }
    return OperatorError(code, messages[code], where=f"addition {here.planned.n}")


def accept(here: Bench, order: Order) -> Move:
    """Into the record: the amount judged, with its evidence; a reason where not on target."""
    tare, held = here.tare, here.batch.held
    if held is not None and held.cause.of_the_scale:
        raise not_now(here, Do.ACCEPT)
    if here.now.claim is None or tare is None:
        raise OperatorError("not-settled", "The scale has not come to rest yet.")
    # Judged once more for this moment: where creep is stated, another half hour may have begun.
    claim = claim_at(here, order.at)
    if claim.net_g <= 0:
        less = "more" if here.planned.by_difference else "less"
        raise OperatorError("nothing-poured", f"The scale shows {less} than before this addition.")
    if claim.verdict is not Verdict.ON_TARGET and not order.reason:
        refused = OperatorError(
            "needs-reason",
            f"The {here.planned.name} is {claim.verdict}: "
            f"{mass.text(claim.net_g)} g, where {mass.text(here.planned.low_g)} to "
            f"{mass.text(here.planned.high_g)} g are allowed.",
            remedy="Put it right, or accept it with a reason.",
        )
        if here.now.phase is Phase.HELD:
            raise refused
        return replace(hold(here, CAUSE_OF[claim.verdict], claim), refused=refused)
    if claim.verdict is not Verdict.ON_TARGET and order.on_target_only:
        raise OperatorError(
            "needs-right",
            f"The {here.planned.name} is {claim.verdict}, and {order.by} may not accept that.",
            where=f"addition {here.planned.n}",
        )
    planned = here.planned
    within_the_whole(here, claim)
    drafts = [here.draft(Kind.ACCEPTED, **_accepted(here, order, tare, claim))]
    if planned.n == len(here.batch.additions):
        # A formula that goes on after weighing leaves the bench, and the batch stays open.
        last = Kind.WEIGHED if here.batch.has_steps else Kind.CLOSED
        drafts.append(Draft(last, _closed(here, claim)))
        return Move(Now(Phase.ACCEPTED), tuple(drafts))
    following = here.batch.additions[planned.n]
    stands = stands_tared(here.batch.additions, planned.n, following)
    tared = stands and following.scale not in here.batch.ends_with(planned)
    phase = Phase.READY if tared else Phase.AWAITING
    gross = here.now.gross_g if following.scale == planned.scale else None
    return Move(Now(phase, gross_g=gross), tuple(drafts))


def _closed(here: Bench, claim: Claim) -> dict[str, Any]:
    """The body of the entry that ends the weighing, with this last weighing in it."""
    n = here.planned.n
    deviation = claim.net_g - here.planned.target_g
    last = Accepted(n, claim.net_g, deviation, claim.verdict, "", "", 0, "", claim.budget)
    sums = sums_as_json(here.batch, last)
    return {"additions": n, **({} if sums is None else {"as_weighed": sums})}


def _accepted(here: Bench, order: Order, tare: Tare, claim: Claim) -> dict[str, Any]:
    """The body of an acceptance: everything the verdict follows from."""
    planned, scale, rule = here.planned, here.scale, here.batch.rule
    lot = here.batch.lots.get(planned.n, "")
    guard = rule.guard(claim.u_g)
    accept_low, accept_high = acceptance(planned.low_g, planned.high_g, guard)
    more: dict[str, Any] = {"method": BY_DIFFERENCE} if planned.by_difference else {}
    if tare.moves:
        more["zero_moves"] = [one.n for one in tare.moves]
    if claim.carried_g:
        more["carried_u_g"] = mass.text(claim.carried_g)
    if here.now.drift_g_min is not None:
        more["drift_g_min"] = mass.text(here.now.drift_g_min)
    if order.check is not None:
        more["check"] = dict(order.check)
    return {
        "ingredient": planned.ingredient,
        "name": planned.name,
        "target_g": mass.text(planned.target_g),
        "low_g": mass.text(planned.low_g),
        "high_g": mass.text(planned.high_g),
        "tolerance": planned.tolerance,
        "net_g": mass.text(claim.net_g),
        "tare_g": mass.text(tare.level.grams),
        "tare_u_g": mass.text(tare.level.u_g),
        "gross_g": mass.text(claim.gross.grams),
        "gross_u_g": mass.text(claim.gross.u_g),
        "gross_budget": claim.gross.budget.as_json(),
        "deviation_g": mass.text(claim.net_g - planned.target_g),
        "u_g": mass.text(claim.u_g),
        "budget": claim.budget.as_json(),
        "verdict": claim.verdict,
        "rule": {"name": rule.name, "k": mass.text(rule.k)},
        "guard_g": mass.text(guard),
        "accept_low_g": mass.text(accept_low),
        "accept_high_g": mass.text(accept_high),
        "reason": order.reason,
        "scale": scale.name,
        "interval_g": mass.text(scale.interval_g),
        "repeatability_g": mass.text(scale.accuracy.repeatability_g),
        "operator": order.by,
        "started": here.now.started or tare.at,
        "accepted": order.at,
        "evidence": {
            "decoder": dict(order.evidence.decoder),
            "tare": list(tare.evidence),
            "gross": list(order.evidence.readings),
        },
        **more,
        **as_fields(here.batch.splits.get(planned.n, ()), lot, claim.net_g),
    }


def amiss(here: Bench) -> Cause | None:
    """What is wrong with the amount: as it stands now, or as it was held while it moves."""
    claim, held = here.now.claim, here.batch.held
    if claim is not None:
        return CAUSE_OF.get(claim.verdict)
    return held.cause if held else None


def decide(here: Bench, order: Order) -> Move:
    """Top up or take out: the amount is open again until it settles."""
    held, claim = here.batch.held, here.now.claim
    if held is not None and held.cause.of_the_scale:
        raise not_now(here, order.do)
    if here.now.unsure:
        # After a restart nobody takes out of what has not been seen again.
        raise OperatorError("not-settled", "The scale has not come to rest yet.")
    cause = amiss(here)
    senseless = {Do.TOP_UP: Cause.OVER, Do.TAKE_OUT: Cause.SHORT}[order.do]
    if cause is None or cause is senseless:
        raise not_now(here, order.do)
    draft = here.draft(
        Kind.DECIDED,
        decision=order.do,
        cause=cause,
        sum_g=None if here.now.sum_g is None else mass.text(here.now.sum_g),
        by=order.by,
    )
    # Pressed while the display wavers, there is no claim: the amount last settled stands for it.
    amount = claim.net_g if claim else here.now.sum_g
    taking = amount if order.do is Do.TAKE_OUT else None
    now = replace(here.now, phase=Phase.SETTLING, claim=None, taking_g=taking)
    return Move(now, (draft,))


def abandon(here: Bench, order: Order) -> Move:
    """End the batch here; what went in stays in the record."""
    draft = here.draft(
        Kind.ABANDONED,
        reason=order.reason,
        by=order.by,
        sum_g=None if here.now.sum_g is None else mass.text(here.now.sum_g),
    )
    return Move(here.now, (draft,))


def name_lot(here: Bench, order: Order) -> Move:
    """Which lot the ingredient is taken from."""
    if not order.lot:
        raise OperatorError("no-lot", "No lot was given.", remedy="Type or scan the lot's code.")
    return Move(here.now, (here.draft(Kind.LOT_NAMED, **_named(order)),))


def next_lot(here: Bench, order: Order) -> Move:
    """The lot ran out in the middle of the addition: the rest is taken from another one."""
    where = f"addition {here.planned.n}"
    was = here.batch.lots.get(here.planned.n, "")
    if not order.lot:
        raise OperatorError("no-lot", "No lot was given.", remedy="Type or scan the lot's code.")
    if not was:
        raise OperatorError(
            "no-lot",
            "No lot was named for what is in already.",
            where=where,
            remedy="Name that one first, then the next.",
        )
    if order.lot == was:
        raise OperatorError("same-lot", f"It is taken from lot {was} already.", where=where)
    if here.now.claim is None:
        raise OperatorError(
            "not-settled",
            "The scale has not come to rest yet.",
            where=where,
            remedy="Wait until it has: the amount is kept at which the lot changed.",
        )
    claim = claim_at(here, order.at)
    if none_of_lot(here, claim.net_g):
        raise OperatorError(
            "nothing-poured",
            f"Nothing was poured from lot {was} yet.",
            where=where,
            remedy="Name the right lot in its place.",
        )
    draft = here.draft(
        Kind.LOT_NAMED,
        **_named(order),
        scale=here.scale.name,
        from_g=mass.text(claim.net_g),
        gross_g=mass.text(claim.gross.grams),
        budget=claim.gross.budget.as_json(),
        evidence={
            "decoder": dict(order.evidence.decoder),
            "readings": list(order.evidence.readings),
        },
    )
    return Move(here.now, (draft,))


def none_of_lot(here: Bench, net_g: Decimal) -> bool:
    """Whether of so much nothing is from the lot that is named now."""
    before = [upto for _, upto in here.batch.splits.get(here.planned.n, ())]
    return net_g <= max(before, default=Decimal(0))


def _named(order: Order) -> dict[str, Any]:
    """Which lot, and why all the same where it is past its best."""
    told = {"lot": order.lot, "by": order.by}
    return {**told, "reason": order.reason} if order.reason else told
