"""Rules for what the scale shows: each takes the bench and a sight, and returns a move."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from weighd.domain import mass
from weighd.domain.addition import Bench, Claim, LinkEvent, Move, Phase, Seen, Sight
from weighd.domain.batch import Cause, Kind
from weighd.domain.metrology import Verdict, half_hours, judge, net_budget
from weighd.domain.moments import seconds_between
from weighd.domain.settling import Finding
from weighd.domain.settling import Phase as Load


def look(here: Bench, seen: Seen) -> Bench:
    """The bench with the newest display on it, and what that shows of the addition."""
    finding = seen.finding
    now = replace(
        here.now,
        gross_g=seen.gross_g,
        level=finding.level if finding.firm else None,
        claim=None,
        why=finding.why if finding.phase is Load.DISTURBED else "",
    )
    here = replace(here, now=now)
    return replace(here, sight=_sight(here, finding))


def _sight(here: Bench, finding: Finding) -> Sight | None:
    """What the reading shows; ``None`` before there is a tare to compare with."""
    if here.tare is None:
        return None
    net, d = here.net_g, here.scale.interval_g
    if net is not None and net < -max(5 * d, Decimal(1)):
        return Sight.GONE
    if finding.phase is Load.DISTURBED or net is None:
        return Sight.UNUSABLE
    if here.now.level is not None:
        return Sight.EMPTY if _nothing(here, net) else Sight.AMOUNT
    if finding.rising and not _nothing(here, net):
        return Sight.RISING
    return Sight.MOVING


def _nothing(here: Bench, net_g: Decimal) -> bool:
    """Whether a net is what an untouched scale may show."""
    return abs(net_g) <= Decimal("1.5") * here.scale.interval_g and net_g < here.planned.low_g / 2


def claim(here: Bench, at: str) -> Claim:
    """What stands there now, judged; ``at`` is the wall time, since creep takes time."""
    tare, level = here.tare, here.now.level
    assert tare is not None
    assert level is not None
    net = level.grams - tare.level.grams
    periods = half_hours(seconds_between(tare.at, at))
    budget = net_budget(level, tare.level, here.scale.accuracy, periods)
    verdict = judge(net, budget.u_g, here.planned.low_g, here.planned.high_g, here.batch.rule)
    return Claim(level, net, budget, verdict)


def pour(here: Bench, seen: Seen) -> Move:
    """Growing: the addition starts with its first growth."""
    return Move(replace(here.now, phase=Phase.POURING, started=here.now.started or seen.at))


def lifted(here: Bench, _: Seen) -> Move:
    """Less than the tare: the vessel is off."""
    return Move(replace(here.now, phase=Phase.AWAITING))


def slowed(here: Bench, _: Seen) -> Move:
    """Neither growing nor at rest."""
    return Move(replace(here.now, phase=Phase.SETTLING))


def emptied(here: Bench, _: Seen) -> Move:
    """Settled with nothing in: whatever moved the scale was no pour."""
    return Move(replace(here.now, phase=Phase.READY, sum_g=None, started=None))


def judge_amount(here: Bench, seen: Seen) -> Move:
    """Settled on an amount: judge it, and hold an over-pour."""
    found = claim(here, seen.at)
    now = replace(
        here.now,
        phase=Phase.JUDGED,
        claim=found,
        sum_g=found.net_g,
        started=here.now.started or seen.at,
    )
    if found.verdict is not Verdict.OVER:
        return Move(replace(now, taking_g=None))
    taking = here.now.taking_g
    if taking is not None and abs(found.net_g - taking) <= 2 * here.scale.interval_g:
        return Move(replace(now, phase=Phase.SETTLING))
    return hold(replace(here, now=replace(now, taking_g=None)), Cause.OVER, found)


def watch(here: Bench, seen: Seen) -> Move:
    """Held for the amount: keep it judged, decide nothing."""
    held = here.batch.held
    if held is not None and held.cause.of_the_scale:
        return Move(here.now)
    found = claim(here, seen.at)
    return Move(replace(here.now, claim=found, sum_g=found.net_g))


def hold(here: Bench, cause: Cause, found: Claim | None) -> Move:
    """Hold the addition, durably, with the amount known to be in."""
    total = found.net_g if found else here.now.sum_g
    draft = here.draft(
        Kind.HELD,
        cause=cause,
        scale=here.scale.name,
        sum_g=None if total is None else mass.text(total),
    )
    return Move(replace(here.now, phase=Phase.HELD), (draft,))


def check_zero(here: Bench) -> Move | Bench:
    """The first settled display after a loss or a restart: did the scale keep its zero?

    A move where the answer decides something, else the bench, sure again.
    """
    tare, level = here.tare, here.now.level
    assert tare is not None
    assert level is not None
    held = here.batch.held
    d = here.scale.interval_g
    near_zero = abs(level.grams) <= max(3 * d, Decimal(1))
    if near_zero and tare.level.grams + (total_so_far(here) or 0) > max(10 * d, Decimal(5)):
        if held is not None and held.cause is Cause.SCALE_AT_ZERO:
            return Move(here.now)
        return hold(here, Cause.SCALE_AT_ZERO, None)
    here = replace(here, now=replace(here.now, unsure=False))
    if held is None or not held.cause.of_the_scale:
        return here
    resumed = here.draft(Kind.RESUMED, scale=here.scale.name, by="", cause=held.cause)
    return Move(replace(here.now, phase=_phase_of(here)), (resumed,))


def _phase_of(here: Bench) -> Phase:
    match here.sight:
        case Sight.GONE:
            return Phase.AWAITING
        case Sight.EMPTY:
            return Phase.READY
        case _:
            return Phase.SETTLING


def total_so_far(here: Bench) -> Decimal | None:
    """What is known to be in of this ingredient, in grams."""
    if here.now.sum_g is not None:
        return here.now.sum_g
    return here.batch.held.sum_g if here.batch.held else None


def link_gone(here: Bench, event: LinkEvent) -> Move:
    """The scale went: keep the amount last seen, hold what was under way."""
    seen = here.net_g
    now = replace(
        here.now,
        gross_g=None,
        level=None,
        claim=None,
        unsure=here.tare is not None,
        sum_g=here.now.sum_g if seen is None else max(seen, Decimal(0)),
    )
    if here.tare is None:
        return Move(replace(now, sum_g=None))
    if here.now.phase is Phase.HELD:
        return Move(now)
    return hold(replace(here, now=now), Cause(event.link), None)
