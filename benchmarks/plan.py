"""How long a weighing plan takes to find, beside the least that has to be done for one.

    python benchmarks/plan.py [--repeat 5]

The floor asks of every amount, once for every scale, whether that scale can judge it: a planner
that looks at all of them cannot do less. Formulas and scales are drawn from a seed. The largest
case is beyond any kitchen: a formula of as many additions as are allowed, on 64 scales no two of
which are alike.
"""

from __future__ import annotations

import argparse
import random
import sys
from decimal import Decimal
from pathlib import Path

if __name__ == "__main__":  # run from a checkout, without being installed
    _ROOT = Path(__file__).resolve().parent.parent
    sys.path[:0] = [str(_ROOT), str(_ROOT / "drivers")]

from benchmarks.timing import fastest
from weighd.domain import fitness
from weighd.domain.accuracy import Accuracy
from weighd.domain.batch import Scale
from weighd.domain.metrology import Rule
from weighd.domain.plan import Vessels, Want
from weighd.domain.plan_search import best_plan

CASES = ((8, 1), (8, 2), (30, 2), (30, 8), (200, 8), (200, 64))
RULE, VESSELS = Rule(), Vessels(Decimal(800), Decimal(60), Decimal(1500))


def drawn(additions: int, scales: int, seed: int) -> tuple[list[Want], list[Scale]]:
    """A formula and a bench."""
    chance = random.Random(seed)
    wanted = []
    for n in range(1, additions + 1):
        target = Decimal(chance.choice((2, 5, 20, 80, 300, 900)))
        half = target * Decimal(chance.choice(("0.01", "0.02", "0.05")))
        name = f"Ingredient {n}"
        wanted.append(Want(n, f"i{n}", name, target, target - half, target + half, str(half)))
    bench = []
    for n in range(scales):
        d, most = chance.choice((("0.01", 500), ("0.1", 3000), ("1", 15000)))
        stated = Accuracy(repeatability_g=Decimal(n) / 10_000)  # no two alike
        bench.append(Scale(f"s{n}", "none", Decimal(d), Decimal(most), stated))
    return wanted, bench


def floor(wanted: list[Want], scales: list[Scale]) -> int:
    """How many pairs of amount and scale go together."""
    return sum(
        fitness.share(scale, RULE, one.low_g, one.high_g) <= 1 for one in wanted for scale in scales
    )


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", 1)[0])
    parser.add_argument("--repeat", type=int, default=5)
    repeat = parser.parse_args().repeat
    print(
        f"{'additions':>9} {'scales':>6} {'plan, ms':>9} {'floor, ms':>9} {'ratio':>6} {'moves':>5}"
    )
    for additions, scales in CASES:
        wanted, bench = drawn(additions, scales, seed=additions + scales)
        plan = best_plan(wanted, bench, RULE, VESSELS)
        took = fastest(lambda: best_plan(wanted, bench, RULE, VESSELS), repeat)  # noqa: B023
        least = fastest(lambda: floor(wanted, bench), repeat)  # noqa: B023
        print(
            f"{additions:9} {scales:6} {took * 1e3:9.2f} {least * 1e3:9.2f} {took / least:6.1f} "
            f"{plan.moves:5}"
        )


if __name__ == "__main__":
    main()
