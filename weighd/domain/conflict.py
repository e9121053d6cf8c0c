"""Why a mix cannot be had: a smallest set of wishes that fight, and how near one can come.

A set fights if it cannot hold and every part of it, with one wish less, can. It is found by asking
the solver about halves of what is left to be told apart (U. Junker, QUICKXPLAIN, AAAI 2004, from
memory), so that few of many wishes cost few questions. There may be other sets that fight; to end
this one, one of its wishes has to give way.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from enum import StrEnum

from weighd.domain.mix_lines import FREEZING, mass_of, named, quotient_of
from weighd.domain.mix_search import Mixing, depressions, lowest_quotient, solve_mix
from weighd.domain.problem import Line, NoSolution, Solver, Why
from weighd.domain.wishes import BATCH, Wishes, hard

_NOTHING = Decimal(0)


class End(StrEnum):
    """Which end of something is meant."""

    LEAST = "at least"
    MOST = "at most"
    WHOLE = "as it is"


@dataclass(frozen=True, slots=True)
class Tie:
    """One wish: an end of a quantity (its ``of``), of an ingredient's amount, or the batch."""

    name: str
    end: End
    of: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Conflict:
    """Wishes that cannot all hold, none of them to be left out.

    ``about``   one of them that is about a quantity, if there is one;
    ``can_be``  the best of that quantity that the others allow, in its unit; ``None`` where that is
                not known;
    ``all_else`` whether these others are all that was asked, not only those that fight.
    """

    ties: tuple[Tie, ...]
    about: Tie | None = None
    can_be: Decimal | None = None
    all_else: bool = False


def ties_of(wishes: Wishes) -> list[Tie]:
    """Every wish, the quantities first: they are named before amounts where either would do."""
    out = []
    for one in wishes.limits:
        ends = ((one.least, End.LEAST), (one.most, End.MOST))
        out += [Tie(named(one.of), end, one.of) for value, end in ends if value is not None]
    for amount in wishes.amounts:
        if amount.least:
            out.append(Tie(amount.name, End.LEAST))
        if amount.most is not None:
            out.append(Tie(amount.name, End.MOST))
    if wishes.batch_g is not None:
        out.append(Tie(BATCH, End.WHOLE))
    return out


def holding(wishes: Wishes, kept: Collection[Tie]) -> Wishes:
    """The same with no wishes but these; amounts stay at nothing or above."""
    limits = []
    for one in wishes.limits:
        name = named(one.of)
        least = one.least if Tie(name, End.LEAST, one.of) in kept else None
        most = one.most if Tie(name, End.MOST, one.of) in kept else None
        if (least, most) != (None, None):
            limits.append(replace(one, least=least, most=most))
    amounts = tuple(
        replace(
            one,
            least=one.least if Tie(one.name, End.LEAST) in kept else _floor(one.least),
            most=one.most if Tie(one.name, End.MOST) in kept else None,
        )
        for one in wishes.amounts
    )
    batch = wishes.batch_g if Tie(BATCH, End.WHOLE) in kept else None
    return replace(wishes, limits=tuple(limits), amounts=amounts, batch_g=batch)


def _floor(least: Decimal | None) -> Decimal | None:
    return None if least is None else min(least, _NOTHING)


def can_be(solver: Solver, wishes: Wishes) -> bool:
    """Whether all of them can hold."""
    found = solve_mix(solver, _some(wishes))
    return not (isinstance(found, NoSolution) and found.why is Why.INFEASIBLE)


def _some(wishes: Wishes) -> Mixing:
    """As hard, and there is something at all: nothing would satisfy every share."""
    one = hard(wishes)
    if wishes.batch_g is None and not any(amount.least for amount in wishes.amounts):
        some = Line("something", mass_of(wishes.rows), Decimal(1), None)
        one = replace(one, problem=one.problem.also(some))
    return one


def conflict(solver: Solver, wishes: Wishes) -> Conflict | None:
    """A smallest set of wishes that fight; ``None`` where all can hold.

    Raises what the solver raises.
    """
    if can_be(solver, wishes):
        return None
    ties = ties_of(wishes)

    def possible(kept: Collection[Tie]) -> bool:
        return can_be(solver, holding(wishes, kept))

    found = tuple(_smallest(possible, [], [], ties)) if ties else ()
    found = tuple(one for one in ties if one in found)
    about = next((one for one in found if one.of), None)
    if about is None:
        return Conflict(found)
    best = best_of(solver, holding(wishes, [one for one in ties if one != about]), about)
    if best is not None:
        return Conflict(found, about, best, all_else=True)
    others = holding(wishes, [one for one in found if one != about])
    return Conflict(found, about, best_of(solver, others, about))


def _smallest(
    possible: Callable[[Collection[Tie]], bool],
    held: list[Tie],
    new: Sequence[Tie],
    ties: list[Tie],
) -> list[Tie]:
    if new and not possible(held):
        return []
    if len(ties) == 1:
        return ties
    half = len(ties) // 2
    first, second = ties[:half], ties[half:]
    of_second = _smallest(possible, [*held, *first], first, second)
    of_first = _smallest(possible, [*held, *of_second], of_second, first)
    return [*of_first, *of_second]


def best_of(solver: Solver, wishes: Wishes, tie: Tie) -> Decimal | None:
    """The most (or for an upper end, the least) of a quantity that these wishes allow; ``None``
    where that has no end, or nothing is possible."""
    mixing = _some(wishes)
    if tie.of == (FREEZING,):
        ends = depressions(solver, replace(mixing, band=None))
        if ends is None:
            return None
        return -ends[0] if tie.end is End.LEAST else -ends[1]
    one = quotient_of(tie.of, wishes.rows, wishes.overrun_percent)
    if tie.end is End.LEAST:
        over = {name: -weight for name, weight in one.over_low.items()}
        lowest = lowest_quotient(solver, mixing, over, one.under_high)
        return None if lowest is None else -lowest
    return lowest_quotient(solver, mixing, one.over_high, one.under_low)
