"""Small worlds to weigh in: what lands on a pan, and scales of many makes-up that show it.

These simulators share nothing with the simulated bench of the drivers. All ranges are our own
guesses, wide on purpose: a detector that lives in all of them was fitted to none. Floats are
right here, this is physics; what a scale shows is handed up in exact decimals.

A ``Pan`` is what happened on a grid of ``DT`` seconds; a ``Scale`` turns it into readings.
"""

from __future__ import annotations

import math
import random
from collections import deque
from dataclasses import dataclass, field
from decimal import Decimal

DT = 0.005
GRAVITY = 9.81
STEPS = [Decimal(one) for one in ("0.01", "0.02", "0.05", "0.1", "0.2", "0.5", "1", "2", "5")]


@dataclass(slots=True)
class Scale:
    """One scale. Times in seconds, masses in grams unless said to be in intervals (``_d``)."""

    d: Decimal = Decimal("0.1")
    rate_hz: float = 10.0
    jitter: float = 0.05
    missed: float = 0.0
    #: Filters in order: ("mean", s), ("low", tau), ("median", samples), ("snap", s, jump_d).
    filters: tuple[tuple[str, float, float], ...] = (("mean", 0.3, 0.0),)
    delay_s: float = 0.05
    ring_hz: float = 0.0
    #: Spread of what is left of noise after the filters, and of a slow wander.
    noise_d: float = 0.1
    wander_d: float = 0.1
    wander_s: float = 8.0
    #: Display: intervals it holds its value against, and readings a new value must last.
    hysteresis_d: float = 0.0
    flicker: int = 0
    #: Flag: "none", "honest", "lags", "lies", "early".
    flag: str = "honest"
    flag_s: float = 0.5
    zero_tracking: bool = False
    creep: float = 0.0
    max_g: float = 1e9
    #: From this moment on the display has another interval: the unit was changed.
    other_from: float = 1e9
    other_d: Decimal = Decimal("0.1")


def some_scale(rng: random.Random, d: Decimal | None = None) -> Scale:
    """A scale as may be found: filters, lags, noise and flag drawn widely."""
    kind = rng.choice(("mean", "mean", "low", "low2", "median", "snap"))
    length = rng.uniform(0.15, 0.6)
    filters: tuple[tuple[str, float, float], ...]
    match kind:
        case "mean":
            filters = (("mean", length, 0.0),)
        case "low":
            filters = (("low", rng.uniform(0.05, 0.2), 0.0),)
        case "low2":
            filters = (("low", rng.uniform(0.04, 0.1), 0.0), ("low", rng.uniform(0.04, 0.1), 0.0))
        case "median":
            filters = (("median", rng.choice((5, 9, 15)), 0.0), ("mean", length / 2, 0.0))
        case _:
            filters = (("snap", length * 1.5, rng.choice((5.0, 20.0))),)
    return Scale(
        d=d or rng.choice((*STEPS[1:7], Decimal("0.1"), Decimal("0.1"), Decimal(1))),
        rate_hz=rng.choice((4.0, 5.0, 8.0, 10.0, 10.0, 10.0, 12.5, 20.0, 40.0)),
        jitter=rng.uniform(0.0, 0.2),
        missed=rng.choice((0.0, 0.0, 0.02)),
        filters=filters,
        delay_s=rng.uniform(0.0, 0.15),
        ring_hz=rng.choice((0.0, 0.0, rng.uniform(6.0, 20.0))),
        noise_d=rng.choice((0.02, 0.05, 0.1, 0.2, 0.3)),
        wander_d=rng.uniform(0.0, 0.15),
        wander_s=rng.uniform(4.0, 20.0),
        hysteresis_d=rng.choice((0.0, 0.0, 0.2)),
        flag=rng.choice(("none", "honest", "honest", "lags")),
        flag_s=rng.uniform(0.3, 1.0),
        creep=rng.choice((0.0, 0.0001)),
    )


