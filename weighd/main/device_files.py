"""What the command line does with devices that were let in, beside a running station or without."""

from __future__ import annotations

from pathlib import Path

from weighd.domain.devices import Device, find


def devices_of(config: Path | None) -> tuple[Device, ...]:
    """Every device that was let in. Raises :class:`JournalError`."""
    from weighd.config import load
    from weighd.main.files import database_of
    from weighd.storage.journal import open_read_only

    settings, database = load(config), database_of(config)
    if not database.exists():
        return ()
    journal = open_read_only(database, settings.station.name)
    try:
        return journal.devices().all()
    finally:
        journal.close()


def forget_device(config: Path | None, called: str) -> Device:
    """Forget one, while no station runs.

    Raises :class:`OperatorError`, ``unknown-device``, and :class:`JournalError`, ``store-in-use``.
    """
    from weighd.config import load
    from weighd.main.files import database_of
    from weighd.storage.journal import open_journal

    settings, database = load(config), database_of(config)
    if not database.exists():
        return find((), called)
    journal = open_journal(database, settings.station.name)
    try:
        one = find(journal.devices().all(), called)
        journal.devices().drop(one.id)
        return one
    finally:
        journal.close()
