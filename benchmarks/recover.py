"""How long it takes to work out what can be done about an over-pour, beside scipy alone.

    python benchmarks/recover.py [--repeat 10] [--ingredients 30]

Half of the ingredients are in, the next is over by half, the rest is still to come. The floor
gives scipy's ``linprog`` (HiGHS) the smallest addition as arrays that are ready made, with the
right piece of the freezing curve known beforehand: no Decimal, no scaling, no weighings saved,
nothing rounded or checked. Its answer is held against ours.
"""

from __future__ import annotations

import argparse
import random
import sys
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

if __name__ == "__main__":  # run from a checkout, without being installed
    _ROOT = Path(__file__).resolve().parent.parent
    sys.path[:0] = [str(_ROOT), str(_ROOT / "drivers")]

from benchmarks.solve import drawn, raw
from benchmarks.timing import fastest
from weighd.domain.batch import Accepted, Batch, Planned, Scale
from weighd.domain.formula import Addition, Formula, read_tolerance
from weighd.domain.metrology import Rule, Verdict
from weighd.domain.mix_search import solve_mix
from weighd.domain.problem import Solved
from weighd.domain.recovery import State, Trouble, Way, state_of
from weighd.domain.recovery_options import Asked, options
from weighd.domain.recovery_ranges import planned_mix, wanted
from weighd.domain.recovery_search import Allowed, Found, pinned_at, search, stated
from weighd.solver.highs import Highs

TENTH = Decimal("0.1")
OVER = Decimal("1.5")


def poured(count: int, seed: int) -> State:
    """A batch of so many ingredients, half of them in, with half too much of the next."""
    pool, grams = drawn(count - 1, seed)
    names = sorted(pool, key=lambda name: random.Random(f"{seed}{name}").random())
    tolerance = read_tolerance("1 %, at least 0.5 g")
    additions = tuple(
        Addition(
            replace(pool[name], id=f"i{name}"), grams[name].quantize(Decimal("0.1")), tolerance
        )
        for name in names
        if grams[name] >= Decimal("0.1")
    )
    formula = Formula("drawn", "Drawn", additions)
    planned = tuple(
        Planned(
            n, it.ingredient.id, it.ingredient.name, it.target_g, *it.band, tolerance.text, "bench"
        )
        for n, it in enumerate(additions, start=1)
    )
    nothing = Decimal(0)
    half = tuple(
        Accepted(it.n, it.target_g, nothing, Verdict.ON_TARGET, "", "", it.n, "")
        for it in planned[: len(planned) // 2]
    )
    batch = Batch(
        "bench-0001",
        {"id": "drawn", "content": formula.content()},
        formula.batch_g,
        "nobody",
        "",
        Rule(),
        {"bench": Scale("bench", "none", Decimal("0.1"))},
        planned,
        accepted=half,
    )
    return state_of(batch, Trouble.OVER, planned[len(half)].target_g * OVER)


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--repeat", type=int, default=10)
    parser.add_argument("--ingredients", type=int, default=30)
    given = parser.parse_args()
    solver = Highs()
    print("| ingredients | every way, ms | smallest addition, ms | raw, ms | ratio |")
    print("|---|---|---|---|---|")
    for count in (8, given.ingredients):
        print(measured(poured_and_to_be_put_right(count, solver), solver, given.repeat))


def measured(state: State, solver: Highs, repeat: int) -> str:
    """A row of the table."""
    limits, _ = wanted(planned_mix(state), {}, "")
    alone = stated(state, limits, Allowed())
    found = solve_mix(solver, alone)
    assert isinstance(found, Solved)
    floor = raw(pinned_at(alone, found).problem)
    assert abs(floor() - float(found.price)) < 1e-2, (floor(), found.price)
    every = fastest(lambda: options(state, Asked(), {}, solver), repeat)
    one = fastest(lambda: search(state, Way.REBALANCE, limits, Allowed(), solver), repeat)
    bare = fastest(floor, repeat)
    cells = (len(state.stuffs), *(f"{it * 1e3:.2g}" for it in (every, one, bare)))
    return f"| {' | '.join(map(str, cells))} | {one / bare:.1f} |"


def poured_and_to_be_put_right(count: int, solver: Highs) -> State:
    """The first drawn batch that leaves its limits, and that an addition can bring back."""
    for seed in range(1, 500):
        state = poured(count, seed)
        limits, _ = wanted(planned_mix(state), {}, "")
        found = search(state, Way.REBALANCE, limits, Allowed(), solver, explain=False)
        if isinstance(found, Found) and found.change.wholes != state.goals:
            return state
    raise SystemExit("no such batch was drawn")


if __name__ == "__main__":
    main()
