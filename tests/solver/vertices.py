"""A linear problem by trying every vertex in exact fractions: slow, plain, and no solver's kin."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal
from fractions import Fraction
from itertools import combinations

from weighd.domain.problem import Problem

Plane = tuple[list[Fraction], Fraction]


def best(problem: Problem) -> Fraction | None:
    """The lowest price, ``None`` where there is no solution.

    The problem's unknowns need ends on both sides, so that it has vertices and an end.
    """
    found = [_price(problem, at) for at in vertices(problem)]
    return min(found, default=None)


def vertices(problem: Problem) -> Iterator[list[Fraction]]:
    """Every corner of what the lines allow."""
    planes = list(_planes(problem))
    for chosen in combinations(planes, len(problem.unknowns)):
        at = _solve([one[0] for one in chosen], [one[1] for one in chosen])
        if at is not None and _inside(problem, at):
            yield at


def _planes(problem: Problem) -> Iterator[Plane]:
    names = [one.name for one in problem.unknowns]
    for n, one in enumerate(problem.unknowns):
        for end in (one.least, one.most):
            assert end is not None
            yield [Fraction(int(n == m)) for m in range(len(names))], Fraction(end)
    for line in problem.lines:
        for end in {line.least, line.most} - {None}:
            assert end is not None
            yield [Fraction(line.weights.get(name, Decimal(0))) for name in names], Fraction(end)


def _inside(problem: Problem, at: Sequence[Fraction]) -> bool:
    values = dict(zip((one.name for one in problem.unknowns), at, strict=True))
    every = [(values[one.name], one.least, one.most) for one in problem.unknowns]
    for line in problem.lines:
        got = sum((Fraction(w) * values[n] for n, w in line.weights.items()), Fraction(0))
        every.append((got, line.least, line.most))
    return all(
        (least is None or got >= Fraction(least)) and (most is None or got <= Fraction(most))
        for got, least, most in every
    )


def _price(problem: Problem, at: Sequence[Fraction]) -> Fraction:
    names = [one.name for one in problem.unknowns]
    return sum(
        (Fraction(problem.price.get(n, Decimal(0))) * v for n, v in zip(names, at, strict=True)),
        Fraction(0),
    )


def _solve(a: list[list[Fraction]], b: list[Fraction]) -> list[Fraction] | None:
    rows = [[*row, end] for row, end in zip(a, b, strict=True)]
    size = len(rows)
    for column in range(size):
        pivot = next((n for n in range(column, size) if rows[n][column]), None)
        if pivot is None:
            return None
        rows[column], rows[pivot] = rows[pivot], rows[column]
        rows[column] = [one / rows[column][column] for one in rows[column]]
        for n in range(size):
            if n != column and rows[n][column]:
                factor = rows[n][column]
                rows[n] = [x - factor * y for x, y in zip(rows[n], rows[column], strict=True)]
    return [row[size] for row in rows]
