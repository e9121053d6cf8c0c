"""A case of the settling benchmark: readings and the truth about them, and how one is made."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal

from benchmarks.settling_worlds import Pan, Scale, Shown, some_scale, weigh

#: The vessel stands this long before anything happens. The first readings, in which the filters
#: of the simulated scale fill, are not handed up.
READY_S = 2.2
WARM_S = 0.7
#: A claim is waited for this long after the last thing that happened.
AFTER_S = 6.0


@dataclass(frozen=True, slots=True)
class Case:
    """One addition with its truth.

    ``since``      when the last thing happened: the claim is timed from there.
    ``until``      the claim must stand until here.
    ``tolerance``  grams.
    """

    name: str
    scale: Scale
    pan: Pan
    shown: list[Shown]
    since: float
    until: float
    tolerance_g: Decimal


def tolerance(rng: random.Random, scale: Scale, grams: float) -> Decimal:
    """A share of the addition, but never below two intervals."""
    share = Decimal(str(round(grams * rng.choice((0.01, 0.02, 0.05)), 4)))
    return max(share, 2 * scale.d)


def amount(rng: random.Random, scale: Scale, low: float = 30, high: float = 4000) -> float:
    """An addition of so many intervals."""
    return float(scale.d) * low * (high / low) ** rng.random()


class Bench:
    """One case being made."""

    def __init__(self, rng: random.Random, seconds: float, scale: Scale | None = None) -> None:
        self.rng = rng
        self.scale = scale or some_scale(rng)
        self.d = float(self.scale.d)
        self.pan = Pan(seconds, rng, rng.uniform(200, 4000) * self.d)
        self.t = READY_S + rng.uniform(0, 0.5)
        self.start_g = rng.choice((0.0, 0.0, self.pan.vessel_g))
        self.fall_m = rng.choice((0.03, 0.1, 0.15, 0.3))

    def pour(self, grams: float, seconds: float | None = None, **more: float | bool) -> None:
        """A stream, from now on until it has landed."""
        seconds = seconds or self.rng.uniform(1.0, 6.0)
        rate = grams / seconds
        gurgle = more.pop("gurgle", self.rng.choice((0.0, 0.1, 0.3)))
        end = self.pan.stream(
            self.t, grams, rate, gurgle=gurgle, fall_m=self.fall_m,
            close_s=self.rng.uniform(0.05, 0.3), **more,  # type: ignore[arg-type]
        )  # fmt: skip
        self.pan.busy.append((self.t, end))
        self.t = end

    def lumps(self, count: int, grams: float, gap: Callable[[], float]) -> None:
        """Drops or taps, with gaps."""
        start, end = self.t, self.t
        for k in range(count):
            end = self.pan.lump(self.t, grams * self.rng.lognormvariate(0, 0.25), self.fall_m)
            self.t = end + (gap() if k < count - 1 else 0)
        self.pan.busy.append((start, end))
        self.t = end

    def done(self, name: str, grams: float) -> Case:
        """The readings of all that, waited out."""
        n = min(len(self.pan.on), round((self.t + AFTER_S + 0.5) / 0.005))
        pan = self.pan
        pan.landed, pan.push, pan.on, pan.other_g = (
            pan.landed[:n], pan.push[:n], pan.on[:n], pan.other_g[:n],
        )  # fmt: skip
        shown = [row for row in weigh(pan, self.scale, self.start_g) if row.t >= WARM_S]
        limit = tolerance(self.rng, self.scale, grams)
        return Case(name, self.scale, pan, shown, self.t, self.t + AFTER_S, limit)


Scenario = Callable[[random.Random], Case]
SCENARIOS: dict[str, Scenario] = {}


def scenario(make: Callable[[random.Random], tuple[Bench, float]]) -> Scenario:
    """Enter a scenario under its own name."""
    name = make.__name__.replace("_", " ")

    def case(rng: random.Random) -> Case:
        bench, grams = make(rng)
        return bench.done(name, grams)

    SCENARIOS[name] = case
    return case
