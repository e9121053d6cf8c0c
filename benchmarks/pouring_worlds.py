"""Kitchens to pour in: a stream that gurgles, a hand that takes its time, a scale that lags.

Everything is drawn from a seed. ``plain`` kitchens are near one another: ten readings a second, a
filter of a third of a second. ``wide`` ones differ in all: 2 to 80 readings a second, five kinds of
filter, intervals from a hundredth to a fifth of a second of flow, noise, jitter, lost readings,
cooks who throttle much or little. All ranges are our own guesses. Scales and their filters are
those of ``settling_worlds``; nothing is shared with the simulated bench of the drivers.
"""

from __future__ import annotations

import math
import random
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal

from benchmarks.settling_worlds import DT, STEPS, Chain, Scale

RATES_HZ = (2.0, 3.0, 4.0, 5.0, 8.0, 10.0, 10.0, 12.5, 20.0, 40.0, 80.0)


@dataclass(frozen=True, slots=True)
class Cook:
    """A pair of hands. Times in seconds; shares of the full flow."""

    reaction_s: float
    reaction_spread: float
    close_s: float
    throttle: float
    throttle_spread: float

    def reacts(self, rng: random.Random) -> float:
        """Seconds from a cue to the hand beginning to move."""
        return self.reaction_s * math.exp(self.reaction_spread * rng.gauss(0, 1))


@dataclass(frozen=True, slots=True)
class Stuff:
    """What is poured: full flow in g/s, its gurgling, the fall, and whether the fall pushes."""

    name: str
    flow_g_s: float
    gurgle: str
    depth: float
    hz: float
    drift: float
    fall_s: float
    pushes: bool


@dataclass(frozen=True, slots=True)
class Kitchen:
    """One session: a scale, a cook, and what is poured in turn."""

    scale: Scale
    cook: Cook
    stuffs: tuple[Stuff, ...]
    #: Whether the display starts at zero for every pour, and the clock too.
    tared: bool
    clock_restarts: bool
    #: Pour times at full flow, in seconds.
    shortest_s: float
    longest_s: float


class Gurgle:
    """The flow as a share of itself: one on average."""

    def __init__(self, stuff: Stuff, rng: random.Random) -> None:
        self._stuff, self._rng = stuff, rng
        self._phase = rng.uniform(0, math.tau)
        self._slow = self._fast = 0.0
        self._until, self._level = 0.0, 1.0

    def step(self, t: float) -> float:
        """The share in the next ``DT``."""
        one, rng = self._stuff, self._rng
        if one.drift:
            self._slow += -self._slow * DT / 3 + one.drift * math.sqrt(2 * DT / 3) * rng.gauss(0, 1)
        match one.gurgle:
            case "none":
                swing = 0.0
            case "sine":
                self._phase += math.tau * one.hz * DT * (1 + 0.6 * rng.gauss(0, 1))
                swing = one.depth * math.sin(self._phase)
            case "wobble":
                tau = 1 / (math.tau * one.hz)
                self._fast += -self._fast * DT / tau
                self._fast += one.depth * math.sqrt(2 * DT / tau) * rng.gauss(0, 1)
                swing = self._fast
            case _:  # gulps: on and off, each of its own length
                if t >= self._until:
                    up = self._level < 1
                    self._until = t + rng.uniform(0.6, 1.4) * 0.5 / one.hz
                    self._level = 1 + one.depth if up else 1 - one.depth
                swing = self._level - 1
        return max(0.0, 1 + self._slow + swing)


def a_cook(rng: random.Random, *, wide: bool) -> Cook:
    """A cook."""
    if not wide:
        return Cook(rng.uniform(0.23, 0.27), 0.25, rng.uniform(0.08, 0.14), 0.3, 0.05)
    return Cook(
        rng.uniform(0.20, 0.34),
        rng.uniform(0.18, 0.32),
        rng.uniform(0.05, 0.25),
        rng.uniform(0.2, 0.5),
        rng.uniform(0.02, 0.08),
    )


def a_stuff(rng: random.Random, k: int, d: float, *, wide: bool) -> Stuff:
    """Something to pour; its full flow in a second is 30 to 1000 intervals."""
    if not wide:
        flow = d * 10 ** rng.uniform(2.2, 2.8)
        fall = rng.uniform(0.1, 0.16)
        beat = rng.uniform(1.5, 2.5)
        return Stuff(f"stuff {k}", flow, "sine", 0.4, beat, 0.03, fall, pushes=False)
    return Stuff(
        f"stuff {k}",
        d * 10 ** rng.uniform(1.5, 3.0),
        rng.choice(("none", "sine", "sine", "wobble", "gulps")),
        rng.uniform(0.2, 0.6),
        rng.uniform(1.0, 3.5),
        rng.choice((0.0, 0.03, 0.08)),
        rng.uniform(0.08, 0.2),
        rng.random() < 0.4,
    )


