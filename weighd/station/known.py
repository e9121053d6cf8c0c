"""What was learned of a scale, as it is stored, shown, and handed to the next start.

It is no record: it makes weighing quicker, decides nothing that the evidence of a record does not
show again, and can be forgotten at any time. Values that a newer or an older detector does not
know are passed over.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields
from decimal import Decimal
from typing import Any

from weighd.domain import mass
from weighd.domain.settling import Settling
from weighd.domain.settling_learned import Learned

#: No value learned of a scale is beyond this.
MOST = 1e6
#: Readings that come closer than this, in seconds, came in one piece: that is no rate of a scale.
SHORTEST_S = 1e-4


@dataclass(frozen=True, slots=True)
class Known:
    """What is known of one scale.

    ``interval_g``  the scale interval it was learned at; at another it says nothing.
    ``since``       wall time (RFC 3339) since which it was learned; empty while not stored yet.
    """

    interval_g: Decimal
    learned: Learned
    since: str = ""

    def as_json(self) -> dict[str, Any]:
        """JSON values; numbers come back exactly."""
        return {
            "interval_g": mass.text(self.interval_g),
            "since": self.since,
            "values": asdict(self.learned),
        }


def known_of(row: Any) -> Known | None:
    """What :meth:`Known.as_json` wrote; ``None`` for what cannot be read as that."""
    try:
        interval = mass.parse(row["interval_g"])
        if interval <= 0:
            return None
        return Known(interval, learned_of(row["values"]), str(row.get("since", "")))
    except (KeyError, TypeError, ValueError, AttributeError):
        return None


def learned_of(values: Mapping[str, Any]) -> Learned:
    """Values learned, of whatever version: unknown ones are left out, missing ones are as at first.

    Raises ``TypeError`` where ``values`` is no mapping.
    """
    if not isinstance(values, Mapping):
        raise TypeError("what was learned is not an object")
    nothing = Learned()
    given = {}
    for one in fields(Learned):
        first = getattr(nothing, one.name)
        value = _like(first, values.get(one.name))
        if value is not None:
            given[one.name] = value
    return Learned(**given)


def identity(driver: str, settings: Mapping[str, Any]) -> str:
    """Which scale it is, as far as its configuration says: its driver and how that reaches it."""
    return json.dumps({"driver": driver, **settings}, sort_keys=True, default=str)


def _like(first: Any, value: Any) -> Any:
    """``value`` if it is of the kind that ``first`` is, and can be; else ``None``."""
    if isinstance(first, bool) or isinstance(value, bool):
        return value if type(first) is type(value) else None
    if isinstance(first, int | float):
        if not isinstance(value, int | float) or not math.isfinite(value) or abs(value) > MOST:
            return None
        if isinstance(first, int) and value != int(value):
            return None
        # What is above zero from the start is a time or a count that has to stay so.
        if value < 0 or (first > 0 and value == 0):
            return None
        return type(first)(value)
    return None


def told(known: Known, noise_g: float | None = None) -> dict[str, Any]:
    """What was learned as people may read it: decimal strings, JSON values.

    ``noise_g``           standard deviation of the display at rest.
    ``response_s``        seconds in which the display follows a step.
    ``readings_per_s``    readings a second.
    ``flag_wrong``        share of the readings of a moving load in which the scale's own flag said
                          it was stable; ``None`` where no such flag was seen.
    """
    learned = known.learned
    noise = Settling(known.interval_g, learned).noise_g if noise_g is None else noise_g
    moving = learned.flag_moving - Learned().flag_moving
    wrong = learned.flag_up_moving - Learned().flag_up_moving
    period = learned.period_s
    return {
        "since": known.since or None,
        "looks": learned.looks,
        "noise_g": _two_digits(noise),
        "response_s": _two_digits(learned.response_s),
        "readings_per_s": _two_digits(1 / period) if period > SHORTEST_S else None,
        "flag_wrong": _two_digits(min(max(wrong / moving, 0.0), 1.0)) if moving >= 1 else None,
    }


def _two_digits(value: float) -> str:
    """A number to two significant digits, without an exponent."""
    if value == 0:
        return "0"
    places = 1 - math.floor(math.log10(abs(value)))
    return format(round(value, places), f".{max(places, 0)}f")
