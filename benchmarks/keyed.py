"""How often a scale's own key in mid-pour is noticed, and how often something else is taken for it.

    python -m benchmarks.keyed [--seeds 150]

The additions of ``benchmarks.settling`` (their worlds share no code with weighd), in none of which
the key is pressed in mid-pour, and four kinds of our own beside them. A display that starts at zero
is that of a vessel tared with the key, one that starts higher of a vessel tared on the page. The
floor: to ask whenever a display is at zero right after it was higher.
"""

from __future__ import annotations

import argparse
import random
from collections import Counter
from collections.abc import Callable
from decimal import Decimal

import benchmarks.settling_scenarios  # noqa: F401 - enters the scenarios
from benchmarks.settling_cases import SCENARIOS, Bench, Case, amount
from benchmarks.settling_worlds import some_scale
from weighd.domain.mass import Unit
from weighd.domain.reading import Reading
from weighd.domain.settling import Settling
from weighd.station.zero_watch import ZeroWatch

Made = tuple[Bench, float]


def the_key_in_mid_pour(rng: random.Random) -> Made:
    scale = some_scale(rng)
    bench, grams, seconds = Bench(rng, 40, scale), amount(rng, scale, 100), rng.uniform(1.5, 6)
    began = bench.t
    bench.pour(grams, seconds)
    bench.pan.tare_at.append(began + rng.uniform(0.4, 0.9) * seconds)
    return bench, grams


def a_hand_before_the_pour(rng: random.Random) -> Made:
    return _pressed(rng, rng.uniform(0.3, 3.0), 0.06 * rng.uniform(0.3, 1.5))


def a_lump_put_in_and_taken_out(rng: random.Random) -> Made:
    return _pressed(rng, rng.uniform(0.4, 1.2), 0.0)


def _pressed(rng: random.Random, seconds: float, tremor: float) -> Made:
    bench = Bench(rng, 40)
    bench.t += rng.uniform(0.3, 2)
    end = bench.t + seconds
    bench.pan.press(bench.t, end, bench.d * rng.uniform(50, 3000), tremor)
    bench.t = end + 0.5
    grams = amount(rng, bench.scale, 100)
    bench.pour(grams)
    return bench, grams


def lifted_in_mid_pour(rng: random.Random) -> Made:
    bench = Bench(rng, 40)
    grams, seconds = amount(rng, bench.scale, 100), rng.uniform(1.5, 6)
    began = bench.t
    bench.pour(grams, seconds)
    start = began + rng.uniform(0.4, 0.9) * seconds
    bench.pan.take_vessel(start, start + rng.uniform(1, 3))
    return bench, grams


OURS: tuple[Callable[[random.Random], Made], ...] = (
    the_key_in_mid_pour,
    a_hand_before_the_pour,
    a_lump_put_in_and_taken_out,
    lifted_in_mid_pour,
)


def asked(case: Case) -> tuple[bool, bool]:
    """Whether weighd asks in an addition, and whether the floor does."""
    d = case.scale.d
    detector, watch = Settling(d), ZeroWatch(lambda rows: {"decoder": {}, "readings": [
        one.as_evidence(d) for one in rows
    ]})  # fmt: skip
    tare, last = case.shown[0].grams or Decimal(0), Decimal(0)
    ours = floor = False
    for row in case.shown:
        reading = Reading(row.t, row.grams, Unit.G, row.stable, row.over, "", row.grams, b"x")
        room = max(Decimal("1.5") * d, Decimal(detector.spread_g))
        watch.take(reading, detector.feed(reading), d, room)
        if watch.jump is not None:
            jump = watch.jump
            watch.taken()
            empty = jump.after.level.grams - tare < -2 * d
            ours = ours or (jump.grows is not None and (jump.grows or not empty))
        if row.grams is not None:
            floor = floor or (abs(row.grams) <= room and last > 5 * d + 3 * room)
            last = row.grams
    return ours, floor


def _case_of(make: Callable[[random.Random], Made]) -> Callable[[random.Random], Case]:
    name = make.__name__.replace("_", " ")
    return lambda rng: make(rng)[0].done(name, 100.0)


def main() -> None:
    """Print the table."""
    given = argparse.ArgumentParser(description=__doc__)
    given.add_argument("--seeds", type=int, default=150)
    seeds = given.parse_args().seeds
    kinds: list[tuple[str, Callable[[random.Random], Case]]] = list(SCENARIOS.items())
    kinds += [(make.__name__.replace("_", " "), _case_of(make)) for make in OURS]
    told = Counter[str]()
    for name, kind in kinds:
        found = [asked(kind(random.Random(f"keyed/{name}/{seed}"))) for seed in range(seeds)]
        ours, floor = sum(one for one, _ in found), sum(one for _, one in found)
        if name == "the key in mid pour" or ours:
            print(f"| {name} | {ours} of {seeds} | {floor} |", flush=True)
        told["kinds"] += 1
        told["floor"] += floor
    print(f"{told['kinds']} kinds; the floor asks in {told['floor']} additions of all")


if __name__ == "__main__":
    main()
