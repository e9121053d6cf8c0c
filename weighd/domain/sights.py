"""Rules for what the scale shows: each takes the bench and a sight, and returns a move."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Any

from weighd.domain import mass
from weighd.domain.addition import (
    SET_DOWN_S,
    Bench,
    Claim,
    Climb,
    LinkEvent,
    Move,
    Now,
    Phase,
    Seen,
    Sight,
)
from weighd.domain.batch import Cause, Kind
from weighd.domain.metrology import (
    Level,
    Verdict,
    half_hours,
    judge,
    net_budget,
    on_steps,
    root_sum,
)
from weighd.domain.moments import seconds_between
from weighd.domain.settling import Finding
from weighd.domain.settling import Phase as Load
from weighd.domain.shares import carried
from weighd.domain.zero import JUMPS, as_body, far_g, near_zero, nothing_g, too_little
from weighd.domain.zero_moves import holds_some, stood_g, with_vessel


def look(here: Bench, seen: Seen) -> Bench:
    """The bench with the newest display on it, and what that shows of the addition."""
    finding = seen.finding
    # While the zero jumps, the display is on neither the old one nor the new.
    jumps = seen.jumping or seen.jump is not None or finding.why in JUMPS
    now = replace(
        here.now,
        gross_g=None if jumps else seen.gross_g,
        level=_level(seen) if finding.firm and not jumps else None,
        claim=None,
        why=finding.why if finding.phase is Load.DISTURBED else "tare key" if jumps else "",
        drift_g_min=_drift(here, finding) if finding.firm and not jumps else None,
        below_zero=_below(here, seen.gross_g),
        under=here.now.unsure and (here.now.under or _too_little(here, seen.gross_g)),
    )
    now = replace(now, climb=_climb(here, now, finding.t))
    here = replace(here, now=_risen(here, now, finding.t))
    return replace(here, sight=_sight(here, seen))


def _below(here: Bench, shown_g: Decimal | None) -> bool:
    """Whether the empty pan was seen to show less than nothing, with no tare to account for it."""
    if here.tare is not None or shown_g is None:
        return False
    nothing = nothing_g(here.scale.interval_g)
    return shown_g < -nothing or (here.now.below_zero and shown_g > nothing)


def _too_little(here: Bench, shown_g: Decimal | None) -> bool:
    """Whether that is far less than what stood there when the link went, or by what is recorded."""
    if shown_g is None or here.tare is None:
        return False
    falls, d = here.planned.by_difference, here.scale.interval_g
    return too_little(stood_g(here), shown_g, d, falls=falls)


def _level(seen: Seen) -> Level | None:
    """What the display stands at, known no better than it steps."""
    settled = seen.finding.level
    if settled is None or seen.step_g is None:
        return settled
    return on_steps(settled, seen.step_g)


def _drift(here: Bench, finding: Finding) -> Decimal | None:
    """Creep or slow loss as told: grams a minute, to a tenth of an interval."""
    if not finding.drift_g_s:
        return None
    told = mass.rounded(Decimal(str(finding.drift_g_s)) * 60, here.scale.interval_g / 10)
    return told or None


def _climb(here: Bench, now: Now, t: float) -> Climb | None:
    """How a display that showed next to nothing, with the vessel off, came to what it shows."""
    gross, before, d = now.gross_g, now.climb, here.scale.interval_g
    if here.tare is None or now.phase is not Phase.AWAITING or (gross or 0) < -nothing_g(d):
        return None
    if gross is None:
        return before
    if near_zero(gross, d):
        return Climb(t, t)
    return before and before.risen(gross, t, here.tare.level.grams / 2, d)


def _risen(here: Bench, now: Now, t: float) -> Now:
    """Whether the display rose at once from next to nothing to what a vessel weighs."""
    gross, origin, d = now.gross_g, here.batch.origin, here.scale.interval_g
    if gross is None or origin is None:
        return now
    if now.level is not None and near_zero(now.level.grams, d):
        now = replace(now, sunk=False)
    if gross < -nothing_g(d):  # the pan without its load: zero is where that stood
        return replace(now, low_t=None, set_down=False, sunk=True)
    if gross < 0 or near_zero(gross, d):
        return replace(now, low_t=None if now.sunk else t, set_down=False)
    if now.set_down and now.rose_t is not None and t - now.rose_t <= SET_DOWN_S:
        return replace(now, landed_g=gross)
    least = origin.grams / 2
    if here.planned.by_difference:  # some of it was poured out meanwhile
        least = max((origin.grams - here.planned.high_g) / 2, far_g(here.scale.interval_g))
    if now.low_t is None or gross < least:
        return now
    down = t - now.low_t <= SET_DOWN_S
    return replace(now, low_t=None, set_down=down, rose_t=now.low_t, landed_g=gross)


def _sight(here: Bench, seen: Seen) -> Sight | None:
    """What the reading shows; ``None`` before there is a tare to compare with."""
    finding = seen.finding
    if here.tare is None:
        return None
    if seen.jump is not None:
        return Sight.ZERO_MOVED
    net = here.net_g
    if net is not None and here.is_gone(net):
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
    net = here.planned.net_g(level.grams, tare.level.grams)
    periods = half_hours(seconds_between(tare.at, at))
    budget = net_budget(level, tare.level, here.scale.accuracy, periods)
    planned, batch = here.planned, here.batch
    more = carried(planned, batch.additions, batch.accepted, net, budget)
    u = root_sum(budget.u_g, more)
    verdict = judge(net, u, planned.low_g, planned.high_g, batch.rule)
    return Claim(level, net, budget, verdict, more)


def pour(here: Bench, seen: Seen) -> Move:
    """Growing: the addition starts with its first growth."""
    return Move(replace(here.now, phase=Phase.POURING, started=here.now.started or seen.at))


def lifted(here: Bench, _: Seen) -> Move:
    """The vessel is off; if nothing was in, what is set down next may be another one."""
    idle = here.planned.by_difference or here.now.phase is not Phase.POURING
    swapped = here.now.swapped or (idle and not holds_some(here))
    return Move(replace(here.now, phase=Phase.AWAITING, swapped=swapped))


def slowed(here: Bench, _: Seen) -> Move:
    """Neither growing nor at rest."""
    return Move(replace(here.now, phase=Phase.SETTLING))


def emptied(here: Bench, _: Seen) -> Move:
    """Settled with nothing in: whatever moved the scale was no pour."""
    return Move(here.now.emptied())


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


def hold(here: Bench, cause: Cause, found: Claim | None, **more: Any) -> Move:
    """Hold the addition, durably, with the amount known to be in."""
    total = found.net_g if found else here.now.sum_g
    draft = here.draft(
        Kind.HELD,
        cause=cause,
        scale=here.scale.name,
        sum_g=None if total is None else mass.text(total),
        **more,
    )
    return Move(replace(here.now, phase=Phase.HELD), (draft,))


def link_gone(here: Bench, event: LinkEvent) -> Move:
    """The scale went: keep the amount last seen, hold what was under way."""
    now = replace(
        here.now,
        gross_g=None,
        level=None,
        claim=None,
        unsure=here.tare is not None,
        low_t=None,
        set_down=False,
        climb=None,
        under=False,
        drift_g_min=None,
    )
    if here.tare is None:
        return Move(replace(now, sum_g=None))
    held = here.batch.held
    if here.now.phase is Phase.HELD and (held is None or held.cause.of_the_scale):
        return Move(now)
    # Held for the amount, it is held for the scale now: nobody takes out of what cannot be seen.
    before, seen = with_vessel(here, event.before), here.net_g
    if before is not None:
        seen = here.net_of(before.level.grams)
    if seen is not None and not here.is_gone(seen):
        now = replace(now, sum_g=max(seen, Decimal(0)))
    return hold(replace(here, now=now), Cause(event.link), None, **as_body(before, None))
