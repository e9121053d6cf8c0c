"""What the command line does with people, while no station runs: whoever may write the record's
file may do it, and so helps whoever forgot every PIN."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from weighd.domain.errors import JournalError
from weighd.domain.people import Person
from weighd.station.people import People

T = TypeVar("T")


def people_of(config: Path | None) -> tuple[Person, ...]:
    """Everybody who was ever listed. Raises :class:`JournalError`."""
    from weighd.config import load
    from weighd.main.files import database_of
    from weighd.storage.journal import open_read_only

    settings, database = load(config), database_of(config)
    if not database.exists():
        return ()
    journal = open_read_only(database, settings.station.name)
    try:
        return journal.people().all()
    finally:
        journal.close()


def change_people(config: Path | None, change: Callable[[People], T]) -> T:
    """Change the list. Raises :class:`OperatorError`, :class:`JournalError` while one runs."""
    from weighd.clock import SystemClock
    from weighd.config import load
    from weighd.main.files import database_of
    from weighd.storage.journal import open_journal
    from weighd.storage.pins import Argon2Pins

    settings, database = load(config), database_of(config)
    try:
        journal = open_journal(database, settings.station.name)
    except JournalError as error:
        if error.code != "store-in-use":
            raise
        raise JournalError(
            error.code,
            error.message,
            where=error.where,
            remedy="While a station runs, change people on its page, under People; or stop it.",
        ) from error
    try:
        return change(People(journal.people(), Argon2Pins(), SystemClock().utc))
    finally:
        journal.close()
