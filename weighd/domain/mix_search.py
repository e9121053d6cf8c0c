"""The best mix where its freezing point counts: the pieces of the table, one linear problem each.

What is dissolved in 100 g of water, *c*, takes every value between the least and the most that the
other lines allow, and how far it may go is found by two linear problems of a quotient; so is the
part of the depression that is straight. Between them only some pieces can hold the freezing point
asked for, a few where the band is narrow. Each of those is solved, from the nearest outward, until
one is as good as the problem without the freezing point: nothing can be better. That is exact, also
where the allowed part of the table falls into two.

Where facts are missing the two ends of the freezing point are two mixes, each on a piece of its
own: the second is then looked for on each piece of the first that is not worse than the best yet.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import product

from weighd.domain.freezing import LAST_G, PIECES
from weighd.domain.limits import Limit
from weighd.domain.mix_lines import Rows, Thawing, Weights, holds, thawings
from weighd.domain.problem import (
    Answer,
    NoSolution,
    Problem,
    Solved,
    Solver,
    Why,
    quotient,
    total,
)

_NOTHING, _HUNDRED = Decimal(0), Decimal(100)
#: Prices are alike to this share; and ends of the table are taken so much wider.
_ALIKE, _MARGIN = Decimal("1e-9"), Decimal("1e-6")


@dataclass(frozen=True, slots=True)
class Mixing:
    """A problem over the grams of ingredients, and the freezing point that their mix shall have.

    ``rows``   what is in a gram of each unknown that is an ingredient;
    ``band``   a limit of the freezing point, ``None`` for any;
    ``short``, ``past``  unknowns of the problem that take up what is missed of the band's lower
    (colder) end and of its upper, in °C times grams of water; empty where nothing may be missed.
    """

    problem: Problem
    rows: Rows
    band: Limit | None = None
    short: str = ""
    past: str = ""


def solve_mix(solver: Solver, mixing: Mixing, start: int | None = None) -> Answer:
    """The best there is.

    ``start``  the number of the piece of :data:`weighd.domain.freezing.PIECES` to begin at.
    Raises :class:`OperatorError`, ``facts-missing``, and what the solver raises.
    """
    if mixing.band is None:
        return solver.solve(mixing.problem)
    ends, wet = _ends(mixing)
    free = solver.solve(wet)
    if isinstance(free, NoSolution) and free.why is Why.INFEASIBLE:
        return free
    return _best(solver, wet, ends, free, None, start) or NoSolution(Why.INFEASIBLE)


def _best(
    solver: Solver,
    problem: Problem,
    ends: Sequence[Thawing],
    free: Answer,
    best: Answer | None,
    start: int | None,
) -> Answer | None:
    """The better of ``best`` and of what the problem has where these ends hold.

    ``free`` is its answer without them: nothing in it can be better.
    """
    if not ends or (isinstance(free, Solved) and holds(ends, free.values)):
        return free
    one, *rest = ends
    for number in _outward(solver, problem, one, free, start):
        here = problem.also(*one.lines(PIECES[number]))
        found = solver.solve(here)
        if isinstance(found, NoSolution):
            if found.why is Why.INFEASIBLE:
                continue
        elif isinstance(best, Solved) and found.price >= best.price:
            continue
        best = _best(solver, here, rest, found, best, start)
        if isinstance(best, NoSolution):
            return best
        if best and isinstance(free, Solved) and _as_good(best.price, free.price):
            break
    return best


def scan_mix(solver: Solver, mixing: Mixing) -> Answer:
    """The same by solving every piece there is: what :func:`solve_mix` is held against."""
    ends, wet = _ends(mixing)
    best: Answer = NoSolution(Why.INFEASIBLE)
    for chosen in product(PIECES, repeat=len(ends)):
        lines = [line for one, piece in zip(ends, chosen, strict=True) for line in one.lines(piece)]
        found = solver.solve(wet.also(*lines))
        if isinstance(found, Solved) and (isinstance(best, NoSolution) or found.price < best.price):
            best = found
    return best


def lowest_quotient(
    solver: Solver, mixing: Mixing, over: Weights, under: Weights
) -> Decimal | None:
    """The least that ``over / under`` can be, ``None`` where nothing is possible or it has no end.

    Raises what the solver raises.
    """
    problems = [mixing.problem]
    if mixing.band is not None:
        ends, wet = _ends(mixing)
        problems = list(_places(solver, wet, ends))
    lowest: Decimal | None = None
    for one in problems:
        found = solver.solve(quotient(one, over, under))
        if isinstance(found, NoSolution):
            if found.why is Why.UNBOUNDED:
                return None
        elif lowest is None or found.price < lowest:
            lowest = found.price
    return lowest


def depressions(solver: Solver, mixing: Mixing) -> tuple[Decimal, Decimal] | None:
    """The least and the most that the freezing point can be lowered by, in °C, whatever the band
    says; ``None`` where there is no such mix, or the table ends before.

    Of a mix where facts are missing: of its end with the most dissolved.
    """
    ends, wet = _ends(replace(mixing, band=Limit(("freezing_point",), _NOTHING, None, "")))
    [one] = ends
    on = replace(one, at_most=None)
    lows, highs = [], []
    for number in _possible(solver, wet, on):
        piece = PIECES[number]
        here = wet.also(*on.lines(piece))
        # f(c) = from_c + (c - from_g) * slope, as a quotient over the same water
        width, rise = piece.to_g - piece.from_g, piece.to_c - piece.from_c
        flat = piece.from_c - rise * piece.from_g / width
        over = {
            name: flat * one.water.get(name, _NOTHING)
            + rise * _HUNDRED / width * one.sucrose.get(name, _NOTHING)
            + one.straight.get(name, _NOTHING)
            for name in mixing.rows
        }
        low = solver.solve(quotient(here, over, one.water))
        if isinstance(low, NoSolution):
            continue
        high = solver.solve(quotient(here, {k: -v for k, v in over.items()}, one.water))
        lows.append(low.price)
        if isinstance(high, Solved):
            highs.append(-high.price)
    return (min(lows), max(highs)) if lows and highs else None


def _ends(mixing: Mixing) -> tuple[tuple[Thawing, ...], Problem]:
    assert mixing.band is not None
    ends, lines = thawings(mixing.band, mixing.rows, short=mixing.short, past=mixing.past)
    return ends, mixing.problem.also(*lines)


def _as_good(price: Decimal, bound: Decimal) -> bool:
    return price <= bound + _ALIKE * max(abs(bound), Decimal(1))


def _places(solver: Solver, problem: Problem, ends: Sequence[Thawing]) -> Iterator[Problem]:
    """The problem on each of the pieces on which there may be an answer."""
    if not ends:
        yield problem
        return
    one, *rest = ends
    for number in _possible(solver, problem, one):
        yield from _places(solver, problem.also(*one.lines(PIECES[number])), rest)


def _outward(
    solver: Solver, problem: Problem, one: Thawing, free: Answer, start: int | None
) -> list[int]:
    """The pieces on which there may be an answer, the nearest to the start first."""
    possible = list(_possible(solver, problem, one))
    near = _number(one, free) if start is None and isinstance(free, Solved) else start
    if near is None:
        near = possible[len(possible) // 2] if possible else 0
    return sorted(possible, key=lambda number: abs(number - near))


def _number(one: Thawing, free: Solved) -> int | None:
    water = total(one.water, free.values)
    if water <= 0:
        return None
    grams = total(one.sucrose, free.values) * _HUNDRED / water
    return min(int(grams / (LAST_G / len(PIECES))), len(PIECES) - 1)


def _possible(solver: Solver, problem: Problem, one: Thawing) -> Iterator[int]:
    """The numbers of the pieces that are within reach, and on which its ends can hold."""
    reach = _reach(solver, problem, one.sucrose, one.water, _HUNDRED)
    if reach is None:
        return
    at_most = None if one.past else one.at_most
    at_least = None if one.short else one.at_least
    least, most = _NOTHING, _NOTHING
    if any(one.straight.values()) and (at_most, at_least) != (None, None):
        straight = _reach(solver, problem, one.straight, one.water, Decimal(1))
        if straight is None:
            return
        least, most = straight
    for number, piece in enumerate(PIECES):
        if piece.to_g < reach[0] - _MARGIN or piece.from_g > reach[1] + _MARGIN:
            continue
        if at_most is not None and piece.from_c + least > at_most + _MARGIN:
            continue
        if at_least is not None and piece.to_c + most < at_least - _MARGIN:
            continue
        yield number


def _reach(
    solver: Solver, problem: Problem, over: Weights, under: Weights, times: Decimal
) -> tuple[Decimal, Decimal] | None:
    """The least and the most that so many times ``over / under`` can be, either without an end;
    ``None`` where the problem has no answer."""
    low = solver.solve(quotient(problem, over, under))
    if isinstance(low, NoSolution) and low.why is Why.INFEASIBLE:
        return None
    high = solver.solve(quotient(problem, {k: -v for k, v in over.items()}, under))
    return (
        low.price * times if isinstance(low, Solved) else _NOTHING,
        -high.price * times if isinstance(high, Solved) else Decimal("Infinity"),
    )
