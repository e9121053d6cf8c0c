"""Batches put away out of a station's own file: which may go, and the one change that does it."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Sequence
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Connection, func, insert, select, update

from weighd.domain.away import AWAY, PUT_AWAY
from weighd.domain.batch import Status
from weighd.domain.canonical_json import canonical_text
from weighd.domain.errors import JournalError
from weighd.domain.record import Entry
from weighd.storage.journal import SqlJournal, Store
from weighd.storage.rows import follow, stored
from weighd.storage.schema import BATCH, ENTRY


@dataclass(frozen=True, slots=True)
class Old:
    """A batch that is over: its entries, the newest of them, and the bytes of their bodies."""

    id: str
    opened: str
    last: str
    seq: int
    entries: int
    size: int


def over_before(journal: SqlJournal, before: str) -> list[Old]:
    """The batches that are over, here whole, and had nothing recorded since ``before``, oldest
    first."""
    mine = (ENTRY.c.station == BATCH.c.station, ENTRY.c.batch == BATCH.c.id)
    wanted = (
        select(
            BATCH.c.id,
            BATCH.c.opened,
            func.max(ENTRY.c.at),
            func.max(ENTRY.c.seq),
            func.count(),
            func.sum(func.length(ENTRY.c.body)),
        )
        .join(ENTRY, mine[0] & mine[1])
        .where(
            BATCH.c.station == journal.station,
            BATCH.c.status.in_([Status.CLOSED.value, Status.ABANDONED.value]),
            BATCH.c.closed < before,
        )
        .group_by(BATCH.c.id, BATCH.c.opened, BATCH.c.seq)
        .having(func.max(ENTRY.c.at) < before, func.max(ENTRY.c.kind) != AWAY)
        .order_by(BATCH.c.seq)
    )
    # Every batch that is there whole has a kind greater than ``away``: its opening.
    rows = journal.ask(lambda connection: connection.execute(wanted).all())
    return [Old(*row) for row in rows]


def tells_of(journal: SqlJournal, archive: str) -> bool:
    """Whether an entry says that batches were put away into an archive of this name."""
    wanted = select(ENTRY.c.body).where(
        ENTRY.c.station == journal.station, ENTRY.c.kind == PUT_AWAY
    )
    bodies = journal.ask(lambda connection: connection.scalars(wanted).all())
    return any(json.loads(one).get("archive") == archive for one in bodies)


def put_in_place(store: Store, station: str, entry: Entry, stubs: Sequence[Entry]) -> None:
    """Have the stubs stand in the place of their entries, and the entry that says so: all of it,
    or, where this raises, nothing.

    Raises :class:`JournalError`, ``journal-forked`` where an entry is not as it was read.
    """

    def change(connection: Connection) -> None:
        journal = SqlJournal(store, station)
        follow(station, journal.tail_in(connection), [entry])
        for one in stubs:
            done = connection.execute(
                update(ENTRY)
                .where(
                    ENTRY.c.station == station,
                    ENTRY.c.seq == one.seq,
                    ENTRY.c.hash == one.hash,
                    ENTRY.c.kind != AWAY,
                )
                .values(kind=AWAY, body=canonical_text(dict(one.body)))
            )
            if done.rowcount != 1:
                raise JournalError(
                    "journal-forked",
                    "The entry is not what it was when it was put into the archive. Nothing was "
                    "put away.",
                    where=f"entry {one.seq}",
                )
        assert entry.kind == PUT_AWAY
        connection.execute(insert(ENTRY), [stored(entry)])

    store.write(change)


def put_away_in(journal: SqlJournal, entries: Sequence[Entry], stubs: Sequence[Entry]) -> None:
    """The same in a journal that a station holds open. Raises as :func:`put_in_place`."""
    (entry,) = entries
    put_in_place(journal._store, journal.station, entry, stubs)
    journal.appended()


def give_back_room(path: Path) -> int:
    """Give the room that became free back to the disk; how many bytes the file has less.

    The station's store must be closed. Raises :class:`JournalError`; nothing is lost then.
    """
    before = path.stat().st_size
    try:
        with closing(sqlite3.connect(path, isolation_level=None)) as connection:
            connection.execute("PRAGMA synchronous = FULL")
            connection.execute("VACUUM")
            connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    except sqlite3.Error as error:
        raise JournalError(
            "store-failed",
            f"The batches are put away, but the room could not be given back: {error}.",
            where=str(path),
            remedy="It needs as much free room as the record has, for a moment. It is used by what "
            "comes next otherwise.",
        ) from error
    return before - path.stat().st_size
