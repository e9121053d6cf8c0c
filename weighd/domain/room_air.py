"""Carbon dioxide in the air of a room where dry ice turns to gas.

The room is taken as well mixed: what comes in as gas spreads at once, and *n* air changes an hour
carry it off. With *R* ppm an hour coming in,

    c(t) = background + R/n (1 - exp(-n t))   while it comes, then it falls off as exp(-n t)

(the form stands in engineering handbooks; read at engineeringtoolbox, d_120). Without air changes
it rises by R t and stays.

1. This is optimistic where it matters: the gas is 1.5 times as heavy as air and gathers near the
   floor. So a figure below a limit is told as just that. **Nothing here says that a room is safe.**
2. Ventilation that is not known is none. All of the dry ice comes out, and nothing leaks out.
3. Parts are of the room's volume (gas over room, which is a little more than what displacing air
   would make it), never told above a million.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

_NONE, _ONE, MILLION = Decimal(0), Decimal(1), Decimal(1_000_000)
BACKGROUND_PPM = Decimal(420)
QUARTER_H, SHIFT_H = Decimal("0.25"), Decimal(8)
#: Fewer air changes than this are none; more than the second, no room has.
FEWEST_CHANGES, MOST_CHANGES = Decimal("0.001"), Decimal(100)
_FINE = Decimal("0.001")


class Over(StrEnum):
    """What of the air a limit is about."""

    SHIFT = "average over 8 hours"
    QUARTER = "average over 15 minutes"
    MOMENT = "at any moment"


@dataclass(frozen=True, slots=True)
class ExposureLimit:
    """A published limit; ``seen`` tells whether it was read in its source."""

    id: str
    ppm: Decimal
    over: Over
    by: str
    source: str
    seen: bool


_NIOSH = "NIOSH, documentation for IDLH concentrations, 124-38-9 (May 1994)"
LIMITS = (
    ExposureLimit(
        "twa-8h", Decimal(5000), Over.SHIFT, "OSHA PEL, NIOSH REL, ACGIH TLV", _NIOSH, seen=True
    ),
    ExposureLimit(
        "stel-15min", Decimal(30000), Over.QUARTER, "NIOSH and ACGIH STEL", _NIOSH, seen=True
    ),
    ExposureLimit(
        "idlh",
        Decimal(40000),
        Over.MOMENT,
        "NIOSH IDLH: immediately dangerous to life or health",
        _NIOSH,
        seen=True,
    ),
)
TWA = LIMITS[0]


@dataclass(frozen=True, slots=True)
class Room:
    """A room and what comes into it.

    ``gas_m3``    gas at the room's temperature, over ``release_h`` hours; 0 for at once.
    ``changes_h`` air changes an hour.
    """

    volume_m3: Decimal
    gas_m3: Decimal
    release_h: Decimal = _NONE
    changes_h: Decimal = _NONE
    background_ppm: Decimal = BACKGROUND_PPM

    def __post_init__(self) -> None:
        """Raises ``ValueError`` for a room that cannot be."""
        for name in ("volume_m3", "gas_m3", "release_h", "changes_h", "background_ppm"):
            value = getattr(self, name)
            if not value.is_finite() or value < 0 or (name == "volume_m3" and not value):
                raise ValueError(f"{name} is {value}")

    @property
    def _n(self) -> Decimal:
        return self.changes_h if self.changes_h >= FEWEST_CHANGES else _NONE

    @property
    def whole_ppm(self) -> Decimal:
        """What all of the gas would add to the room's air."""
        return MILLION * self.gas_m3 / self.volume_m3

    def at(self, hours: Decimal) -> Decimal:
        """ppm so many hours after the first gas came."""
        return min(self.background_ppm + self._more(hours), MILLION)

    def _more(self, hours: Decimal) -> Decimal:
        release, n = self.release_h, self._n
        if hours <= 0 and release:
            return _NONE
        if hours < release:
            rate = self.whole_ppm / release
            return rate / n * (_ONE - (-n * hours).exp()) if n else rate * hours
        if not release:
            return self.whole_ppm * (-n * hours).exp()
        end = self.whole_ppm / release
        end = end / n * (_ONE - (-n * release).exp()) if n else self.whole_ppm
        return end * (-n * (hours - release)).exp()

    def _summed(self, hours: Decimal) -> Decimal:
        """ppm hours above the background from the first gas on."""
        release, n = self.release_h, self._n
        first, total = min(hours, release), _NONE
        if first > 0:
            rate = self.whole_ppm / release
            if n:
                total = rate / n * (first - (_ONE - (-n * first).exp()) / n)
            else:
                total = rate * first * first / 2
        rest = hours - release
        if rest > 0:
            peak = self._more(release)
            total += peak * (_ONE - (-n * rest).exp()) / n if n else peak * rest
        return total

    @property
    def peak_ppm(self) -> Decimal:
        """The most at any moment: when the last gas has come."""
        return self.at(self.release_h)

    @property
    def quarter_ppm(self) -> Decimal:
        """The highest average over 15 minutes."""
        release, n = self.release_h, self._n
        start = _NONE
        if release and not n:
            start = release
        elif release:
            # A window is the worst when the air at its ends is alike.
            early = _ONE - (-n * release).exp()
            start = (_ONE + early * (-n * (QUARTER_H - release)).exp()).ln() / n
            start = max(_NONE, min(start, release))
        summed = self._summed(start + QUARTER_H) - self._summed(start)
        return min(self.background_ppm + summed / QUARTER_H, MILLION)

    @property
    def shift_ppm(self) -> Decimal:
        """The average over 8 hours from the first gas on."""
        return min(self.background_ppm + self._summed(SHIFT_H) / SHIFT_H, MILLION)

    def hours_until_below(self, ppm: Decimal) -> Decimal | None:
        """Hours from the first gas until it is below so much for good; 0 where it never gets
        there, ``None`` where it never falls below."""
        if self.peak_ppm < ppm:
            return _NONE
        allowed = ppm - self.background_ppm
        if allowed <= 0 or not self._n:
            return None
        ratio = self._more(self.release_h) / allowed
        return self.release_h + max(ratio.ln() / self._n, _NONE)

    def over(self, over: Over) -> Decimal:
        """The figure that a limit is held against."""
        return {
            Over.SHIFT: self.shift_ppm,
            Over.QUARTER: self.quarter_ppm,
            Over.MOMENT: self.peak_ppm,
        }[over]

    def changes_for(self, limit: ExposureLimit) -> Decimal | None:
        """Air changes an hour that keep this figure below a limit, to 0.001; ``None`` where none
        that a room can have is enough."""
        if self._with(_NONE).over(limit.over) < limit.ppm:
            return _NONE
        low, high = _NONE, MOST_CHANGES
        if self._with(high).over(limit.over) >= limit.ppm:
            return None
        while high - low > _FINE:
            middle = (low + high) / 2
            if self._with(middle).over(limit.over) < limit.ppm:
                high = middle
            else:
                low = middle
        return high

    def _with(self, changes_h: Decimal) -> Room:
        return Room(self.volume_m3, self.gas_m3, self.release_h, changes_h, self.background_ppm)
