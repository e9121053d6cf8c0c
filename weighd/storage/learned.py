"""What was learned of the scales of one station, in the database beside its record.

It is apart from the journal on purpose: nothing of it is evidence, it is written over, and it can
be thrown away at any time.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from typing import Protocol, TypeVar

from sqlalchemy import Connection, delete, insert, inspect, select

from weighd.station.known import Known, known_of
from weighd.storage.schema import LEARNED

T = TypeVar("T")


class Store(Protocol):
    """A database. Every call may raise ``JournalError``."""

    def read(self, question: Callable[[Connection], T]) -> T: ...

    def write(self, change: Callable[[Connection], T]) -> T: ...


class LearnedBook:
    """What was learned, by scale. Calls may come from any thread; each may raise JournalError."""

    def __init__(self, store: Store, station: str) -> None:
        self._store = store
        self._station = station

    def all(self) -> dict[str, tuple[str, Known]]:
        """Of each scale which one it was (``known.identity``), and what is known of it."""
        wanted = select(LEARNED.c.scale, LEARNED.c.identity, LEARNED.c.known).where(
            LEARNED.c.station == self._station
        )

        def ask(connection: Connection) -> list[tuple[str, str, str]]:
            if not inspect(connection).has_table(LEARNED.name):
                return []  # an older file, opened to be read
            return [(one.scale, one.identity, one.known) for one in connection.execute(wanted)]

        out = {}
        for scale, identity, text in self._store.read(ask):
            known = known_of(_json(text))
            if known is not None:
                out[scale] = (identity, known)
        return out

    def keep(self, known: Mapping[str, tuple[str, Known]], at: str) -> None:
        """Write over what was known of these scales; ``at`` is the wall time."""
        rows = [
            {
                "station": self._station,
                "scale": scale,
                "identity": identity,
                "at": at,
                "known": json.dumps(one.as_json(), sort_keys=True),
            }
            for scale, (identity, one) in known.items()
        ]

        def write(connection: Connection) -> None:
            self._drop(connection, list(known))
            connection.execute(insert(LEARNED), rows)

        if rows:
            self._store.write(write)

    def forget(self, scale: str) -> bool:
        """Forget a scale; whether anything was known of it."""
        if scale not in self.all():
            return False
        self._store.write(lambda connection: self._drop(connection, [scale]))
        return True

    def _drop(self, connection: Connection, scales: list[str]) -> None:
        here = (LEARNED.c.station == self._station, LEARNED.c.scale.in_(scales))
        connection.execute(delete(LEARNED).where(*here))


def _json(text: str) -> object:
    try:
        return json.loads(text)
    except (ValueError, RecursionError):
        return None
