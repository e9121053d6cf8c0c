"""Entries about the keeping of the record, written while no station goes on with it yet."""

from __future__ import annotations

from typing import TYPE_CHECKING

from weighd import __version__
from weighd.domain.keeping import KEY_CHANGED, key_changed
from weighd.domain.record import seal

if TYPE_CHECKING:
    from weighd.clock import SystemClock
    from weighd.storage.journal import SqlJournal


def note_other_key(journal: SqlJournal, before: str, key: str, clock: SystemClock) -> None:
    """Record that the station signs with another ``key`` than the one that signed last, once.

    Raises :class:`JournalError`.
    """
    told = next(iter(journal.newest(KEY_CHANGED)), None)
    if told is not None and (told.body["before"], told.body["key"]) == (before, key):
        return
    at = clock.utc()
    body = journal.wall().stamped(at, key_changed(before, key, __version__))
    journal.append([seal(journal.station, KEY_CHANGED, at, body, journal.tail())])
