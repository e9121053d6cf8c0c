"""What happens at a bench: scenarios for the settling benchmark, each drawn from a seed.

A scenario takes a source of chance and gives a ``Case``: the readings, and the truth about them.
"""

from __future__ import annotations

import random
from dataclasses import replace
from decimal import Decimal

from benchmarks.settling_cases import SCENARIOS, Bench, amount, scenario
from benchmarks.settling_worlds import Scale, some_scale

__all__ = ["SCENARIOS"]


def _plain(rng: random.Random, scale: Scale | None = None, **more: float) -> tuple[Bench, float]:
    bench = Bench(rng, 24, scale)
    grams = amount(rng, bench.scale)
    bench.pour(grams, **more)
    return bench, grams


@scenario
def a_steady_pour(rng: random.Random) -> tuple[Bench, float]:
    return _plain(rng, gurgle=0.0)


@scenario
def a_gurgling_pour(rng: random.Random) -> tuple[Bench, float]:
    return _plain(rng, gurgle=rng.uniform(0.4, 0.8), gurgle_hz=rng.uniform(1.2, 3))


@scenario
def a_long_pour(rng: random.Random) -> tuple[Bench, float]:
    bench = Bench(rng, 40)
    grams = amount(rng, bench.scale, 1000, 20000)
    bench.pour(grams, rng.uniform(10, 22))
    return bench, grams


@scenario
def a_pour_with_drops(rng: random.Random) -> tuple[Bench, float]:
    bench, grams = _plain(rng)
    bench.t += rng.uniform(0.1, 0.5)
    bench.lumps(rng.randint(1, 6), bench.d * rng.uniform(0.3, 3), lambda: rng.expovariate(3))
    return bench, grams


@scenario
def a_thin_stream(rng: random.Random) -> tuple[Bench, float]:
    bench = Bench(rng, 40)
    rate, seconds = bench.d * 2 ** rng.uniform(0.5, 4), rng.uniform(5, 15)
    bench.pour(rate * seconds, seconds)
    return bench, rate * seconds


@scenario
def a_pour_tailing_off(rng: random.Random) -> tuple[Bench, float]:
    bench, grams = _plain(rng)
    slow = grams / 8
    for _ in range(3):
        bench.pour(max(slow, bench.d), rng.uniform(0.5, 1.5))
        slow /= 2.5
    bench.pan.busy = [(bench.pan.busy[0][0], bench.t)]
    return bench, grams


@scenario
def drop_by_drop(rng: random.Random) -> tuple[Bench, float]:
    bench, mean = Bench(rng, 40), rng.uniform(0.2, 0.7)
    count, size = rng.randint(6, 20), bench.d * rng.uniform(0.6, 6)
    bench.lumps(count, size, lambda: mean * rng.lognormvariate(0, 0.35))
    return bench, count * size


@scenario
def taps_of_a_spoon(rng: random.Random) -> tuple[Bench, float]:
    bench, mean = Bench(rng, 40), rng.uniform(0.4, 1.0)
    count, size = rng.randint(4, 12), bench.d * rng.uniform(3, 40)
    bench.lumps(count, size, lambda: mean * rng.lognormvariate(0, 0.3))
    return bench, count * size


@scenario
def slides_of_powder(rng: random.Random) -> tuple[Bench, float]:
    bench = Bench(rng, 40)
    grams, count = amount(rng, bench.scale), rng.randint(2, 6)
    start = bench.t
    for k in range(count):
        bench.pour(grams / count, rng.uniform(0.3, 1.5), solid=True)
        bench.t += rng.uniform(0.1, 0.6) if k < count - 1 else 0
    bench.pan.busy = [(start, bench.t)]
    return bench, grams


@scenario
def a_tiny_addition(rng: random.Random) -> tuple[Bench, float]:
    bench, grams = Bench(rng, 20), 0.0
    grams = bench.d * rng.uniform(1.6, 3.5)
    bench.lumps(1, grams, lambda: 0.3)
    return bench, grams


@scenario
def a_bag_emptied(rng: random.Random) -> tuple[Bench, float]:
    return _plain(rng, seconds=rng.uniform(0.25, 0.7))


@scenario
def poured_then_topped_up(rng: random.Random) -> tuple[Bench, float]:
    bench, grams = _plain(rng)
    bench.t += rng.uniform(2.0, 4.0)
    bench.pour(grams / rng.uniform(5, 20), rng.uniform(0.5, 2))
    return bench, grams


