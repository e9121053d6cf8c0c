"""The people of one station, with the hashes of their PINs, in the database beside its record.

Apart from the journal on purpose: that is shown to whoever verifies a record and kept for good, and
a hash of four digits is soon guessed by whoever has it. It is in no export and in no session; a
backup has it.
"""

from __future__ import annotations

import json

from sqlalchemy import Connection, delete, insert, inspect, select

from weighd.domain.errors import OperatorError
from weighd.domain.people import Person, Right, rights_of
from weighd.storage.learned import Store
from weighd.storage.schema import PERSON


class PersonBook:
    """People by name. Calls may come from any thread; each may raise ``JournalError``."""

    def __init__(self, store: Store, station: str) -> None:
        self._store = store
        self._station = station

    def all(self) -> tuple[Person, ...]:
        """Everybody who was ever listed, in the order they were added."""
        wanted = (
            select(PERSON)
            .where(PERSON.c.station == self._station)
            .order_by(PERSON.c.since, PERSON.c.name)
        )

        def ask(connection: Connection) -> list[Person]:
            if not inspect(connection).has_table(PERSON.name):
                return []  # an older file, opened to be read
            return [
                Person(
                    one.name,
                    _rights(one.rights),
                    one.pin,
                    one.since,
                    one.retired,
                    one.wrong,
                    one.wrong_at,
                )
                for one in connection.execute(wanted)
            ]

        return tuple(self._store.read(ask))

    def put(self, person: Person) -> None:
        """Write over what was kept of somebody of that name."""
        row = {
            "station": self._station,
            "name": person.name,
            "rights": json.dumps(sorted(person.rights)),
            "pin": person.pin,
            "since": person.since,
            "retired": person.retired,
            "wrong": person.wrong,
            "wrong_at": person.wrong_at,
        }
        here = (PERSON.c.station == self._station, PERSON.c.name == person.name)

        def write(connection: Connection) -> None:
            connection.execute(delete(PERSON).where(*here))
            connection.execute(insert(PERSON), [row])

        self._store.write(write)


def _rights(text: str) -> frozenset[Right]:
    """The rights that are known here; whatever else stands there gives none."""
    try:
        return rights_of(json.loads(text))
    except (ValueError, TypeError, AttributeError, RecursionError, OperatorError):
        return frozenset()
