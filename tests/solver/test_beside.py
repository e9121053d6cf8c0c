"""The solver in a process of its own: the same answers, and what befalls it befalls nobody else."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from decimal import Decimal

import pytest

from weighd.domain.errors import SolverError
from weighd.domain.problem import Line, Problem, Unknown
from weighd.solver.beside import Beside
from weighd.solver.highs import Highs

ONE = Decimal(1)


def problem(least: str) -> Problem:
    """Two amounts that weigh 10 together, at least so much of the dear one, at the lowest price."""
    unknowns = (Unknown("a"), Unknown("b"))
    lines = (
        Line("all", {"a": ONE, "b": ONE}, Decimal(10), Decimal(10)),
        Line("dear", {"a": ONE}, Decimal(least)),
    )
    return Problem(unknowns, lines, {"a": Decimal(2), "b": ONE})


@pytest.fixture(scope="module")
def solver() -> Iterator[Beside]:
    made = Beside()
    yield made
    made.close()


@pytest.mark.parametrize("least", ["3", "0.25", "11"])
def test_answers_are_those_of_the_solver_itself(solver: Beside, least: str) -> None:
    assert solver.solve(problem(least)) == Highs().solve(problem(least))


def test_what_it_cannot_tell_is_told_in_its_words(solver: Beside) -> None:
    huge = Problem((Unknown("a"),), (Line("x", {"a": Decimal("1e400")}, ONE),), {"a": ONE})
    told = []
    for one in (solver, Highs()):
        with pytest.raises(SolverError) as refused:
            one.solve(huge)
        told.append((refused.value.code, refused.value.message, refused.value.remedy))
    assert told[0] == told[1]


def test_one_that_dies_is_told_of_and_another_is_started(solver: Beside) -> None:
    solver.solve(problem("3"))
    assert solver._process is not None
    before = solver._process.pid
    os.kill(before, signal.SIGSTOP)
    short = solver._longest_s
    solver._longest_s = 0.2
    with pytest.raises(SolverError) as refused:
        solver.solve(problem("3"))
    solver._longest_s = short
    assert refused.value.code == "solver-too-long"
    assert solver.solve(problem("3")) == Highs().solve(problem("3"))
    assert solver._process.pid != before
    os.kill(solver._process.pid, signal.SIGKILL)
    solver._process.wait()
    assert solver.solve(problem("3")) == Highs().solve(problem("3"))


def test_it_ends_a_while_after_the_last_problem() -> None:
    solver = Beside(idle_s=0.05)
    solver.solve(problem("3"))
    ends = time.monotonic() + 10
    while solver._process is not None and time.monotonic() < ends:
        time.sleep(0.02)
    assert solver._process is None
    solver.close()


def test_nothing_of_scipy_comes_into_the_process_that_asks() -> None:
    script = (
        "import sys; from weighd.solver.beside import Beside; from decimal import Decimal as D;"
        "from weighd.domain.problem import Problem, Unknown;"
        "s = Beside(); s.solve(Problem((Unknown('a', D(1)),), (), {'a': D(1)})); s.close();"
        "print([one for one in ('scipy', 'numpy') if one in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "[]"
