"""What was heard last of other stations' draws, in the database beside a station's record.

It is no record: it is written over each time, and the shared store tells it again.
"""

from __future__ import annotations

import json
from collections.abc import Sequence

from sqlalchemy import Connection, delete, insert, inspect, select

from weighd.domain.lot_shared import Sum, sum_of
from weighd.storage.learned import Store
from weighd.storage.schema import HEARD


class HeardBook:
    """What was heard. Calls may come from any thread; each may raise ``JournalError``."""

    def __init__(self, store: Store, station: str) -> None:
        self._store = store
        self._station = station

    def last(self) -> tuple[tuple[Sum, ...], str]:
        """What others had drawn, and when that was (UTC, empty for never)."""
        wanted = select(HEARD.c.at, HEARD.c.sums).where(HEARD.c.station == self._station)

        def ask(connection: Connection) -> tuple[str, str] | None:
            if not inspect(connection).has_table(HEARD.name):
                return None  # an older file, opened to be read
            row = connection.execute(wanted).first()
            return None if row is None else (row.at, row.sums)

        found = self._store.read(ask)
        if found is None:
            return (), ""
        at, text = found
        try:
            return tuple(sum_of(row) for row in json.loads(text)), at
        except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
            return (), ""

    def keep(self, sums: Sequence[Sum], at: str) -> None:
        """Write over what was heard before."""
        text = json.dumps([one.as_json() for one in sums], sort_keys=True)

        def write(connection: Connection) -> None:
            connection.execute(delete(HEARD).where(HEARD.c.station == self._station))
            connection.execute(insert(HEARD).values(station=self._station, at=at, sums=text))

        self._store.write(write)
