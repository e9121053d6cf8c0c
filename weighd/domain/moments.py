"""Wall times as the record has them (RFC 3339, UTC): how long between two."""

from __future__ import annotations

import re

from weighd.domain.days import read_day

_MOMENT = re.compile(r"(\d{4})-(\d{2})-(\d{2})T(\d{2}):(\d{2}):(\d{2})(?:\.(\d{1,6}))?Z", re.ASCII)


def seconds_between(earlier: str, later: str) -> int:
    """Whole seconds from one moment to another; below zero where the clock was set back.

    Raises ``ValueError`` for what is no such moment.
    """
    return (milliseconds(later) - milliseconds(earlier)) // 1000


def read_moment(text: str) -> str:
    """The same moment, once it is known to be one that a station can reckon from.

    Raises ``ValueError``.
    """
    read_day(text[:10])
    milliseconds(text)
    if not "1970" <= text[:4] < "9000" or text[17:19] == "60":
        raise ValueError(f"{text[:40]!r} is no moment that a clock shows")
    return text


def milliseconds(at: str) -> int:
    """A moment in milliseconds since midnight of some day. Raises ``ValueError`` for none."""
    found = _MOMENT.fullmatch(at)
    if not found:
        raise ValueError(f"{at[:40]!r} is not a moment in UTC")
    year, month, day, hour, minute, second = (int(found[n]) for n in range(1, 7))
    if not (1 <= month <= 12 and 1 <= day <= 31 and hour < 24 and minute < 60 and second <= 60):
        raise ValueError(f"{at!r} is not a moment in UTC")
    # Days of the Gregorian calendar, years counted from March so that a leap day comes last.
    year, month = (year, month - 3) if month > 2 else (year - 1, month + 9)
    days = 365 * year + year // 4 - year // 100 + year // 400 + (153 * month + 2) // 5 + day
    return (
        ((days * 24 + hour) * 60 + minute) * 60_000
        + second * 1000
        + int((found[7] or "").ljust(3, "0")[:3])
    )
