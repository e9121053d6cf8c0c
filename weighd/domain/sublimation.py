"""How fast what stands on a scale wastes away, and how much to weigh out for later.

A straight line is laid through displays at rest, by least squares. Its slope is uncertain by the
spread of the displays about it, with neighbours counted as alike as they are, and by rounding: two
ends that are each rounded to the interval. Over a few minutes dry ice loses mass evenly enough; a
line is not trusted for longer than it was watched several times over, nor once a fifth is lost.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise

from weighd.domain.reading import Reading

#: A line takes this many displays over this long, in seconds.
FEWEST, SHORTEST_S = 8, 10.0
#: Carried on for no longer than so many times what was watched.
AHEAD = 10
#: Once so much of it would be lost, a straight line is no longer told.
MOST_LOST = 0.2
#: The loss counts as seen when it is this many standard uncertainties.
SURE = 3.0
#: A display that steps by more intervals than this from one reading to the next, beyond what was
#: lost meanwhile, was touched: then the line begins anew, after what the scale takes to follow.
TOUCHED_D, FOLLOWS_S = Decimal(5), 2.0
#: So many displays in a row, each of them off, are another load; fewer are misread.
CONFIRMED = 3
#: No load of dry ice wastes away by more than this, in grams a second (a guess).
FASTEST_G_S = Decimal("0.5")
#: A record keeps so many readings of a line.
EVIDENCE = 40
#: What is watched: the last two minutes, and no more displays than this.
WATCHED_S, MOST = 120.0, 1200


@dataclass(frozen=True, slots=True)
class Waste:
    """A steady loss: ``grams`` at ``t`` seconds, ``rate_g_min`` above zero for a loss, and their
    standard uncertainties. ``seconds`` is how long it was watched."""

    t: float
    grams: float
    u_grams: float
    rate_g_min: float
    u_rate_g_min: float
    seconds: float

    @property
    def seen(self) -> bool:
        """Whether it is a loss beyond doubt."""
        return self.rate_g_min > SURE * self.u_rate_g_min

    def at(self, t: float) -> tuple[float, float]:
        """Grams at a moment, and how uncertain that is."""
        minutes = (t - self.t) / 60
        return (
            self.grams - self.rate_g_min * minutes,
            math.hypot(self.u_grams, self.u_rate_g_min * minutes),
        )


@dataclass(frozen=True, slots=True)
class WeighOut:
    """To have ``wanted_g`` in ``wait_s`` seconds, weigh out ``grams`` now; ``u_g`` is what the
    mass at the moment of use is uncertain by."""

    wanted_g: float
    wait_s: float
    grams: float
    lost_g: float
    u_g: float


def waste(points: Sequence[tuple[float, Decimal]], interval_g: Decimal) -> Waste | None:
    """The loss over displays ``(seconds, grams)`` at rest, oldest first; ``None`` for too few, or
    for too short a time to tell."""
    n = len(points)
    if n < FEWEST or points[-1][0] - points[0][0] < SHORTEST_S:
        return None
    # About the newest moment and the first display, so that floats keep their digits.
    base, last = points[0][1], points[-1][0]
    times = [t - last for t, _ in points]
    grams = [float(shown - base) for _, shown in points]
    mean_t, mean_g = math.fsum(times) / n, math.fsum(grams) / n
    spread_t = math.fsum((t - mean_t) ** 2 for t in times)
    slope = math.fsum((t - mean_t) * (g - mean_g) for t, g in zip(times, grams, strict=True))
    slope /= spread_t
    rest = [g - mean_g - slope * (t - mean_t) for t, g in zip(times, grams, strict=True)]
    squares = math.fsum(r * r for r in rest)
    alike = _alike(rest, squares)
    variance = squares / (n - 2) * (1 + alike) / (1 - alike)
    span, step = last - points[0][0], float(interval_g)
    rounding = step / math.sqrt(6) / span
    u_slope = math.hypot(math.sqrt(variance / spread_t), rounding)
    u_now = math.hypot(
        math.sqrt(variance * (1 / n + mean_t * mean_t / spread_t)), step / math.sqrt(12)
    )
    now = float(base) + mean_g - slope * mean_t
    return Waste(last, now, u_now, -60 * slope, 60 * u_slope, span)


def _alike(rest: Sequence[float], squares: float) -> float:
    """How alike neighbours are, 0 to 0.95."""
    if squares <= 0:
        return 0.0
    return min(max(math.fsum(a * b for a, b in pairwise(rest)) / squares, 0.0), 0.95)


class LossWatch:
    """Watches one load on one scale for a steady loss; a load that is changed begins anew."""

    def __init__(self, interval_g: Decimal) -> None:
        """Raises ``ValueError`` for an interval that is not above zero."""
        if not interval_g > 0:
            raise ValueError(f"an interval is above zero, not {interval_g}")
        self.interval_g = interval_g
        self._points: deque[tuple[float, Decimal, Reading | None]] = deque(maxlen=MOST)
        self._last: tuple[float, Decimal] | None = None
        self._from = -math.inf
        #: Displays in a row that do not go on from the last one.
        self._off = 0

    def feed(self, t: float, grams: Decimal | None, reading: Reading | None = None) -> None:
        """Take a display in; ``None`` for one without a number. ``reading`` is kept as evidence.

        One display that is off decides nothing: it is left out. Several of them are another load.
        """
        last = self._last
        if last is not None and grams is not None and self._goes_on(last, t, grams):
            self._off = 0
            self._last = (t, grams)
        elif last is not None and self._off < CONFIRMED - 1 and 0 <= t - last[0] < WATCHED_S:
            self._off += 1
            return
        else:
            self.restart()
            if grams is not None:
                self._last, self._from = (t, grams), t + FOLLOWS_S
            return
        if t < self._from:
            return
        self._points.append((t, grams, reading))
        while self._points[0][0] < t - WATCHED_S:
            self._points.popleft()

    def _goes_on(self, last: tuple[float, Decimal], t: float, grams: Decimal) -> bool:
        """Whether a display may be of the same load: time that runs back belongs to another
        session, and a long gap may hide anything. Reports that came together have one time."""
        since, before = last
        return 0 <= t - since < WATCHED_S and not self._touched(grams - before, t - since)

    def _touched(self, change: Decimal, seconds: float) -> bool:
        slack = TOUCHED_D * self.interval_g
        fallen = FASTEST_G_S * Decimal(str(seconds))
        return change > slack or change < -slack - fallen

    def restart(self) -> None:
        """Forget what was seen: something else stands there."""
        self._points.clear()
        self._last, self._off = None, 0

    def waste(self) -> Waste | None:
        """The loss so far; ``None`` while it cannot be told."""
        return waste([(t, grams) for t, grams, _ in self._points], self.interval_g)

    def evidence(self) -> list[Reading]:
        """Some of the readings on the line, evenly chosen, the first and the newest among them."""
        kept = [one for _, _, one in self._points if one is not None]
        if len(kept) <= EVIDENCE:
            return kept
        last = len(kept) - 1
        return [kept[round(n * last / (EVIDENCE - 1))] for n in range(EVIDENCE)]


def weigh_out(seen: Waste, wanted_g: float, wait_s: float) -> WeighOut | None:
    """What to weigh out now; ``None`` where the line does not reach so far. The loss is taken to be
    in proportion to the amount where that is larger than what was watched.

    Raises ``ValueError`` for an amount that is not above zero or a wait below it.
    """
    if not (math.isfinite(wanted_g) and wanted_g > 0 and math.isfinite(wait_s) and wait_s >= 0):
        raise ValueError("an amount above zero and a wait from zero are needed")
    if wait_s > AHEAD * seen.seconds:
        return None
    times = max(1.0, wanted_g / seen.grams) if seen.grams > 0 else 1.0
    rate = max(seen.rate_g_min, 0.0) * times
    lost = rate * wait_s / 60
    if lost > MOST_LOST * (wanted_g + lost):
        return None
    u = math.hypot(seen.u_grams, seen.u_rate_g_min * times * wait_s / 60)
    return WeighOut(wanted_g, wait_s, wanted_g + lost, lost, u)