@dataclass(slots=True)
class Pan:
    """What happens on the pan for ``seconds``: filled by a scenario, then weighed.

    ``landed``  grams of the addition landing in each step (less than zero: taken out).
    ``push``    force in grams of what is falling or pressing, in each step.
    ``on``      share of the vessel's weight that rests on the pan, in each step.
    ``busy``    stretches (from, to) in which something of the addition is still to come.
    ``bad``     disturbances (from, to, kind); no claim is right there.
    """

    seconds: float
    rng: random.Random
    vessel_g: float
    landed: list[float] = field(init=False)
    push: list[float] = field(init=False)
    on: list[float] = field(init=False)
    other_g: list[float] = field(init=False)
    busy: list[tuple[float, float]] = field(default_factory=list)
    bad: list[tuple[float, float, str]] = field(default_factory=list)
    tare_at: list[float] = field(default_factory=list)
    silent: list[tuple[float, float]] = field(default_factory=list)
    sums: list[float] = field(default_factory=list)

    def __post_init__(self) -> None:
        n = round(self.seconds / DT)
        self.landed, self.push, self.other_g = [0.0] * n, [0.0] * n, [0.0] * n
        self.on = [1.0] * n

    def _at(self, t: float) -> int:
        return min(max(0, round(t / DT)), len(self.landed) - 1)

    def stream(
        self,
        t: float,
        grams: float,
        rate: float,
        *,
        gurgle: float = 0.0,
        gurgle_hz: float = 2.5,
        close_s: float = 0.12,
        fall_m: float = 0.15,
        solid: bool = False,
    ) -> float:
        """Pour ``grams`` at about ``rate`` g/s from ``t``; gives when the last of it landed."""
        rng, fall_s = self.rng, math.sqrt(2 * fall_m / GRAVITY)
        flow, slow, phase, left, i = 0.0, 0.0, rng.uniform(0, 6.28), grams, self._at(t)
        closing = rate * close_s
        while left > 0 and i < len(self.landed):
            target = rate if left > closing else rate * max(0.03, left / closing)
            flow += (target - flow) * min(1.0, DT / (0.3 * close_s + DT))
            phase += math.tau * gurgle_hz * DT * rng.uniform(0.7, 1.3)
            slow += -slow * DT / 0.3 + math.sqrt(2 * DT / 0.3) * rng.gauss(0, 1)
            swing = max(0.0, 1 + gurgle * (0.7 * slow + 0.7 * math.sin(phase)))
            if solid:  # powder comes in slides
                swing *= rng.choice((0.0, 0.4, 1.0, 2.5))
            part = min(left, flow * swing * DT)
            left -= part
            self.landed[i] += part
            self.push[i] += part / DT * fall_s
            i += 1
        return i * DT

    def lump(self, t: float, grams: float, fall_m: float = 0.1) -> float:
        """A drop or a tap of a spoon lands over a twentieth of a second."""
        speed = math.sqrt(2 * fall_m / GRAVITY)
        for k in range(10):
            self.landed[self._at(t + k * DT)] += grams / 10
            self.push[self._at(t + k * DT)] += grams / 10 / DT * speed
        return t + 10 * DT

    def take_vessel(self, t0: float, t1: float, *, way_s: float = 0.2) -> None:
        """The vessel is off the pan from ``t0``, and stands again at ``t1``."""
        for i in range(self._at(t0), self._at(t1 + way_s)):
            now = i * DT
            share = max(0.0, 1 - (now - t0) / way_s) if now < t1 else (now - t1) / way_s
            self.on[i] = min(self.on[i], max(0.0, min(1.0, share)))

    def press(self, t0: float, t1: float, grams: float, tremor: float) -> None:
        """A hand or a spoon rests on the pan; its force never is quite steady."""
        slow, fast, rise = 0.0, 0.0, 0.12
        for i in range(self._at(t0), self._at(t1)):
            now = i * DT
            share = min(1.0, (now - t0) / rise, (t1 - now) / rise)
            slow += -slow * DT / 0.4 + math.sqrt(2 * DT / 0.4) * self.rng.gauss(0, 1)
            fast += -fast * DT / 0.03 + math.sqrt(2 * DT / 0.03) * self.rng.gauss(0, 1)
            self.push[i] += share * grams * (1 + tremor * (0.8 * slow + 0.6 * fast))

    def bump(self, t: float, grams: float, hz: float = 7.0, decay_s: float = 0.2) -> None:
        """A knock that rings out."""
        for i in range(self._at(t), self._at(t + 8 * decay_s)):
            since = i * DT - t
            self.push[i] += grams * math.exp(-since / decay_s) * math.sin(math.tau * hz * since)

    def shake(self, t0: float, t1: float, grams: float, hz: float) -> None:
        """A mixer beside the scale: an unsteady hum."""
        phase, size = 0.0, 1.0
        for i in range(self._at(t0), self._at(t1)):
            phase += math.tau * hz * DT * self.rng.uniform(0.9, 1.1)
            size += (1 - size) * DT + 0.3 * math.sqrt(DT) * self.rng.gauss(0, 1)
            self.push[i] += grams * size * math.sin(phase)

    def amounts(self) -> list[float]:
        """The addition so far, true grams, in each step."""
        if not self.sums:
            total = 0.0
            for part in self.landed:
                total += part
                self.sums.append(total)
        return self.sums

    def amount(self, t: float) -> float:
        """The addition so far at ``t``, true grams."""
        return self.amounts()[self._at(t)]


@dataclass(frozen=True, slots=True)
class Shown:
    """One reading: what ``weighd settle`` is given. ``clean`` (unrounded, free of noise, with the
    scale's filter) and ``rest`` (what it tends to) are for the oracle only."""

    t: float
    grams: Decimal | None
    stable: bool | None
    over: bool
    clean: float
    rest: float


