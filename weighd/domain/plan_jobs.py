"""What a plan has to weigh, in order: the amounts of the formula, and the premixes they need."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal

from weighd.domain import fitness
from weighd.domain.batch import Scale
from weighd.domain.metrology import Rule, root_sum
from weighd.domain.plan import Premix, Vessels, Want, carrier_of
from weighd.domain.plan_words import Role
from weighd.domain.premix import best_premix, shared_slack, u_share_of

_NOTHING = Decimal(0)


@dataclass(frozen=True, slots=True)
class Job:
    """An amount as it is to be weighed, in grams; a premix being made is a job with ``made``."""

    want: Want
    target_g: Decimal
    low_g: Decimal
    high_g: Decimal
    role: Role = Role.WHOLE
    premix: int = 0
    carried_u_g: Decimal = _NOTHING
    made: Premix | None = None


def premixes_for(
    short: Sequence[Want],
    wanted: Sequence[Want],
    scales: Sequence[Scale],
    rule: Rule,
    vessels: Vessels,
) -> tuple[Premix, ...]:
    """Premixes for amounts that nothing can judge, where the formula names a carrier for them.

    An amount has part in one premix at most.
    """
    out: list[Premix] = []
    taken: set[int] = set()
    for one in short:
        carrier = carrier_of(wanted, one)
        if carrier is None or carrier.n in taken or one.n in taken:
            continue
        made = best_premix(len(out) + 1, one, carrier, scales, rule, vessels)
        if made is not None:
            out.append(made)
            taken |= {made.of, made.carrier_of}
    return tuple(out)


def jobs(
    wanted: Sequence[Want], premixes: Sequence[Premix], scales: Sequence[Scale]
) -> Iterator[Job]:
    """The amounts in order, with each premix made before the first that needs it."""
    mine = {n: it for it in premixes for n in (it.of, it.carrier_of)}
    by_n = {one.n: one for one in wanted}
    for one in wanted:
        made = mine.get(one.n)
        if made is None:
            yield Job(one, one.target_g, one.low_g, one.high_g)
            continue
        if one.n == min(made.of, made.carrier_of):
            nothing = (_NOTHING, _NOTHING, _NOTHING)
            yield Job(one, *nothing, Role.PREMIX, made.n, made=made)
        prep = next(it for it in scales if it.name == made.scale)
        w, u_w = made.part_g / made.mass_g, u_share_of(made, prep)
        if one.n == made.of:
            carried = made.taken_g * u_w / w
            low, high = one.low_g / w, one.high_g / w
            yield Job(one, made.taken_g, low, high, Role.FROM_PREMIX, made.n, carried)
            continue
        slack = shared_slack(made, by_n[made.of])
        finest = min(fitness.expected_u(it, made.taken_g) for it in scales)
        yield Job(
            one,
            one.target_g - made.shared_g,
            one.low_g - made.shared_g + slack,
            one.high_g - made.shared_g - slack,
            Role.REST,
            made.n,
            root_sum((1 - w) * finest, made.taken_g * u_w),
        )
