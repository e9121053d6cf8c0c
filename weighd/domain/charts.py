"""Control charts of single values, and how a process stands to its limits.

A chart answers whether a process is steady: whether what is seen is its usual scatter, or something
has changed. Whether its scatter is small enough for what is allowed is another question, which the
capability answers.

Sources: limits by the mean moving range, with d2(2) = 2/√π = 1.128 and D4(2) = 3.267 (exact for
normal values; the same in every handbook, e.g. NIST/SEMATECH e-Handbook of Statistical Methods,
6.3.2.2, from memory); run rules of AT&T, *Statistical Quality Control Handbook* (1956), by way of
public summaries that were read, and a trend of six (L. S. Nelson, J. Qual. Technol. 16 (1984) 237,
from memory); the interval of a capability index: A. F. Bissell, Appl. Statist. 39 (1990) 331 (from
memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise
from math import pi, sqrt
from statistics import NormalDist, fmean, stdev

#: Mean range of two, and how far ranges of two reach, for normal values of standard deviation 1.
D2 = 2 / sqrt(pi)
D4 = 1 + 3 * sqrt(2 - 4 / pi) / D2
#: Fewer values than this say little of the limits (common practice, no source).
FEW = 20
_SURE = NormalDist().inv_cdf(0.975)


class Rule(StrEnum):
    """What makes a value, with those before it, stand out."""

    BEYOND = "one beyond 3 sigma"
    TWO_OF_THREE = "2 of 3 beyond 2 sigma, on one side"
    FOUR_OF_FIVE = "4 of 5 beyond 1 sigma, on one side"
    EIGHT = "8 in a row on one side"
    SIX = "6 in a row up or down"
    JUMP = "a step larger than steps usually are"


#: Rules of zones: of the last so many values at least so many lie this many sigma out, on one side.
_ZONES = (
    (Rule.BEYOND, 1, 1, 3.0),
    (Rule.TWO_OF_THREE, 3, 2, 2.0),
    (Rule.FOUR_OF_FIVE, 5, 4, 1.0),
    (Rule.EIGHT, 8, 8, 0.0),
)
_TREND = 6


@dataclass(frozen=True, slots=True)
class Signal:
    """``rule`` holds at the value ``at``, looking back to ``since``; ``up`` is the side."""

    rule: Rule
    at: int
    since: int
    up: bool


@dataclass(frozen=True, slots=True)
class Chart:
    """Values in order, their centre, limits and moving ranges, and what stands out."""

    values: tuple[float, ...]
    centre: float
    mean_range: float
    signals: tuple[Signal, ...]

    @property
    def sigma(self) -> float:
        """Standard deviation from value to value."""
        return self.mean_range / D2

    @property
    def limits(self) -> tuple[float, float]:
        """Where a steady process stays but for three values in a thousand."""
        return self.centre - 3 * self.sigma, self.centre + 3 * self.sigma

    @property
    def most_range(self) -> float:
        """The upper limit of the moving ranges."""
        return D4 * self.mean_range

    @property
    def steady(self) -> bool:
        """Whether nothing stands out."""
        return not self.signals


def chart(values: Sequence[float]) -> Chart:
    """The chart of at least two values. Raises ``ValueError`` for fewer."""
    if len(values) < 2:
        raise ValueError("a chart needs at least two values")
    centre = fmean(values)
    ranges = [abs(b - a) for a, b in pairwise(values)]
    made = Chart(tuple(values), centre, fmean(ranges), ())
    found = [
        *_zones(values, centre, made.sigma),
        *_trends(values),
        *(
            Signal(Rule.JUMP, n, n - 1, values[n] > values[n - 1])
            for n, one in enumerate(ranges, start=1)
            if one > made.most_range
        ),
    ]
    order = list(Rule)
    found.sort(key=lambda it: (it.at, order.index(it.rule)))
    return Chart(made.values, centre, made.mean_range, tuple(found))


def _zones(values: Sequence[float], centre: float, sigma: float) -> list[Signal]:
    out = []
    for rule, window, least, out_by in _ZONES:
        for at in range(window - 1, len(values)):
            since = at - window + 1
            for up in (True, False):
                side = [one - centre if up else centre - one for one in values[since : at + 1]]
                # The newest itself must be out: otherwise it was told before.
                if side[-1] > out_by * sigma and sum(it > out_by * sigma for it in side) >= least:
                    out.append(Signal(rule, at, since, up))
    return out


def _trends(values: Sequence[float]) -> list[Signal]:
    out = []
    for at in range(_TREND - 1, len(values)):
        run = values[at - _TREND + 1 : at + 1]
        steps = [b - a for a, b in pairwise(run)]
        if all(one > 0 for one in steps) or all(one < 0 for one in steps):
            out.append(Signal(Rule.SIX, at, at - _TREND + 1, steps[0] > 0))
    return out


@dataclass(frozen=True, slots=True)
class Capability:
    """How a process stands to limits: 1 is three sigma of room to the nearer one.

    ``cp``   the room, were it centred; ``cpk`` as it is, by the scatter from value to value;
    ``low``, ``high``  between which ``cpk`` lies, 19 times of 20;
    ``ppk``  by the scatter of all values, drift included.
    Infinite where nothing scatters.
    """

    cp: float
    cpk: float
    low: float
    high: float
    ppk: float


def capability(seen: Chart, least: float, most: float) -> Capability:
    """How a process stands to limits. Raises ``ValueError`` where these are not in order."""
    if not least < most:
        raise ValueError("the limits are not in order")
    nearest = min(most - seen.centre, seen.centre - least)
    n, spread = len(seen.values), stdev(seen.values)
    cpk = _over(nearest, seen.sigma)
    about = 0.0 if seen.sigma == 0 else _SURE * sqrt(1 / (9 * n) + cpk**2 / (2 * (n - 1)))
    return Capability(
        _over((most - least) / 2, seen.sigma), cpk, cpk - about, cpk + about, _over(nearest, spread)
    )


def _over(room: float, sigma: float) -> float:
    if sigma == 0:
        return float("inf") if room > 0 else float("-inf") if room < 0 else 0.0
    return room / (3 * sigma)


@dataclass(frozen=True, slots=True)
class Bias:
    """The mean of values, and between which ends it lies, 19 times of 20."""

    mean: float
    low: float
    high: float

    @property
    def sure(self) -> bool:
        """Whether it is on one side of zero for sure."""
        return self.low > 0 or self.high < 0


def bias(values: Sequence[float]) -> Bias:
    """The mean of at least two values, with Student's interval. Raises ``ValueError`` for fewer."""
    if len(values) < 2:
        raise ValueError("a mean with an interval needs at least two values")
    about = student(len(values) - 1) * stdev(values) / sqrt(len(values))
    mean = fmean(values)
    return Bias(mean, mean - about, mean + about)


#: Student's t, 97.5 %, by degrees of freedom: any table of it (from memory; tested by integration).
_T = (
    12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228,
    2.201, 2.179, 2.160, 2.145, 2.131, 2.120, 2.110, 2.101, 2.093, 2.086,
    2.080, 2.074, 2.069, 2.064, 2.060, 2.056, 2.052, 2.048, 2.045, 2.042,
)  # fmt: skip


def student(freedom: int) -> float:
    """Student's t at 97.5 %; beyond the table by its expansion, within 0.001 there."""
    if freedom <= len(_T):
        return _T[freedom - 1]
    z = _SURE
    return z + (z**3 + z) / (4 * freedom) + (5 * z**5 + 16 * z**3 + 3 * z) / (96 * freedom**2)
