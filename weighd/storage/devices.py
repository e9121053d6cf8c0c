"""The devices that a station lets in, in the database beside its record.

Of a token only the hash is kept; it is random and long, so that nobody finds it by its hash.
"""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

from sqlalchemy import Connection, delete, insert, inspect, select

from weighd.domain.devices import Device, May
from weighd.storage.faults import of_sqlite
from weighd.storage.learned import Store
from weighd.storage.schema import DEVICE


class DeviceBook:
    """Devices by id. Calls may come from any thread; each may raise ``JournalError``."""

    def __init__(self, store: Store, station: str) -> None:
        self._store = store
        self._station = station

    def all(self) -> tuple[Device, ...]:
        """Every device that was paired; what a later weighd wrote of one lets nobody in."""
        wanted = select(DEVICE).where(DEVICE.c.station == self._station).order_by(DEVICE.c.since)

        def ask(connection: Connection) -> list[Device]:
            if not inspect(connection).has_table(DEVICE.name):
                return []  # an older file, opened to be read
            return [
                Device(one.id, one.name, May(one.may), one.mark, one.since, one.seen)
                for one in connection.execute(wanted)
                if one.may in set(May)
            ]

        return tuple(self._store.read(ask))

    def put(self, device: Device) -> None:
        """Write over what was kept of a device."""
        row = {
            "station": self._station,
            "id": device.id,
            "name": device.name,
            "may": str(device.may),
            "mark": device.mark,
            "since": device.since,
            "seen": device.seen,
        }

        def write(connection: Connection) -> None:
            self._drop(connection, device.id)
            connection.execute(insert(DEVICE), [row])

        self._store.write(write)

    def drop(self, identity: str) -> None:
        """Forget a device."""
        self._store.write(lambda connection: self._drop(connection, identity))

    def _drop(self, connection: Connection, identity: str) -> None:
        here = (DEVICE.c.station == self._station, DEVICE.c.id == identity)
        connection.execute(delete(DEVICE).where(*here))


def forget_devices(file: Path) -> int:
    """Forget every device in the file of a record that nobody has open; how many they were.

    Raises :class:`JournalError`.
    """
    try:
        with closing(sqlite3.connect(file)) as record, record:
            there = "SELECT count(*) FROM sqlite_master WHERE type = 'table' AND name = 'device'"
            if not record.execute(there).fetchone()[0]:
                return 0  # of a weighd that knew of none
            if not record.execute("SELECT count(*) FROM device").fetchone()[0]:
                return 0  # not written to
            return record.execute("DELETE FROM device").rowcount
    except sqlite3.Error as error:
        raise of_sqlite(error, file, writing=True) from error
