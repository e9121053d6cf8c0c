"""How long a composition takes, beside plain sums over the same mix.

    python benchmarks/compose.py [--repeat 200]

The floor multiplies and adds five columns (water, fat, milk solids-not-fat, sugars, other solids)
in floats: what a table of figures does, with no word of what is missing, no freezing and no exact
decimals. Mixes are drawn from a seed out of the compositions that ship.
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
from weighd.domain.composition import compose
from weighd.domain.formula import Ingredient
from weighd.domain.freezing import freezing
from weighd.main.shipped import read_shipped_table

COLUMNS = ("water", "fat", "msnf", "sugars", "other_solids")
CURVE = tuple(Decimal(one) for one in (-4, -5, -6, -8, -10, -12, -14, -18))
CASES = (8, 30, 200)


def drawn(count: int, seed: int) -> list[tuple[Ingredient, Decimal]]:
    """A mix of so many ingredients."""
    chance = random.Random(seed)
    table = list(read_shipped_table().values())
    picked = [chance.choice(table) for _ in range(count)]
    return [(one, Decimal(chance.randint(1, 200000)) / 100) for one in picked]


def plain(mix: list[tuple[tuple[float, ...], float]]) -> list[float]:
    """Five columns, multiplied and added."""
    sums = [0.0] * len(COLUMNS)
    for shares, mass in mix:
        for column, share in enumerate(shares):
            sums[column] += share * mass
    return sums


def shares(one: Ingredient) -> tuple[float, ...]:
    """An ingredient's five columns, a gram of it."""
    assert one.facts is not None
    stated = {key: float(value) / 100 for key, value in one.facts.stated}
    stated["sugars"] = sum(float(value) / 100 for _, value in one.facts.sugars or ())
    return tuple(stated.get(column, 0.0) for column in COLUMNS)


def curve(mix: list[tuple[Ingredient, Decimal]]) -> list[object]:
    """Composition, and ice at eight temperatures."""
    frozen = freezing(compose(mix))
    return [end.frozen(at) for end in (frozen.thin, frozen.thick) if end for at in CURVE]


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", 1)[0])
    parser.add_argument("--repeat", type=int, default=200)
    repeat = parser.parse_args().repeat
    print(
        f"{'ingredients':>11} {'compose, ms':>11} {'and freeze':>11} {'floor, ms':>9} {'ratio':>6}"
    )
    for count in CASES:
        mix = drawn(count, seed=count)
        floats = [(shares(one), float(mass)) for one, mass in mix]
        took = fastest(lambda: compose(mix), repeat)  # noqa: B023
        frozen = fastest(lambda: curve(mix), repeat)  # noqa: B023
        least = fastest(lambda: plain(floats), repeat)  # noqa: B023
        print(
            f"{count:11} {took * 1e3:11.3f} {frozen * 1e3:11.3f} {least * 1e3:9.4f} "
            f"{took / least:6.1f}"
        )


if __name__ == "__main__":
    main()
