"""What the weighings before it make of a weighing: what is left to weigh, and what it brings along.

Where an amount takes several weighings, none but the last need be exact. With ``x`` the net of a
weighing still to come, its whole amount is ``c x + s``, and ``x`` is judged within the limits of
the whole less ``s``, over ``c``:

part          ``c = 1``, ``s`` the parts already in
from premix   ``c = w``, the share of the ingredient in the premix as it was weighed; ``s = 0``
rest          ``c = 1``, ``s`` the carrier that came, or will come, with the premix

What is known of ``s`` and ``c`` no better than it was weighed counts in the verdict as *carried*
uncertainty, in grams of ``x``. The errors of parts go together (``metrology.whole_budget``); for a
premix see ``premix``.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Context, Decimal

from weighd.domain import mass
from weighd.domain.batch import Accepted, Planned
from weighd.domain.formula import FINEST
from weighd.domain.metrology import Budget, root_sum, whole_budget
from weighd.domain.plan_words import Role
from weighd.domain.premix import u_of_share
from weighd.domain.steps import LIMIT, Step

_CONTEXT = Context(prec=28)
_NOTHING = Decimal(0)
#: As uncertainties are written (``metrology``).
_U = Decimal("0.000001")


@dataclass(frozen=True, slots=True)
class Mixed:
    """A premix as far as it is known: the share ``w`` of its ingredient, with its uncertainty."""

    w: Decimal
    u_w: Decimal


@dataclass(frozen=True, slots=True)
class Sum:
    """What a whole amount came to: grams and standard uncertainty, in grams."""

    net_g: Decimal
    u_g: Decimal


_Done = Sequence[tuple[Planned, Accepted]]


def retargeted(additions: Sequence[Planned], accepted: Sequence[Accepted]) -> tuple[Planned, ...]:
    """The additions with what is still to come reckoned anew from what is in."""
    done = tuple(zip(additions, accepted, strict=False))
    coming = additions[len(accepted) :]
    if all(one.step is None or one.step.role is Role.WHOLE for one in coming):
        return tuple(additions)
    return (*(one for one, _ in done), *(_retargeted(one, additions, done) for one in coming))


def _retargeted(one: Planned, additions: Sequence[Planned], done: _Done) -> Planned:
    step = one.step
    if step is None:
        return one
    if step.role is Role.PART:
        return _part(one, step, done)
    mixed = _mixed(step.premix, done)
    if mixed is None or step.role not in (Role.FROM_PREMIX, Role.REST):
        return one
    if step.role is Role.FROM_PREMIX:
        return replace(
            one,
            target_g=mass.short(step.whole_g / mixed.w, FINEST),
            low_g=mass.short(step.low_g / mixed.w, LIMIT),
            high_g=mass.short(step.high_g / mixed.w, LIMIT),
        )
    shared, slack = _shared(step.premix, mixed, additions, done)
    return replace(
        one,
        target_g=mass.short(step.whole_g - shared, FINEST),
        low_g=mass.short(step.low_g - shared + slack, LIMIT),
        high_g=mass.short(step.high_g - shared - slack, LIMIT),
    )


def _part(one: Planned, step: Step, done: _Done) -> Planned:
    """What is left of the whole, by the number of parts left; the last has the whole's limits."""
    nets = [it.net_g for it in _parts(step.of, done)]
    if not nets:
        return one
    inside = sum(nets, _NOTHING)
    left = step.whole_g - inside
    if len(nets) + 1 == step.parts:
        return replace(one, target_g=left, low_g=step.low_g - inside, high_g=step.high_g - inside)
    each = mass.short(left / (step.parts - len(nets)), FINEST)
    rough = one.high_g - one.target_g
    return replace(one, target_g=each, low_g=each - rough, high_g=each + rough)


def _parts(of: int, done: _Done) -> list[Accepted]:
    return [it for one, it in done if one.step and one.step.of == of and one.step.role is Role.PART]


def _mixed(premix: int, done: _Done) -> Mixed | None:
    """The premix as it was weighed; ``None`` until it was, and where either is missing."""
    weighed = {
        one.step.role: it
        for one, it in done
        if one.step and one.step.premix == premix and not one.step.goes_in
    }
    if Role.PREMIX not in weighed or Role.CARRIER not in weighed:
        return None
    part, carrier = weighed[Role.PREMIX], weighed[Role.CARRIER]
    if part.net_g <= 0 or carrier.net_g <= 0:
        return None
    both = part.net_g + carrier.net_g
    u_w = u_of_share(part.net_g, part.budget.u_g, carrier.net_g, carrier.budget.u_g)
    return Mixed(_CONTEXT.divide(part.net_g, both), u_w)


def _taken(premix: int, done: _Done) -> Accepted | None:
    """What was taken of a premix into the batch; ``None`` until it was."""
    for one, it in done:
        if one.step and one.step.premix == premix and one.step.role is Role.FROM_PREMIX:
            return it
    return None


