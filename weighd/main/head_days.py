"""Which daily heads are due: one for each UTC day, at a time of that day."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, date, datetime, time, timedelta

#: How many days that were missed are told one by one.
MOST_TOLD = 31


def moment(at: str) -> datetime:
    """A time of the record (RFC 3339, ``Z``)."""
    return datetime.fromisoformat(at)


def due_day(now: str, at: str) -> date:
    """The newest day whose head is due; ``at`` is a time of day in UTC, like ``22:00``."""
    here = moment(now).astimezone(UTC)
    return here.date() if here.time() >= _time(at) else here.date() - timedelta(days=1)


def next_due(now: str, at: str) -> datetime:
    """When the next head after the due one is due."""
    return datetime.combine(due_day(now, at) + timedelta(days=1), _time(at), UTC)


def missed(kept: Iterable[date], due: date) -> list[date]:
    """The days since the newest head that is kept for which there is none, the due one left out;
    nothing where none was ever kept. No more than :data:`MOST_TOLD`, the newest."""
    newest = max((one for one in kept if one < due), default=None)
    if newest is None:
        return []
    days = min((due - newest).days - 1, MOST_TOLD)
    return [due - timedelta(days=n) for n in range(days, 0, -1)]


def _time(at: str) -> time:
    return time.fromisoformat(at)
