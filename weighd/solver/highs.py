"""HiGHS, by way of scipy: the simplex method for amounts, branch and bound for whole numbers.

Floats are only inside. Rows and columns are scaled by powers of two, which loses no digit, until
their entries are about 1 and amounts are about 1: HiGHS's tolerances are absolute. What it answers
is held against the problem's own lines, in ``Decimal``, before it is handed out.

scipy takes half a second to import and is not imported before the first problem comes.
"""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING, Any

from weighd.domain.errors import SolverError
from weighd.domain.problem import (
    Answer,
    Line,
    NoSolution,
    Problem,
    Solved,
    Why,
    broken,
    total,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

#: HiGHS takes nothing finer.
_TOLERANCE = 1e-10
_INFEASIBLE, _UNBOUNDED, _LIMIT = 2, 3, 1
_PASSES = 4


class Highs:
    """The solver. ``seconds`` is how long one problem may take."""

    def __init__(self, seconds: float = 10.0) -> None:
        self._seconds = seconds

    def solve(self, problem: Problem, /) -> Answer:
        """The best solution.

        Raises :class:`SolverError`, ``solver-too-long`` or ``solver-failed``.
        """
        lines = [one for one in problem.lines if any(one.weights.values())]
        if any(_empty_and_false(one) for one in problem.lines):
            return NoSolution(Why.INFEASIBLE)
        if not problem.unknowns:
            return Solved({}, Decimal(0))
        try:
            table = _Table(problem, lines)
            found = table.solve(self._seconds, presolve=True)
            if found.status not in (0, _LIMIT, _INFEASIBLE, _UNBOUNDED):
                found = table.solve(self._seconds, presolve=False)
        except (ValueError, OverflowError, FloatingPointError) as error:
            raise _failed(f"it was given numbers that it cannot take ({error}).") from error
        if found.status in (_INFEASIBLE, _UNBOUNDED):
            return NoSolution(Why.INFEASIBLE if found.status == _INFEASIBLE else Why.UNBOUNDED)
        if found.status == _LIMIT:
            raise SolverError(
                "solver-too-long",
                f"No answer was found within {self._seconds:.0f} s.",
                remedy="Give fewer ingredients or fewer targets.",
            )
        if found.status != 0:
            raise _failed(str(found.message))
        values = table.values(found.x)
        wrong = broken(problem, values)
        if wrong:
            raise _failed(f"its answer does not hold: {', '.join(wrong[:5])}")
        return Solved(values, total(problem.price, values))


def _failed(why: str) -> SolverError:
    return SolverError(
        "solver-failed",
        f"The solver could not tell: {why}",
        remedy="Amounts of very different size are a usual cause: widen or leave out some target.",
    )


def _empty_and_false(line: Line) -> bool:
    if any(line.weights.values()):
        return False
    return (line.least is not None and line.least > 0) or (line.most is not None and line.most < 0)


class _Table:
    """A problem as scaled arrays: unknown = column scale × size × what HiGHS sees."""

    def __init__(self, problem: Problem, lines: list[Line]) -> None:
        import numpy as np

        self._np = np
        self._unknowns = problem.unknowns
        place = {one.name: n for n, one in enumerate(problem.unknowns)}
        self._a = np.zeros((len(lines), len(place)))
        for row, line in enumerate(lines):
            for name, weight in line.weights.items():
                self._a[row, place[name]] = float(weight)
        self._price = np.zeros(len(place))
        for name, weight in problem.price.items():
            self._price[place[name]] = float(weight)
        self._low, self._high = _ends(np, lines)
        self._least, self._most = _ends(np, problem.unknowns)
        self._whole = np.array([one.whole for one in problem.unknowns])
        self._column = np.ones(len(place))
        with np.errstate(over="raise", invalid="raise", divide="raise"):
            self._scale()

    def _scale(self) -> None:
        np = self._np
        a = np.abs(self._a)
        rows, columns = np.ones(a.shape[0]), self._column
        for _ in range(_PASSES if a.size else 0):
            rows = rows * _even(np, a * rows[:, None] * columns, axis=1)
            step = _even(np, a * rows[:, None] * columns, axis=0)
            columns = columns * np.where(self._whole, 1.0, step)
        if a.size:
            rows = rows / (a * rows[:, None] * columns).max(axis=1)
        rows, columns = _two(np, rows), _two(np, columns)
        self._a = self._a * rows[:, None] * columns
        self._low, self._high = self._low * rows, self._high * rows
        self._least, self._most = self._least / columns, self._most / columns
        self._price = self._price * columns
        sides = np.concatenate([self._low, self._high])
        if not np.any(np.isfinite(sides) & (sides != 0)):
            sides = np.concatenate([self._least, self._most])
        sides = np.abs(sides[np.isfinite(sides) & (sides != 0)])
        size = _two(np, np.exp(np.log(sides).mean())) if sides.size else 1.0
        if self._whole.any():
            size = 1.0
        self._low, self._high = self._low / size, self._high / size
        self._least, self._most = self._least / size, self._most / size
        self._column = columns * size
        largest = np.abs(self._price).max()
        if largest:
            self._price = self._price / _two(np, largest)

    def solve(self, seconds: float, *, presolve: bool) -> Any:
        """What scipy says of it."""
        from scipy.optimize import linprog

        np = self._np
        same = self._low == self._high
        above = np.isfinite(self._high) & ~same
        below = np.isfinite(self._low) & ~same
        return linprog(
            self._price,
            A_ub=np.concatenate([self._a[above], -self._a[below]]),
            b_ub=np.concatenate([self._high[above], -self._low[below]]),
            A_eq=self._a[same],
            b_eq=self._low[same],
            bounds=np.stack([self._least, self._most], axis=1),
            integrality=self._whole.astype(int) if self._whole.any() else None,
            method="highs",
            options={
                "presolve": presolve,
                "time_limit": seconds,
                **(
                    {}
                    if self._whole.any()
                    else {
                        "primal_feasibility_tolerance": _TOLERANCE,
                        "dual_feasibility_tolerance": _TOLERANCE,
                    }
                ),
            },
        )

    def values(self, found: NDArray[Any]) -> dict[str, Decimal]:
        """The unknowns, not outside their ends by a float's last digit."""
        out = {}
        for one, value in zip(self._unknowns, found * self._column, strict=True):
            exact = Decimal(repr(round(float(value)) if one.whole else float(value) + 0.0))
            if one.least is not None:
                exact = max(exact, one.least)
            if one.most is not None:
                exact = min(exact, one.most)
            out[one.name] = exact
        return out


def _ends(np: Any, those: Any) -> tuple[Any, Any]:
    low = [-np.inf if one.least is None else float(one.least) for one in those]
    high = [np.inf if one.most is None else float(one.most) for one in those]
    return np.array(low), np.array(high)


def _even(np: Any, a: Any, *, axis: int) -> Any:
    """What brings the entries of each row (or column) about 1, largest against smallest."""
    largest = a.max(axis=axis)
    smallest = np.where(a > 0, a, np.inf).min(axis=axis)
    both = np.where(largest > 0, largest * np.where(np.isfinite(smallest), smallest, 1.0), 1.0)
    return 1.0 / np.sqrt(both)


def _two(np: Any, value: Any) -> Any:
    """The nearest power of two: scaling by it is exact."""
    return np.exp2(np.round(np.log2(value)))
