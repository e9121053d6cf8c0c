"""Days as the record and labels have them: ``YYYY-MM-DD``, Gregorian, compared as texts.

A day begins at midnight UTC: the record knows no other time, and somebody who verifies it elsewhere
would have to guess the zone.
"""

from __future__ import annotations

import re

_DAY = re.compile(r"(\d{4})-(\d{2})-(\d{2})", re.ASCII)
_MONTHS = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)


def day_of(at: str) -> str:
    """The day of a moment of the record. Raises ``ValueError`` for what is none."""
    return read_day(at[:10])


def read_day(text: str) -> str:
    """The same day, once it is known to be one. Raises ``ValueError``."""
    found = _DAY.fullmatch(text)
    if found:
        year, month, day = (int(one) for one in found.groups())
        if year and 1 <= month <= 12 and 1 <= day <= days_in(year, month):
            return text
    raise ValueError(f'"{text[:40]}" is not a day; write it like 2026-11-30')


def days_in(year: int, month: int) -> int:
    """How many days a month has."""
    leap = month == 2 and year % 4 == 0 and (year % 100 != 0 or year % 400 == 0)
    return _MONTHS[month - 1] + leap


def days_between(earlier: str, later: str) -> int:
    """Whole days from one day to another; below zero where the second comes first."""
    return _ordinal(later) - _ordinal(earlier)


def plus_days(day: str, days: int) -> str:
    """So many days later. Raises ``ValueError`` beyond the year 9999."""
    year, month, date = (int(one) for one in read_day(day).split("-"))
    if abs(days) > 3_660_000:
        raise ValueError(f"{days} days are beyond the year 9999")
    date += days
    while date > days_in(year, month):
        date -= days_in(year, month)
        year, month = (year, month + 1) if month < 12 else (year + 1, 1)
    while date < 1:
        year, month = (year, month - 1) if month > 1 else (year - 1, 12)
        date += days_in(year, month)
    return read_day(f"{year:04d}-{month:02d}-{date:02d}")


def _ordinal(day: str) -> int:
    year, month, date = (int(one) for one in read_day(day).split("-"))
    year, month = (year, month - 3) if month > 2 else (year - 1, month + 9)
    return 365 * year + year // 4 - year // 100 + year // 400 + (153 * month + 2) // 5 + date
