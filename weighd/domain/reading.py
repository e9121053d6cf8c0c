"""What a driver hands up: one report of a scale, in exact grams, with the bytes it came from."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from weighd.domain.mass import Unit


@dataclass(frozen=True, slots=True)
class Reading:
    """One report of a scale.

    ``t``       seconds from the session's start at which the report's last byte came.
    ``grams``   what the scale displayed, in grams, exact; ``None`` when it gave no usable number
                (over or under capacity, a fault).
    ``unit``    the unit it was displayed in; ``None`` when there was no number.
    ``stable``  the scale's own flag; ``None`` when the shape carries none.
    ``over``    the load is above capacity (``grams`` is then ``None``).
    ``fault``   empty, or why there is no number: ``"under"``, ``"fault"``, ``"zero error"``, ...
    ``shown``   the displayed number in ``unit``, with the decimals the scale printed.
    ``raw``     the bytes of the whole report: evidence, decodable again on their own.
    """

    t: float
    grams: Decimal | None
    unit: Unit | None = None
    stable: bool | None = None
    over: bool = False
    fault: str = ""
    shown: Decimal | None = None
    raw: bytes = b""