@scenario
def some_taken_out(rng: random.Random) -> tuple[Bench, float]:
    bench, grams = _plain(rng)
    bench.t += rng.uniform(1.5, 3.0)
    start, end = bench.t, bench.t + rng.uniform(0.4, 1.0)
    bench.pan.press(start, end, 10 * bench.d + grams / 50, 0.3)
    bench.pan.landed[bench.pan._at(end - 0.05)] -= grams / rng.uniform(8, 20)
    bench.pan.bad.append((start, end, "spoon"))
    bench.t = end
    return bench, grams


def _lifted(rng: random.Random, *, swap: bool = False) -> tuple[Bench, float]:
    bench = Bench(rng, 40)
    grams = amount(rng, bench.scale, 100)
    bench.pour(grams / 2)
    bench.t += rng.uniform(0.3, 2.5)
    off, back = bench.t, bench.t + rng.uniform(1.0, 4.0)
    bench.pan.take_vessel(off, back)
    bench.pan.bad.append((off, back + 0.2, "lift"))
    bench.t = back + 0.2
    if swap:
        other = rng.choice((-0.4, 0.3, 0.8)) * bench.pan.vessel_g
        for i in range(bench.pan._at(back), len(bench.pan.other_g)):
            bench.pan.other_g[i] = other
        bench.pan.bad.append((back, 1e9, "swap"))
        return bench, grams
    if rng.random() < 0.7:
        bench.t += rng.uniform(0.5, 2.0)
        bench.pour(grams / 2)
    return bench, grams


@scenario
def lifted_and_put_back(rng: random.Random) -> tuple[Bench, float]:
    return _lifted(rng)


@scenario
def the_vessel_swapped(rng: random.Random) -> tuple[Bench, float]:
    return _lifted(rng, swap=True)


@scenario
def lifted_at_once(rng: random.Random) -> tuple[Bench, float]:
    bench, grams = _plain(rng)
    bench.t += rng.uniform(0.0, 0.6)
    off, back = bench.t, bench.t + rng.uniform(1.5, 4.0)
    bench.pan.take_vessel(off, back)
    bench.pan.bad.append((off, back + 0.2, "lift"))
    bench.t = back + 0.2
    return bench, grams


@scenario
def a_vessel_set_down(rng: random.Random) -> tuple[Bench, float]:
    """Reset on an empty pan: setting the vessel down is the addition (a check of a vessel)."""
    bench = Bench(rng, 24)
    bench.pan.vessel_g, grams = 0.0, amount(rng, bench.scale, 300)
    bench.start_g = 0.0
    steps = round(rng.uniform(0.1, 0.4) / 0.005)
    at = bench.pan._at(bench.t)
    for k in range(steps):
        bench.pan.landed[at + k] += grams / steps
    bench.pan.busy.append((bench.t, bench.t + steps * 0.005))
    bench.t += steps * 0.005
    return bench, grams


def _touched(
    rng: random.Random, grams_d: tuple[float, float], tremor: float
) -> tuple[Bench, float]:
    bench, grams = _plain(rng)
    bench.t += rng.choice((0.05, rng.uniform(0.3, 2.0)))
    end = bench.t + rng.uniform(0.8, 4.0)
    force = bench.d * rng.uniform(*grams_d)
    bench.pan.press(bench.t, end, force, tremor * rng.uniform(0.7, 1.5))
    bench.pan.bad.append((bench.t, end, "touch"))
    bench.t = end
    return bench, grams


@scenario
def a_hand_on_the_pan(rng: random.Random) -> tuple[Bench, float]:
    return _touched(rng, (100, 3000), 0.06)


@scenario
def a_spoon_resting(rng: random.Random) -> tuple[Bench, float]:
    return _touched(rng, (15, 150), 0.08)


@scenario
def a_bump(rng: random.Random) -> tuple[Bench, float]:
    bench, grams = _plain(rng)
    bench.t += rng.uniform(0.0, 2.0)
    bench.pan.bump(bench.t, bench.d * rng.uniform(20, 600), rng.uniform(4, 12), 0.15)
    bench.t += 0.6
    return bench, grams


@scenario
def a_mixer_beside(rng: random.Random) -> tuple[Bench, float]:
    bench = Bench(rng, 24)
    grams = amount(rng, bench.scale, 100)
    bench.pan.shake(0, 24, bench.d * rng.uniform(1, 15), rng.uniform(6, 25))
    bench.pour(grams)
    return bench, grams


@scenario
def a_fan(rng: random.Random) -> tuple[Bench, float]:
    scale = replace(some_scale(rng), wander_d=rng.uniform(0.4, 0.9), wander_s=rng.uniform(0.7, 2))
    return _plain(rng, scale)