class Chain:
    """The filters of a scale, one sample of ``DT`` at a time."""

    def __init__(self, scale: Scale) -> None:
        self.d = float(scale.d)
        self.parts = [(*one, deque[float](), [0.0, 0.0]) for one in scale.filters]
        self.late: deque[float] = deque([0.0] * (1 + round(scale.delay_s / DT)))
        self.started = False

    def step(self, value: float) -> float:
        if not self.started:
            self.started = True
            self.late = deque([value] * len(self.late))
            for kind, _, _, _, state in self.parts:
                if kind == "low":
                    state[0] = value
        for kind, a, b, window, state in self.parts:
            if kind == "low":
                state[0] += (value - state[0]) * DT / (a + DT)
                value = state[0]
            elif kind == "median":
                window.append(value)
                if len(window) > a:
                    window.popleft()
                value = sorted(window)[len(window) // 2]
            else:
                if kind == "snap" and window and abs(value - state[0] / len(window)) > b * self.d:
                    window.clear()
                    state[0] = 0.0
                window.append(value)
                state[0] += value
                if len(window) > a / DT:
                    state[0] -= window.popleft()
                value = state[0] / len(window)
        self.late.append(value)
        return self.late.popleft()


def weigh(pan: Pan, scale: Scale, start_g: float = 0.0) -> list[Shown]:
    """What ``scale`` shows of ``pan``. ``start_g`` is its display with the vessel on at first."""
    rng, d = pan.rng, float(scale.d)
    chain, hiss = Chain(scale), 0.0
    omega, pos, speed = math.tau * scale.ring_hz, pan.vessel_g, 0.0
    zero = pan.vessel_g - start_g
    wander = scale.wander_d * d * rng.gauss(0, 1)
    crept = pan.vessel_g * scale.creep
    due = rng.uniform(0.1, 1.0) / scale.rate_hz
    seen: deque[tuple[float, Decimal]] = deque()
    held: Decimal | None = None
    waiting, out = 0, list[Shown]()
    sums = pan.amounts()
    tares = sorted(pan.tare_at)
    dark = False
    for i, on in enumerate(pan.on):
        t = i * DT
        rest = on * (pan.vessel_g + sums[i] + pan.other_g[i])
        force = rest + on * pan.push[i] if on < 1 else rest + pan.push[i]
        if omega:
            speed += (omega * omega * (force - pos) - 0.5 * omega * speed) * DT
            pos += speed * DT
        else:
            pos = force
        crept += (scale.creep * rest - crept) * DT / 60
        step = DT / scale.wander_s
        wander += -wander * step + scale.wander_d * d * math.sqrt(2 * step) * rng.gauss(0, 1)
        hiss += -hiss * DT / 0.08 + scale.noise_d * d * math.sqrt(2 * DT / 0.08) * rng.gauss(0, 1)
        pure = chain.step(pos + crept) - zero
        value = pure + wander + hiss
        was_dark, dark = dark, any(a <= t < b for a, b in pan.silent)
        if (tares and t >= tares[0]) or (was_dark and not dark):
            del tares[: bool(tares and t >= tares[0])]
            zero, pure, value, held = zero + value, pure - value, 0.0, None
        if t < due:
            continue
        period = (1 + scale.jitter * rng.gauss(0, 1)) / scale.rate_hz
        due = max(due + period, t + 0.2 / scale.rate_hz)
        if dark or rng.random() < scale.missed:
            continue
        step_d = scale.d if t < scale.other_from else scale.other_d
        if scale.zero_tracking and abs(value) < d:
            zero += value * 0.1
        grams = round(value / float(step_d)) * step_d
        if held is not None and grams != held:
            near = abs(value - float(held)) < float(step_d) * (0.5 + scale.hysteresis_d)
            waiting += 1
            if near or (scale.flicker and waiting < scale.flicker and abs(grams - held) <= step_d):
                grams = held
            else:
                waiting = 0
        held = grams
        over = value > scale.max_g
        shown = None if over else grams
        stable = _flag(scale, seen, t, grams, rng)
        out.append(Shown(round(t, 4), shown, stable, over, pure, rest + crept - zero))
    return out


def _flag(
    scale: Scale,
    seen: deque[tuple[float, Decimal]],
    t: float,
    grams: Decimal,
    rng: random.Random,
) -> bool | None:
    if scale.flag == "none":
        return None
    if scale.flag == "lies":
        return rng.random() < 0.7
    wait = {"honest": scale.flag_s, "lags": 2 * scale.flag_s, "early": 0.15}[scale.flag]
    seen.append((t, grams))
    while len(seen) > 1 and seen[1][0] <= t - wait:
        seen.popleft()
    if t - seen[0][0] < 0.95 * wait:
        return False
    values = [one for _, one in seen]
    return max(values) - min(values) <= scale.d