def _shared(
    premix: int, mixed: Mixed, additions: Sequence[Planned], done: _Done
) -> tuple[Decimal, Decimal]:
    """How much of the carrier comes with a premix, and how far off that may still turn out."""
    taken = _taken(premix, done)
    per = (1 - mixed.w) / mixed.w
    if taken is not None:
        return taken.net_g * (1 - mixed.w), _NOTHING
    step = next(
        one.step
        for one in additions
        if one.step and one.step.premix == premix and one.step.role is Role.FROM_PREMIX
    )
    off = max(step.whole_g - step.low_g, step.high_g - step.whole_g)
    return step.whole_g * per, off * per


def carried(
    planned: Planned,
    additions: Sequence[Planned],
    accepted: Sequence[Accepted],
    net_g: Decimal,
    budget: Budget,
) -> Decimal:
    """Standard uncertainty in grams that a weighing brings along besides its own.

    ``net_g`` and ``budget``  of the weighing itself. Zero where it is all of its amount.
    """
    step = planned.step
    if step is None:
        return _NOTHING
    done = tuple(zip(additions, accepted, strict=False))
    if step.role is Role.PART and step.part == step.parts:
        parts = [*(it.budget for it in _parts(step.of, done)), budget]
        return _besides(whole_budget(parts).u_g, budget.u_g)
    mixed = _mixed(step.premix, done) if step.premix else None
    if mixed is None:
        return _NOTHING
    if step.role is Role.FROM_PREMIX:
        return (net_g * mixed.u_w / mixed.w).quantize(_U)
    if step.role is Role.REST:
        taken = _taken(step.premix, done)
        if taken is None:
            shared, _ = _shared(step.premix, mixed, additions, done)
            return (shared / (1 - mixed.w) * mixed.u_w).quantize(_U)
        return root_sum((1 - mixed.w) * taken.budget.u_g, taken.net_g * mixed.u_w)
    return _NOTHING


def _besides(whole_u_g: Decimal, own_u_g: Decimal) -> Decimal:
    """What has to be added to one's own uncertainty to give that of the whole."""
    rest = max(whole_u_g**2 - own_u_g**2, _NOTHING)
    return _CONTEXT.sqrt(rest).quantize(_U)


def inside_g(
    planned: Planned, additions: Sequence[Planned], accepted: Sequence[Accepted]
) -> Decimal:
    """How much of a split amount is in by the parts before, in grams; zero where it is whole."""
    if planned.step is None or planned.step.role is not Role.PART:
        return _NOTHING
    done = tuple(zip(additions, accepted, strict=False))
    return sum((it.net_g for it in _parts(planned.step.of, done)), _NOTHING)


def as_weighed(additions: Sequence[Planned], accepted: Sequence[Accepted]) -> dict[int, Sum]:
    """What went in of each amount of the formula, by its number, over all its weighings."""
    done = tuple(zip(additions, accepted, strict=False))
    out: dict[int, Sum] = {}
    for of in dict.fromkeys(one.amount for one, _ in done):
        mine = [(one, it) for one, it in done if one.amount == of]
        found = _sum(mine, done)
        if found is not None:
            out[of] = found
    return out


def _sum(mine: _Done, done: _Done) -> Sum | None:
    sums: list[Sum] = []
    parts = [it for one, it in mine if one.step and one.step.role is Role.PART]
    if parts:
        net = sum((it.net_g for it in parts), _NOTHING)
        sums.append(Sum(net, whole_budget([it.budget for it in parts]).u_g))
    for one, it in mine:
        role = one.step.role if one.step else Role.WHOLE
        if role in (Role.WHOLE, Role.REST):
            sums.append(Sum(it.net_g, it.budget.u_g))
        elif role is Role.FROM_PREMIX and one.step:
            mixed = _mixed(one.step.premix, done)
            if mixed is not None:
                u = root_sum(mixed.w * it.budget.u_g, it.net_g * mixed.u_w)
                sums.append(Sum(mass.short(it.net_g * mixed.w, LIMIT), u))
        elif role is Role.CARRIER and one.step:
            sums += _brought(one.step.premix, done)
    if not sums:
        return None
    net = sum((it.net_g for it in sums), _NOTHING)
    return Sum(net, root_sum(*(it.u_g for it in sums)))


def _brought(premix: int, done: _Done) -> Iterable[Sum]:
    """What came of the carrier with a premix."""
    mixed, taken = _mixed(premix, done), _taken(premix, done)
    if mixed is None or taken is None:
        return
    u = root_sum((1 - mixed.w) * taken.budget.u_g, taken.net_g * mixed.u_w)
    yield Sum(mass.short(taken.net_g * (1 - mixed.w), LIMIT), u)
