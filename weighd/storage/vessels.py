"""The vessels of one station whose mass was weighed there, in the database beside its record.

A tare names its vessel with the mass that was known then, so a list that is changed later changes
no record.
"""

from __future__ import annotations

import json

from sqlalchemy import Connection, delete, insert, inspect, select

from weighd.station.vessel_shelf import Kept, kept_of
from weighd.storage.learned import Store
from weighd.storage.schema import VESSEL


class VesselBook:
    """Vessels by name. Calls may come from any thread; each may raise ``JournalError``."""

    def __init__(self, store: Store, station: str) -> None:
        self._store = store
        self._station = station

    def all(self) -> tuple[Kept, ...]:
        """Every vessel that was kept, by name; what cannot be read any more counts as nothing."""
        wanted = (
            select(VESSEL.c.kept).where(VESSEL.c.station == self._station).order_by(VESSEL.c.name)
        )

        def ask(connection: Connection) -> list[str]:
            if not inspect(connection).has_table(VESSEL.name):
                return []  # an older file, opened to be read
            return [one.kept for one in connection.execute(wanted)]

        found = (_kept(text) for text in self._store.read(ask))
        return tuple(one for one in found if one is not None)

    def keep(self, kept: Kept) -> None:
        """Write over what was known of this vessel."""
        row = {
            "station": self._station,
            "name": kept.vessel.name,
            "kept": json.dumps(kept.as_json(), sort_keys=True),
        }

        def write(connection: Connection) -> None:
            self._drop(connection, kept.vessel.name)
            connection.execute(insert(VESSEL), [row])

        self._store.write(write)

    def forget(self, name: str) -> bool:
        """Forget a vessel; whether it was known."""
        if name not in {one.vessel.name for one in self.all()}:
            return False
        self._store.write(lambda connection: self._drop(connection, name))
        return True

    def _drop(self, connection: Connection, name: str) -> None:
        here = (VESSEL.c.station == self._station, VESSEL.c.name == name)
        connection.execute(delete(VESSEL).where(*here))


def _kept(text: str) -> Kept | None:
    try:
        return kept_of(json.loads(text))
    except (ValueError, RecursionError, AttributeError):
        return None