def a_scale(rng: random.Random, *, wide: bool) -> Scale:
    """A scale."""
    if not wide:
        mean = ("mean", rng.uniform(0.25, 0.35), 0.0)
        return Scale(rate_hz=10.0, jitter=0.05, filters=(mean,), delay_s=0.03, flag="none")
    kind = rng.choice(("mean", "mean", "low", "low2", "median", "none"))
    filters: tuple[tuple[str, float, float], ...] = {
        "mean": (("mean", rng.uniform(0.15, 0.8), 0.0),),
        "low": (("low", rng.uniform(0.05, 0.3), 0.0),),
        "low2": (("low", rng.uniform(0.04, 0.15), 0.0), ("low", rng.uniform(0.04, 0.15), 0.0)),
        "median": (("median", rng.choice((9, 25, 45)), 0.0), ("mean", rng.uniform(0.1, 0.3), 0.0)),
        "none": (),
    }[kind]
    return Scale(
        d=rng.choice(STEPS[1:8]),
        rate_hz=rng.choice(RATES_HZ),
        jitter=rng.uniform(0.0, 0.2),
        missed=rng.choice((0.0, 0.0, 0.02)),
        filters=filters,
        delay_s=rng.uniform(0.0, 0.15),
        noise_d=rng.choice((0.02, 0.1, 0.3, 0.6)),
        wander_d=rng.uniform(0.0, 0.15),
        hysteresis_d=rng.choice((0.0, 0.0, 0.2)),
        flag="none",
    )


def plain(rng: random.Random) -> Kitchen:
    """A kitchen like many."""
    scale = a_scale(rng, wide=False)
    return Kitchen(
        scale,
        a_cook(rng, wide=False),
        (a_stuff(rng, 1, float(scale.d), wide=False),),
        tared=True,
        clock_restarts=False,
        shortest_s=4.0,
        longest_s=10.0,
    )


def wide(rng: random.Random) -> Kitchen:
    """A kitchen unlike the last."""
    scale = a_scale(rng, wide=True)
    d = float(scale.d)
    return Kitchen(
        scale,
        a_cook(rng, wide=True),
        tuple(a_stuff(rng, k, d, wide=True) for k in range(rng.choice((1, 1, 2, 3)))),
        tared=rng.random() < 0.5,
        clock_restarts=rng.random() < 0.3,
        shortest_s=2.5,
        longest_s=12.0,
    )


WORLDS: dict[str, Callable[[random.Random], Kitchen]] = {"plain": plain, "wide": wide}


class Bench:
    """A bowl under a hand, on a scale; stepped by ``DT``, read when a reading is due."""

    def __init__(self, scale: Scale, stuff: Stuff, cook: Cook, rng: random.Random, on_g: float):
        self.t, self.landed_g, self.spilling = 0.0, 0.0, 0.0
        self.hand = 0.0
        self.wish = 0.0
        self.scale, self.stuff, self.cook, self._rng = scale, stuff, cook, rng
        self._on_g = on_g
        self._chain = Chain(scale)
        self._gurgle = Gurgle(stuff, rng)
        self._falling = deque([0.0] * (1 + round(stuff.fall_s / DT)))
        self._hiss = self._wander = 0.0
        self._due = rng.uniform(0.2, 1.0) / scale.rate_hz
        self._held: Decimal | None = None

    @property
    def falling_g(self) -> float:
        """Grams between the jug and the bowl."""
        return sum(self._falling) * DT

    def step(self) -> Decimal | None:
        """Go on by ``DT``; a display when one is due."""
        scale, rng, stuff = self.scale, self._rng, self.stuff
        self.t += DT
        move = DT / self.cook.close_s
        self.hand += min(max(self.wish - self.hand, -move), move)
        out = stuff.flow_g_s * self.hand * self._gurgle.step(self.t)
        self._falling.append(out)
        now = self._falling.popleft()
        self.landed_g += now * DT
        push = now * stuff.fall_s if stuff.pushes else 0.0
        d = float(scale.d)
        self._hiss += -self._hiss * DT / 0.08
        self._hiss += scale.noise_d * d * math.sqrt(2 * DT / 0.08) * rng.gauss(0, 1)
        step = DT / scale.wander_s
        self._wander += -self._wander * step
        self._wander += scale.wander_d * d * math.sqrt(2 * step) * rng.gauss(0, 1)
        pure = self._chain.step(self._on_g + self.landed_g + push)
        if self.t < self._due:
            return None
        period = max(0.2, 1 + scale.jitter * rng.gauss(0, 1)) / scale.rate_hz
        self._due += period
        if rng.random() < scale.missed:
            return None
        value = pure + self._hiss + self._wander
        grams = round(value / d) * scale.d
        if self._held is not None and abs(value - float(self._held)) < d * (
            0.5 + scale.hysteresis_d
        ):
            grams = self._held
        self._held = grams
        return grams
