"""How long it takes to find amounts for targets, beside the same problem given raw to scipy.

    python benchmarks/solve.py [--repeat 10] [--ingredients 30]

The floor gives scipy's ``linprog`` (HiGHS) arrays that are ready made: no Decimal, no scaling, no
check of the answer, and the right piece of the freezing curve known beforehand. Its answer is held
against ours. Ingredients are drawn from a seed out of the compositions that ship; targets are those
of a mix of some of them, so that they can be met.
"""

from __future__ import annotations

import argparse
import random
import sys
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

if __name__ == "__main__":  # run from a checkout, without being installed
    _ROOT = Path(__file__).resolve().parent.parent
    sys.path[:0] = [str(_ROOT), str(_ROOT / "drivers")]

import numpy as np
from scipy.optimize import linprog

from benchmarks.timing import fastest
from weighd.domain.composition import compose
from weighd.domain.conflict import conflict
from weighd.domain.contents import row_of
from weighd.domain.formula import Ingredient
from weighd.domain.freezing import PIECES, freezing
from weighd.domain.limits import Limit, value_of
from weighd.domain.mix_lines import thawings
from weighd.domain.mix_search import Mixing, scan_mix, solve_mix
from weighd.domain.problem import Problem, Solved, Unknown
from weighd.domain.wishes import Wishes, changed, hard
from weighd.main.shipped import read_shipped_table
from weighd.solver.highs import Highs

BATCH_G = Decimal(2400)
SHARES = ("fat", "msnf", "sugars", "total_solids")
POINT = ("freezing_point",)


def drawn(count: int, seed: int) -> tuple[dict[str, Ingredient], dict[str, Decimal]]:
    """So many ingredients under names of their own, and the grams of a mix of all of them."""
    chance = random.Random(seed)
    table = [one for one in read_shipped_table().values() if one.facts and not _vague(one)]
    pool = {f"{n}": chance.choice(table) for n in range(count)}
    # Enough milk that it freezes where the published table reaches.
    pool |= {"milk": read_shipped_table()["usda-01077"]}
    parts = {name: Decimal(chance.randint(1, 100)) for name in pool} | {"milk": Decimal(50 * count)}
    whole = sum(parts.values())
    return pool, {name: one * BATCH_G / whole for name, one in parts.items()}


def _vague(one: Ingredient) -> bool:
    """Whether facts are missing, or its sugars are of a kind not known: it freezes at a range."""
    return any(key == "sucrose_equivalent" for key, _ in row_of(one.facts).spread)


def asked(pool: dict[str, Ingredient], mix_g: dict[str, Decimal], *, cold: bool) -> Wishes:
    """The targets that this mix meets, a little wide."""
    mix = compose((pool[name], grams) for name, grams in mix_g.items())
    limits = []
    for of in (*((one,) for one in SHARES), *([POINT] if cold else [])):
        value, _ = value_of(of, mix, freezing(mix), None)
        assert value is not None
        room = abs(value.low) / 200
        limits.append(Limit(of, value.low - room, value.high + room, ""))
    rows = {name: row_of(one.facts) for name, one in pool.items()}
    return Wishes(rows, tuple(Unknown(name) for name in pool), tuple(limits), BATCH_G)


def raw(problem: Problem) -> Callable[[], float]:
    """The problem as arrays, ready for scipy; calling it solves it."""
    place = {one.name: n for n, one in enumerate(problem.unknowns)}
    price = np.zeros(len(place))
    for name, weight in problem.price.items():
        price[place[name]] = float(weight)
    above, above_ends, same, same_ends = [], [], [], []
    for line in problem.lines:
        row = np.zeros(len(place))
        for name, weight in line.weights.items():
            row[place[name]] = float(weight)
        if line.least is not None and line.least == line.most:
            same.append(row)
            same_ends.append(float(line.least))
            continue
        if line.most is not None:
            above.append(row)
            above_ends.append(float(line.most))
        if line.least is not None:
            above.append(-row)
            above_ends.append(-float(line.least))
    ends = [(float(one.least or 0), None if one.most is None else float(one.most))
            for one in problem.unknowns]  # fmt: skip
    a, b, c, d = (np.array(one) for one in (above, above_ends, same, same_ends))

    def solve() -> float:
        got = linprog(price, A_ub=a, b_ub=b, A_eq=c, b_eq=d, bounds=ends, method="highs")
        assert got.status == 0, got.message
        return float(got.fun)

    return solve


def on_its_piece(mixing: Mixing, found: Solved) -> Problem:
    """The one problem that had to be solved, of those that the pieces of the curve make."""
    assert mixing.band is not None
    ends, lines = thawings(mixing.band, mixing.rows)
    [one] = ends
    water = sum(one.water.get(name, 0) * found.values[name] for name in mixing.rows)
    sugar = sum(one.sucrose.get(name, 0) * found.values[name] for name in mixing.rows)
    piece = next(each for each in PIECES if sugar * 100 / water <= each.to_g + Decimal("1e-6"))
    return mixing.problem.also(*lines, *one.lines(piece))


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", 1)[0])
    parser.add_argument("--repeat", type=int, default=10)
    parser.add_argument("--ingredients", type=int, default=30)
    options = parser.parse_args()
    solver = Highs()
    pool, mix_g = drawn(options.ingredients - 1, seed=options.ingredients)
    chance = random.Random(7)
    present = {
        name: grams * Decimal(chance.randint(50, 150)) / 100 for name, grams in mix_g.items()
    }
    print(f"{len(pool)} ingredients; raw: scipy's linprog, arrays ready made\n")
    print(f"{'':<34} {'ours, ms':>9} {'raw, ms':>8} {'ratio':>6}")
    for label, cold in (("four shares, nearest", False), ("and the freezing point", True)):
        mixing = changed(asked(pool, mix_g, cold=cold), present)
        found = solve_mix(solver, mixing)
        assert isinstance(found, Solved), found
        problem = on_its_piece(mixing, found) if cold else mixing.problem
        floor = raw(problem)
        assert abs(floor() - float(found.price)) < 1e-5 * max(1.0, float(found.price))
        took = fastest(lambda: solve_mix(solver, mixing), options.repeat)  # noqa: B023
        least = fastest(floor, options.repeat)
        row(label, took, least)
        if cold:
            every = fastest(lambda: scan_mix(solver, mixing), 1)  # noqa: B023
            row("  by trying all 60 pieces", every, least)
    fights(solver, asked(pool, mix_g, cold=True), options.repeat)


def fights(solver: Highs, wishes: Wishes, repeat: int) -> None:
    """What cannot be had, and why: as many solves as it takes to tell."""
    first, *rest = wishes.limits
    assert first.most is not None
    greedy = replace(first, least=Decimal(95), most=Decimal(96))
    wrong = replace(wishes, limits=(greedy, *rest))
    least = fastest(raw(hard(wishes, {"milk": Decimal(1)}).problem), repeat)
    took = fastest(lambda: conflict(solver, wrong), max(1, repeat // 3))
    row("what fights, of eleven wishes", took, least)


def row(label: str, took: float, least: float) -> None:
    """A line of the table."""
    print(f"{label:<34} {took * 1e3:9.1f} {least * 1e3:8.1f} {took / least:6.1f}")


if __name__ == "__main__":
    main()
