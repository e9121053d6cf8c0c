"""The tables beside the record that are drawn from its entries: brought up to date, and held
against the entries again.

What somebody changed in them is no change of the record, but lists, stock and traces go by them.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from functools import cache
from typing import Any

from sqlalchemy import (
    Connection,
    Table,
    create_engine,
    delete,
    insert,
    literal_column,
    select,
    update,
)
from sqlalchemy.pool import NullPool

from weighd.domain.kinds import Kind
from weighd.domain.record import Entry
from weighd.station.ports import BatchRow
from weighd.storage.lines import LINE
from weighd.storage.prepared import Prepared, asked, given
from weighd.storage.rows import line, line_row
from weighd.storage.schema import (
    BATCH,
    LOT_NAME,
    LOT_SUM,
    LOT_USE,
    METADATA,
    REVISIONS,
    VERSION,
)
from weighd.storage.uses import forget_uses, note_uses

#: All of them, with the columns that tell their rows apart.
DRAWN: tuple[tuple[Table, tuple[str, ...]], ...] = (
    (BATCH, ("id",)),
    (LOT_USE, ("seq", "part")),
    (LOT_SUM, ("lot",)),
    (LOT_NAME, ("lot",)),
)

_HERE = (BATCH.c.station == asked(BATCH.c.station), BATCH.c.id == asked(BATCH.c.id))
_ITS_LINE = Prepared(select(*LINE).where(*_HERE))
_NEW_LINE = Prepared(insert(BATCH).values(given(BATCH)))
_ONE_MORE = Prepared(
    update(BATCH).where(*_HERE).values(accepted=BATCH.c.accepted + literal_column("1"))
)


@cache
def _change(names: tuple[str, ...]) -> Prepared:
    """Changes some columns of a line: SQLite writes every index anew whose columns are named."""
    return Prepared(update(BATCH).where(*_HERE).values(given(BATCH, *names)))


def note(connection: Connection, entry: Entry) -> BatchRow | None:
    """Bring the tables up to one more entry; the line of its batch, if it has one."""
    row = _note_batch(connection, entry)
    note_uses(connection, entry)
    return row


def forget(connection: Connection, station: str) -> None:
    """Empty the tables, to draw them again."""
    connection.execute(delete(BATCH).where(BATCH.c.station == station))
    forget_uses(connection, station)


def _note_batch(connection: Connection, entry: Entry) -> BatchRow | None:
    if "batch" not in entry.body:
        return None
    here = {"station_is": entry.station, "id_is": entry.body["batch"]}
    if entry.kind == Kind.ACCEPTED:  # as ``line`` has it, and the most common
        _ONE_MORE(connection, **here)
        row = _ITS_LINE(connection, **here).fetchone()
        return None if row is None else BatchRow(*row)
    row = _ITS_LINE(connection, **here).fetchone()
    before = None if row is None else BatchRow(*row)
    after = line(before, entry)
    if after is None or after == before:
        return after
    if before is None:
        _NEW_LINE(connection, **line_row(after), station=entry.station, seq=entry.seq)
    else:
        was = line_row(before)
        changed = {name: it for name, it in line_row(after).items() if it != was[name]}
        _change(tuple(changed))(connection, **changed, **here)
    return after


class Redrawn:
    """The tables of one station, drawn again from its entries in a place of their own.

    On the disk, so that memory stays flat; it is gone when it is closed.
    """

    def __init__(self, station: str) -> None:
        self._station = station
        # A name that is empty is a file that SQLite makes, and removes when it is closed.
        raw = sqlite3.connect("", isolation_level=None)
        raw.execute("PRAGMA synchronous = OFF")
        self._connection = create_engine(
            "sqlite://", creator=lambda: raw, poolclass=NullPool
        ).connect()
        self._connection.exec_driver_sql("BEGIN")
        METADATA.create_all(self._connection, [table for table, _ in DRAWN], checkfirst=False)

    def close(self) -> None:
        """Let go of the place."""
        self._connection.close()

    def take(self, entry: Entry) -> None:
        """One more entry, in order. Raises :class:`JournalError` for what cannot be drawn."""
        note(self._connection, entry)

    def differs(self, kept: Connection) -> tuple[str, str] | None:
        """The first row that is not as the entries give it: its table, and what it is of.

        Nothing is said of an older database, whose tables are brought up to date when it is opened.
        """
        if list(kept.scalars(select(VERSION.c.version_num))) != [REVISIONS[-1]]:
            return None
        for table, names in DRAWN:
            ours, theirs = (self._rows(one, table, names) for one in (self._connection, kept))
            while True:
                mine, other = next(ours, None), next(theirs, None)
                if mine == other:
                    if mine is None:
                        break
                    continue
                first = min(one for one in (mine, other) if one is not None)
                return table.name, " ".join(str(one) for one in first[: len(names)])
        return None

    def _rows(
        self, asked_of: Connection, table: Table, names: tuple[str, ...]
    ) -> Iterator[tuple[Any, ...]]:
        columns = [table.c[name] for name in names]
        columns += [one for one in table.columns if one.name not in (*names, "station")]
        wanted = select(*columns).where(table.c.station == self._station)
        for row in asked_of.execute(wanted.order_by(*columns[: len(names)])):
            yield tuple(row)