@scenario
def the_tare_key(rng: random.Random) -> tuple[Bench, float]:
    scale = some_scale(rng)
    if scale.rate_hz < 5:
        scale = replace(scale, rate_hz=8.0)
    bench = Bench(rng, 40, scale)
    grams = amount(rng, scale, 100)
    bench.pour(grams / 2)
    bench.t += rng.uniform(1.5, 4)
    bench.pan.tare_at.append(bench.t)
    if rng.random() < 0.7:
        bench.t += rng.uniform(0.5, 2)
        bench.pour(grams / 2)
    return bench, grams


@scenario
def asleep_and_awake(rng: random.Random) -> tuple[Bench, float]:
    bench = Bench(rng, 50)
    grams = amount(rng, bench.scale, 100)
    bench.pour(grams / 2)
    asleep = bench.t + rng.uniform(2, 4)
    bench.t = asleep + rng.uniform(3, 10)
    bench.pan.silent.append((asleep, bench.t))
    if rng.random() < 0.7:
        bench.t += rng.uniform(1, 2)
        bench.pour(grams / 2)
    return bench, grams


@scenario
def overloaded(rng: random.Random) -> tuple[Bench, float]:
    bench, grams = _plain(rng)
    bench.scale = replace(bench.scale, max_g=bench.start_g + grams * 1.4)
    bench.t += rng.uniform(0.3, 2)
    end = bench.t + rng.uniform(0.5, 2)
    bench.pan.press(bench.t, end, grams * rng.uniform(0.5, 1), 0.03)
    bench.pan.bad.append((bench.t, end, "overload"))
    bench.t = end
    return bench, grams


@scenario
def a_creeping_scale(rng: random.Random) -> tuple[Bench, float]:
    bench, grams = _plain(rng)
    bench.scale = replace(bench.scale, creep=rng.uniform(1, 4) * bench.d / grams)
    return bench, grams


@scenario
def a_load_that_steams_away(rng: random.Random) -> tuple[Bench, float]:
    bench, grams = _plain(rng)
    lost = bench.d * rng.uniform(0.02, 0.2) * 0.005
    for i in range(bench.pan._at(bench.t), len(bench.pan.landed)):
        bench.pan.landed[i] -= lost
    return bench, grams


@scenario
def another_unit(rng: random.Random) -> tuple[Bench, float]:
    bench, grams = _plain(rng)
    other = bench.scale.d * Decimal(rng.choice(("1.41747616", "2.8349523", "4.5")))
    at = rng.choice((0.5 * bench.t, bench.t + rng.uniform(-0.3, 2)))
    bench.scale = replace(bench.scale, other_from=at, other_d=other)
    bench.t = max(bench.t, at)
    return bench, grams


def _on(rng: random.Random, **changes: object) -> tuple[Bench, float]:
    return _plain(rng, replace(some_scale(rng), **changes))  # type: ignore[arg-type]


@scenario
def a_zero_that_is_tracked(rng: random.Random) -> tuple[Bench, float]:
    """Poured on a display at zero, which the scale keeps there against slow changes."""
    bench, grams = _plain(rng, replace(some_scale(rng), zero_tracking=True))
    bench.start_g = 0.0
    return bench, grams


@scenario
def a_slow_display(rng: random.Random) -> tuple[Bench, float]:
    return _on(rng, rate_hz=rng.uniform(2, 3.5))


@scenario
def a_fast_display(rng: random.Random) -> tuple[Bench, float]:
    return _on(rng, rate_hz=rng.uniform(50, 80))


@scenario
def a_coarse_scale(rng: random.Random) -> tuple[Bench, float]:
    return _plain(rng, replace(some_scale(rng, rng.choice((Decimal(2), Decimal(5))))))


@scenario
def a_fine_scale_in_a_draught(rng: random.Random) -> tuple[Bench, float]:
    scale = some_scale(rng, Decimal("0.01"))
    return _plain(rng, replace(scale, noise_d=rng.uniform(0.5, 1.2), wander_d=0.3))


@scenario
def a_display_that_clings(rng: random.Random) -> tuple[Bench, float]:
    return _on(rng, hysteresis_d=rng.uniform(0.2, 0.4), flicker=rng.randint(2, 4))


@scenario
def a_flag_that_lies(rng: random.Random) -> tuple[Bench, float]:
    return _on(rng, flag=rng.choice(("lies", "early")))


@scenario
def a_sluggish_filter(rng: random.Random) -> tuple[Bench, float]:
    tau = rng.uniform(0.2, 0.45)
    kinds = ((("low", tau, 0.0),), (("mean", 3 * tau, 0.0),), (("low", tau / 2, 0.0),) * 2)
    return _on(rng, filters=rng.choice(kinds))
