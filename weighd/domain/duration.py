"""Lengths of time as formulas and people write them: seconds, minutes, hours."""

from __future__ import annotations

import re
from decimal import Decimal

from weighd.domain import mass

#: Ten days: what takes longer is no step of a batch.
LONGEST_S = Decimal(864_000)
_SECONDS = {"s": 1, "sec": 1, "min": 60, "h": 3600}
NUMBER = r"[0-9]{1,6}(?:[.,][0-9]{1,3})?"
# ASCII: or there are letters beside "s" that are no other in upper case.
_WRITTEN = re.compile(rf"\s*({NUMBER})\s*(s|sec|min|h)?\s*", re.IGNORECASE | re.ASCII)


def read_duration(text: str, unit: str = "") -> Decimal:
    """``"90 min"``, ``"1.5 h"``, ``"25 s"``, or a bare number in ``unit``, as seconds.

    Raises ``ValueError`` saying what is wrong with it: no number, no unit, negative, too long.
    """
    found = _WRITTEN.fullmatch(text)
    if not found:
        if re.match(r"\s*[-−]", text):
            raise ValueError(f'"{text[:40]}" is negative; a time is not')
        raise ValueError(f'"{text[:40]}" is not a length of time; write it like "90 min"')
    named = (found[2] or unit).lower()
    if not named:
        raise ValueError(f'the time "{text[:40]}" has no unit; write it like "90 min"')
    if named not in _SECONDS:
        raise ValueError(f'"{named[:40]}" is no unit of time; write it like "90 min"')
    seconds = Decimal(found[1].replace(",", ".")) * _SECONDS[named]
    if seconds > LONGEST_S:
        raise ValueError(f'"{text[:40]}" is longer than ten days')
    return seconds


def words(seconds: Decimal) -> str:
    """A length of time for people, in the largest unit that is exact: ``"90 min"``, ``"4 h"``."""
    for unit, of in (("h", 3600), ("min", 60)):
        if seconds and seconds % of == 0:
            return f"{mass.text(Decimal(int(seconds // of)))} {unit}"
    whole = seconds.normalize()
    return f"{mass.text(whole)} s" if seconds < 120 else _rough(seconds)


def _rough(seconds: Decimal) -> str:
    """Minutes and seconds, or hours and minutes."""
    whole = int(seconds)
    hours, minutes, rest = whole // 3600, whole // 60 % 60, whole % 60
    if hours:
        return f"{hours} h {minutes} min" if minutes else f"{hours} h"
    return f"{minutes} min {rest} s" if rest else f"{minutes} min"
