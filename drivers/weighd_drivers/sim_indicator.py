"""The electronics of a simulated scale: samples in, printed reports out.

A running mean with a delay, a zero that may follow a drift, rounding to the scale interval, the
scale's own idea of being stable, and the print: a layout of our own,

    status word, comma, sign, digits right-aligned in 9 characters, blank, unit, CR LF
    ``ST,+   1234.5 g``   stable
    ``MV,-      0.3 g``   moving
    ``OV,+ -------- g``   above capacity: no digits

or, without the status word, a blank or minus sign, the digits, a blank and the unit.
"""

from __future__ import annotations

import math
import random
from collections import deque
from decimal import Decimal

from weighd_drivers.sim_parameters import BenchParameters, Print

WIDTH = 9
#: Above capacity by more than this many intervals, a scale shows no digits.
BEYOND = 9
#: Fastest a zero follows, in intervals a second.
TRACKING = 0.5


def printed(grams: Decimal | None, *, stable: bool, layout: Print) -> bytes:
    """One report as bytes; ``None`` is above capacity.

    ``grams`` has the decimals to print. A zero carries no minus sign.
    """
    if grams is None:
        digits, minus = "-" * (WIDTH - 1), False
    else:
        shown = grams if layout.unit == "g" else grams.scaleb(-3)
        minus = shown < 0
        digits = format(abs(shown), "f").replace(".", layout.decimal)
    sign = "-" if minus else "+"
    if not layout.status:
        return f"{sign if minus else ' '}{digits:>{WIDTH}} {layout.unit}\r\n".encode("ascii")
    word = "OV" if grams is None else "ST" if stable else "MV"
    return f"{word},{sign}{digits:>{WIDTH}} {layout.unit}\r\n".encode("ascii")


class Indicator:
    """From the position of the pan to printed reports."""

    def __init__(self, parameters: BenchParameters, rng: random.Random) -> None:
        p = self._p = parameters
        self._rng = rng
        self._d = float(p.interval_g)
        self._limit = float(p.capacity_g) + BEYOND * self._d
        self._mean: deque[float] = deque(maxlen=max(1, round(p.filter_s * p.sample_hz)))
        self._sum = 0.0
        self._late: deque[float] = deque(maxlen=1 + round(p.delay_s * p.sample_hz))
        self._wander = 0.0
        self._zero = 0.0
        self._seen: deque[tuple[float, int]] = deque()
        self._last = -math.inf

    def sample(self, position_g: float) -> None:
        """One sample of the converter; ``position_g`` is where the pan is, in grams."""
        p, mean = self._p, self._mean
        if p.wander_g > 0:
            step = 1 / (p.sample_hz * p.wander_s)
            self._wander += -self._wander * step
            self._wander += p.wander_g * math.sqrt(2 * step) * self._rng.gauss(0, 1)
        value = position_g + self._wander + p.noise_g * self._rng.gauss(0, 1)
        if p.jump_g > 0 and mean and abs(value - self._sum / len(mean)) > p.jump_g:
            mean.clear()
            self._sum = 0.0
        if len(mean) == mean.maxlen:
            self._sum -= mean[0]
        mean.append(value)
        self._sum += value
        self._late.append(self._sum / len(mean))

    def zero(self) -> None:
        """What the scale shows now becomes its zero: the key, or being switched on."""
        self._zero = self._late[0] if self._late else 0.0
        self._seen.clear()

    def report(self, t: float) -> bytes:
        """What the scale prints at ``t``."""
        p, d = self._p, self._d
        value = (self._late[0] if self._late else 0.0) - self._zero
        counts = round(value / d)
        stable = self._stable(t, counts)
        if p.zero_tracking and stable and abs(value) <= d:
            most = TRACKING * d * min(1.0, t - self._last)
            self._zero += max(-most, min(most, value))
        self._last = t
        grams = None if value > self._limit else counts * p.interval_g
        return printed(grams, stable=stable, layout=p.printing)

    def _stable(self, t: float, counts: int) -> bool:
        seen = self._seen
        seen.append((t, counts))
        while len(seen) > 1 and seen[1][0] <= t - self._p.stable_s:
            seen.popleft()
        if t - seen[0][0] < self._p.stable_s * 0.999:
            return False
        values = [one for _, one in seen]
        return max(values) - min(values) <= self._p.stable_intervals
