"""The solver behind its port, against every vertex and every whole number there is."""

from __future__ import annotations

import subprocess
import sys
from decimal import Decimal
from itertools import product
from types import SimpleNamespace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.solver.vertices import best
from weighd.domain.errors import SolverError
from weighd.domain.problem import (
    Line,
    NoSolution,
    Problem,
    Solved,
    Unknown,
    Why,
    broken,
    quotient,
)
from weighd.solver import highs
from weighd.solver.highs import Highs

NAMES = ("a", "b", "c")
numbers = st.integers(-9, 9).map(Decimal)
#: The same problem in milligrams and in tonnes.
sizes = st.sampled_from([Decimal("0.001"), Decimal(1), Decimal(100_000)])


@st.composite
def problems(draw: st.DrawFn, most_lines: int = 3) -> Problem:
    size = draw(sizes)
    unknowns = []
    for name in NAMES:
        low = draw(st.integers(-3, 3))
        unknowns.append(Unknown(name, low * size, (low + draw(st.integers(0, 9))) * size))
    lines = []
    for n in range(draw(st.integers(0, most_lines))):
        weights = {name: draw(numbers) for name in NAMES}
        least = draw(st.none() | st.integers(-30, 30))
        most = draw(st.none() | st.integers(0, 30).map(lambda w, low=least: (low or 0) + w))
        lines.append(
            Line(
                f"line {n}",
                weights,
                None if least is None else least * size,
                None if most is None else most * size,
            )
        )
    return Problem(tuple(unknowns), tuple(lines), {name: draw(numbers) for name in NAMES})


@given(problems())
@settings(max_examples=150, deadline=None)
def test_it_finds_the_best_vertex_or_that_there_is_none(problem: Problem) -> None:
    wanted, got = best(problem), Highs().solve(problem)
    if wanted is None:
        assert got == NoSolution(Why.INFEASIBLE)
        return
    assert isinstance(got, Solved)
    assert not broken(problem, got.values)
    size = max(abs(one.most or 1) for one in problem.unknowns) or Decimal(1)
    assert float(got.price) == pytest.approx(float(wanted), rel=1e-9, abs=1e-8 * float(size))


@given(problems(most_lines=2))
@settings(max_examples=50, deadline=None)
def test_the_lowest_quotient_is_at_a_vertex_too(problem: Problem) -> None:
    """A quotient of two sums, its lower one above zero, is least at a vertex."""
    from tests.solver.vertices import vertices

    small = min(one.least or Decimal(0) for one in problem.unknowns)
    high = max(one.most or Decimal(0) for one in problem.unknowns)
    if small <= 0 or high > 100 * small:
        return
    under = {"a": Decimal(1), "b": Decimal(2), "c": Decimal(3)}
    every = [
        sum(float(problem.price[n]) * float(x) for n, x in zip(NAMES, at, strict=True))
        / sum(float(under[n]) * float(x) for n, x in zip(NAMES, at, strict=True))
        for at in vertices(problem)
    ]
    got = Highs().solve(quotient(problem, problem.price, under))
    if not every:
        assert isinstance(got, NoSolution)
        return
    assert isinstance(got, Solved)
    assert float(got.price) == pytest.approx(min(every), rel=1e-7, abs=1e-7)


@given(st.lists(st.integers(1, 9), min_size=3, max_size=3), st.integers(5, 40))
@settings(max_examples=30, deadline=None)
def test_whole_numbers_by_trying_them_all(costs: list[int], needed: int) -> None:
    """Bags of 3, 5 and 7: enough of them for the least money."""
    bags = dict(zip(NAMES, (3, 5, 7), strict=True))
    problem = Problem(
        tuple(Unknown(name, Decimal(0), Decimal(6), whole=True) for name in NAMES),
        (Line("enough", {k: Decimal(v) for k, v in bags.items()}, Decimal(needed)),),
        {name: Decimal(cost) for name, cost in zip(NAMES, costs, strict=True)},
    )
    every = [
        sum(cost * n for cost, n in zip(costs, taken, strict=True))
        for taken in product(range(7), repeat=3)
        if sum(bag * n for bag, n in zip(bags.values(), taken, strict=True)) >= needed
    ]
    got = Highs().solve(problem)
    assert isinstance(got, Solved)
    assert got.price == min(every)
    assert all(value == int(value) for value in got.values.values())


