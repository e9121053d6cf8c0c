"""A small kitchen for closed-loop tests: a jug that glugs, a cook who reacts, a scale that lags.

It shares nothing with the benchmark's worlds: the stream comes in pulses, the display is smoothed
reading by reading, the hand does whatever the cue said one reaction ago.
"""

from __future__ import annotations

import math
import random
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from weighd.cli.cue import Cues
from weighd.domain.mass import Unit
from weighd.domain.reading import Reading

STEP_S = 0.01


@dataclass(frozen=True)
class Kitchen:
    """Seconds and g/s; ``keeps`` is the share of the old display that a new one keeps."""

    flow: float = 48.0
    hz: float = 10.0
    d: Decimal = Decimal("0.1")
    keeps: float = 0.6
    fall_s: float = 0.15
    reaction_s: float = 0.25
    spread: float = 0.2
    glug_s: float = 0.4
    depth: float = 0.35
    throttle: float = 0.3
    heeds: bool = True
    noise_d: float = 0.1


@dataclass(frozen=True)
class Pour:
    """How one pour went: error in seconds of full flow, and every cue with its time."""

    error_s: float
    cues: tuple[str, ...]
    landing_off_s: float
    sigma_s: float


def pours(
    kitchen: Kitchen, seed: int, count: int, cues: Cues, *, ingredient: str = "milk"
) -> Iterator[Pour]:
    """So many pours in a row, the display tared for each."""
    rng = random.Random(seed)
    for _ in range(count):
        yield _pour(kitchen, rng, cues, ingredient)


def _pour(kitchen: Kitchen, rng: random.Random, cues: Cues, ingredient: str) -> Pour:
    target = round(kitchen.flow * rng.uniform(4, 9), 1)
    cues.reset(
        {
            "interval_g": str(kitchen.d),
            "tolerance_g": "1",
            "target_g": str(target),
            "ingredient": ingredient,
            "cook": "Ada",
        }
    )
    falling = deque([0.0] * round(kitchen.fall_s / STEP_S))
    orders: list[tuple[float, float]] = [(rng.uniform(0.5, 1.5), 1.0)]
    hand = bowl = shown = 0.0
    told: list[str] = []
    stop: tuple[float, float, float] | None = None
    due, glug, until = 0.1, rng.uniform(0, math.tau), 60.0
    t = 0.0
    while t < until:
        t += STEP_S
        while orders and orders[0][0] <= t:
            hand = orders.pop(0)[1]
        glug += math.tau * STEP_S / kitchen.glug_s * (1 + 0.5 * rng.gauss(0, 1))
        pulse = 1 + kitchen.depth * math.copysign(1, math.sin(glug))
        falling.append(hand * kitchen.flow * pulse * STEP_S)
        bowl += falling.popleft()
        if t < due:
            continue
        due += rng.uniform(0.9, 1.1) / kitchen.hz
        shown = kitchen.keeps * shown + (1 - kitchen.keeps) * bowl
        noisy = shown + rng.gauss(0, kitchen.noise_d) * float(kitchen.d)
        grams = round(noisy / float(kitchen.d)) * kitchen.d
        answer = cues.answer(Reading(round(t, 3), grams, Unit.G))
        cue = str(answer["cue"])
        if told and cue != told[-1] and stop is None:
            reaction = kitchen.reaction_s * math.exp(kitchen.spread * rng.gauss(0, 1))
            wish = {"slow": kitchen.throttle if kitchen.heeds else 1.0, "stop": 0.0}.get(cue, 1.0)
            orders = [one for one in orders if one[0] < t + reaction]
            orders.append((t + reaction, wish))
        if cue == "stop" and stop is None:
            stop = (t, float(answer["landing_g"]), float(answer["sigma_g"]))
            until = t + 4.0
        told.append(cue)
    assert stop is not None
    return Pour(
        (bowl - target) / kitchen.flow,
        tuple(told),
        (bowl - stop[1]) / kitchen.flow,
        stop[2] / kitchen.flow,
    )
