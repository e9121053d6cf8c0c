"""The best mix where its freezing point counts: the pieces of the table, one linear problem each.

What is dissolved in 100 g of water, *c*, takes every value between the least and the most that the
other lines allow, and how far it may go is found by two linear problems of a quotient; so is the
part of the depression that is straight. Between them only some pieces can hold the freezing point
asked for, a few where the band is narrow. Each of those is solved, from the nearest outward, until
one is as good as the problem without the freezing point: nothing can be better. That is exact, also
where the allowed part of the table falls into two.
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
    Line,
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
    if isinstance(free, Solved) and holds(ends, free.values):
        return free
    best: Answer = NoSolution(Why.INFEASIBLE)
    for lines in _places(solver, wet, ends, free, start):
        found = solver.solve(wet.also(*lines))
        if isinstance(found, NoSolution):
            if found.why is Why.UNBOUNDED:
                return found
        elif isinstance(best, NoSolution) or found.price < best.price:
            best = found
            if isinstance(free, Solved) and _as_good(best.price, free.price):
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
        problems = [wet.also(*lines) for lines in _places(solver, wet, ends, None, None)]
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
    reach = _reach(solver, wet, one)
    lows, highs = [], []
    for piece in PIECES:
        if not reach[0] <= piece.to_g or not reach[1] >= piece.from_g:
            continue
        on = replace(one, at_most=None)
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


def _places(
    solver: Solver,
    wet: Problem,
    ends: Sequence[Thawing],
    free: Answer | None,
    start: int | None,
) -> Iterator[list[Line]]:
    """The lines of the pieces on which there may be an answer, the nearest to the start first."""
    numbers = []
    for one in ends:
        near = start
        if near is None and isinstance(free, Solved):
            near = _number(one, free)
        possible = list(_possible(solver, wet, one))
        middle = possible[len(possible) // 2] if near is None and possible else near
        numbers.append(_outward(possible, middle or 0))
    for chosen in sorted(product(*(enumerate(one) for one in numbers)), key=_far):
        yield [
            line
            for one, (_, number) in zip(ends, chosen, strict=True)
            for line in one.lines(PIECES[number])
        ]


def _outward(numbers: list[int], start: int) -> list[int]:
    return sorted(numbers, key=lambda number: abs(number - start))


def _far(chosen: tuple[tuple[int, int], ...]) -> int:
    return sum(place for place, _ in chosen)


def _number(one: Thawing, free: Solved) -> int | None:
    water = total(one.water, free.values)
    if water <= 0:
        return None
    grams = total(one.sucrose, free.values) * _HUNDRED / water
    return min(int(grams / (LAST_G / len(PIECES))), len(PIECES) - 1)


def _possible(solver: Solver, wet: Problem, one: Thawing) -> Iterator[int]:
    low, high = _reach(solver, wet, one)
    least = most = _NOTHING
    if any(one.straight.values()):
        least = _lowest(solver, wet, one.straight, one.water) or _NOTHING
        highest = _lowest(solver, wet, {k: -v for k, v in one.straight.items()}, one.water)
        most = Decimal("Infinity") if highest is None else -highest
    for number, piece in enumerate(PIECES):
        if piece.to_g < low - _MARGIN or piece.from_g > high + _MARGIN:
            continue
        bound = one.at_most if not one.past else None
        if bound is not None and piece.from_c + least > bound + _MARGIN:
            continue
        bound = one.at_least if not one.short else None
        if bound is not None and piece.to_c + most < bound - _MARGIN:
            continue
        yield number


def _reach(solver: Solver, wet: Problem, one: Thawing) -> tuple[Decimal, Decimal]:
    """The least and the most that 100 g of water can have dissolved; all there is if not known."""
    sugars = {name: weight * _HUNDRED for name, weight in one.sucrose.items()}
    low = _lowest(solver, wet, sugars, one.water)
    high = _lowest(solver, wet, {k: -v for k, v in sugars.items()}, one.water)
    return (_NOTHING if low is None else low), (LAST_G if high is None else -high)


def _lowest(solver: Solver, wet: Problem, over: Weights, under: Weights) -> Decimal | None:
    found = solver.solve(quotient(wet, over, under))
    return found.price if isinstance(found, Solved) else None