def test_nothing_that_ends_is_told_as_such() -> None:
    free = Problem((Unknown("a"),), (), {"a": Decimal(-1)})
    assert Highs().solve(free) == NoSolution(Why.UNBOUNDED)
    assert Highs().solve(Problem(())) == Solved({}, Decimal(0))
    nothing = Line("nothing is one", {"a": Decimal(0)}, Decimal(1))
    assert Highs().solve(Problem((Unknown("a"),), (nothing,))) == NoSolution(Why.INFEASIBLE)


def test_the_same_problem_has_the_same_answer() -> None:
    """Many are equally good: which one is told does not change."""
    names = [str(n) for n in range(30)]
    problem = Problem(
        tuple(Unknown(name) for name in names),
        (Line("all", dict.fromkeys(names, Decimal(1)), Decimal(7), Decimal(7)),),
        dict.fromkeys(names, Decimal(1)),
    )
    assert len({tuple(Highs().solve(problem).values.items()) for _ in range(3)}) == 1  # type: ignore[union-attr]


def test_time_that_runs_out_is_an_error_and_no_answer() -> None:
    names = [str(n) for n in range(40)]
    weights = {name: Decimal(100_003 + int(name) ** 3 * 17) for name in names}
    problem = Problem(
        tuple(Unknown(name, Decimal(0), Decimal(1), whole=True) for name in names),
        (Line("sum", weights, Decimal(9_999_999), Decimal(9_999_999)),),
        weights,
    )
    with pytest.raises(SolverError) as told:
        Highs(seconds=0.0).solve(problem)
    assert told.value.code == "solver-too-long"


@pytest.mark.parametrize(
    "said",
    [
        SimpleNamespace(status=4, message="Numerical difficulties", x=None),
        SimpleNamespace(status=0, message="", x=[5e8]),
    ],
)
def test_what_cannot_be_told_or_does_not_hold_is_an_error(
    said: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(highs._Table, "solve", lambda self, seconds, presolve: said)
    if said.x is not None:
        monkeypatch.setattr(highs._Table, "values", lambda self, x: {"a": Decimal("0.5")})
    with pytest.raises(SolverError) as told:
        Highs().solve(Problem((Unknown("a"),), (Line("one", {"a": Decimal(1)}, Decimal(1)),), {}))
    assert told.value.code == "solver-failed"


@pytest.mark.parametrize("huge", ["1e400", "1e200", "-1e320"])
def test_numbers_that_no_float_holds_are_an_error_and_no_crash(huge: str) -> None:
    line = Line("one", {"a": Decimal(huge), "b": Decimal("1e-300")}, Decimal(1), Decimal(2))
    problem = Problem((Unknown("a"), Unknown("b")), (line,), {"a": Decimal(1)})
    try:
        got = Highs().solve(problem)
    except SolverError as error:
        assert error.code == "solver-failed"
    else:
        assert isinstance(got, NoSolution) or not broken(problem, got.values)


@pytest.mark.parametrize(
    ("made", "said"),
    [
        (lambda: Problem((Unknown("a"), Unknown("a"))), "same name"),
        (lambda: Problem((Unknown("a", Decimal(2), Decimal(1)),)), "cannot be from 2 to 1"),
        (lambda: Problem((Unknown("a", Decimal("NaN")),)), "no end"),
        (lambda: Problem((), (Line("x", {"b": Decimal(1)}),)), "no unknown"),
        (lambda: Problem((Unknown("a"),), (), {"a": Decimal("Infinity")}), "no number"),
    ],
)
def test_a_problem_that_is_none_is_refused(made: Any, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        made()


def test_scipy_is_not_imported_before_it_is_needed() -> None:
    """The daemon starts without it."""
    code = (
        "import sys, weighd.cli.app, weighd.main.daemon, weighd.http.app, weighd.solver.highs\n"
        "weighd.solver.highs.Highs()\n"
        "assert not {'scipy', 'numpy'} & set(sys.modules)"
    )
    subprocess.run([sys.executable, "-c", code], check=True, timeout=60)
