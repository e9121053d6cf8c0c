"""A linear problem as data: unknown amounts, lines that hold them, and a price to be kept low.

Whoever solves it stands behind :class:`Solver`. Numbers are ``Decimal`` on both sides; how it is
reckoned in between is the solver's business, and what comes back is held against the lines again,
here, in exact arithmetic.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal
from enum import StrEnum
from typing import Protocol

_NOTHING, _ONE = Decimal(0), Decimal(1)
#: A line holds if it is off by no more than this share of what is summed up in it.
WITHIN = Decimal("1e-7")


@dataclass(frozen=True, slots=True)
class Unknown:
    """An amount to be found, from ``least`` to ``most``; ``None`` is no end on that side.

    ``whole``  only whole numbers will do.
    """

    name: str
    least: Decimal | None = _NOTHING
    most: Decimal | None = None
    whole: bool = False


@dataclass(frozen=True, slots=True)
class Line:
    """The sum of weights times unknowns lies from ``least`` to ``most``, either may be ``None``."""

    name: str
    weights: Mapping[str, Decimal]
    least: Decimal | None = None
    most: Decimal | None = None

    def at(self, values: Mapping[str, Decimal]) -> Decimal:
        """What it comes to, exactly."""
        return total(self.weights, values)


@dataclass(frozen=True, slots=True)
class Problem:
    """Find unknowns that satisfy all lines, at the lowest sum of ``price`` times unknowns.

    Raises ``ValueError`` for a name that is twice or not there, a number that is none, or ends
    that cross.
    """

    unknowns: tuple[Unknown, ...]
    lines: tuple[Line, ...] = ()
    price: Mapping[str, Decimal] = field(default_factory=dict)

    def __post_init__(self) -> None:
        names = {one.name for one in self.unknowns}
        if len(names) < len(self.unknowns):
            raise ValueError("two unknowns have the same name")
        for unknown in self.unknowns:
            _ends(unknown)
        for line in self.lines:
            _ends(line)
        for where, weights in (
            ("the price", self.price),
            *((x.name, x.weights) for x in self.lines),
        ):
            for name, weight in weights.items():
                if name not in names:
                    raise ValueError(f'"{name}" in {where} is no unknown')
                if not weight.is_finite():
                    raise ValueError(f'{weight} for "{name}" in {where} is no number')

    def also(self, *lines: Line, unknowns: tuple[Unknown, ...] = ()) -> Problem:
        """The same with more lines and unknowns."""
        return replace(self, unknowns=(*self.unknowns, *unknowns), lines=(*self.lines, *lines))

    def priced(self, price: Mapping[str, Decimal]) -> Problem:
        """The same with another price."""
        return replace(self, price=price)


@dataclass(frozen=True, slots=True)
class Solved:
    """The best there is: every unknown, and what it costs."""

    values: Mapping[str, Decimal]
    price: Decimal


class Why(StrEnum):
    """Why there is no solution."""

    INFEASIBLE = "the lines cannot all hold"
    UNBOUNDED = "nothing keeps the price from falling for ever"


@dataclass(frozen=True, slots=True)
class NoSolution:
    """There is none, and that is certain; a solver that could not tell raises an error."""

    why: Why


Answer = Solved | NoSolution


class Solver(Protocol):
    """Finds the best solution. The same problem always has the same answer."""

    def solve(self, problem: Problem, /) -> Answer:
        """Solve it. Raises :class:`~weighd.domain.errors.SolverError` where it cannot tell."""


def total(weights: Mapping[str, Decimal], values: Mapping[str, Decimal]) -> Decimal:
    """Weights times values, summed; a value that is not there is none."""
    return sum((one * values.get(name, _NOTHING) for name, one in weights.items()), _NOTHING)


def broken(problem: Problem, values: Mapping[str, Decimal]) -> list[str]:
    """The lines and unknowns that do not hold to within :data:`WITHIN`, by name."""
    out = []
    for one in problem.unknowns:
        value = values[one.name]
        if _off(value, one.least, one.most) > WITHIN * max(abs(value), _ONE):
            out.append(one.name)
    for line in problem.lines:
        size = sum((abs(w * values[name]) for name, w in line.weights.items()), _NOTHING)
        size = max(
            size, *(abs(end) for end in (line.least, line.most) if end is not None), _NOTHING
        )
        if _off(line.at(values), line.least, line.most) > WITHIN * size:
            out.append(line.name)
    return out


def quotient(
    problem: Problem, over: Mapping[str, Decimal], under: Mapping[str, Decimal]
) -> Problem:
    """The problem of the lowest ``over / under``, where ``under`` is above zero.

    By division of everything by ``under``, an unknown of its own (A. Charnes & W. W. Cooper, *Naval
    Res. Logist. Q.* 9 (1962) 181, from memory). Its price is the quotient. Whole
    numbers are let go.
    """
    share = "1 / under"
    unknowns = [
        Unknown(one.name, _NOTHING if one.least is not None and one.least >= 0 else None)
        for one in problem.unknowns
    ]
    lines = [Line("under", under, _ONE, _ONE)]
    ends = [Line(one.name, {one.name: _ONE}, one.least, one.most) for one in problem.unknowns]
    for line in (*ends, *problem.lines):
        if line.least == line.most and line.least is not None:
            weights = {**line.weights, share: -line.least}
            lines.append(Line(line.name, weights, _NOTHING, _NOTHING))
            continue
        if line.least is not None:
            lines.append(Line(line.name, {**line.weights, share: -line.least}, _NOTHING, None))
        if line.most is not None:
            lines.append(Line(line.name, {**line.weights, share: -line.most}, None, _NOTHING))
    lines = [one for one in lines if any(one.weights.values())]
    return Problem((*unknowns, Unknown(share)), tuple(lines), over)


def _ends(one: Unknown | Line) -> None:
    for end in (one.least, one.most):
        if end is not None and not end.is_finite():
            raise ValueError(f'{end} is no end of "{one.name}"')
    if one.least is not None and one.most is not None and one.least > one.most:
        raise ValueError(f'"{one.name}" cannot be from {one.least} to {one.most}')


def _off(value: Decimal, least: Decimal | None, most: Decimal | None) -> Decimal:
    below = _NOTHING if least is None else least - value
    above = _NOTHING if most is None else value - most
    return max(below, above, _NOTHING)
