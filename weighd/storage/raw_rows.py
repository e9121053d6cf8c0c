"""Entries as rows, as they stand in the database: for who asks whether they were changed."""

from __future__ import annotations

from collections.abc import Iterator

from sqlalchemy import Connection, bindparam, func, inspect, select

from weighd.domain.chain import Row
from weighd.domain.errors import RecordError
from weighd.storage.journal import SqlJournal
from weighd.storage.prepared import Prepared, asked
from weighd.storage.schema import ENTRY, SIGNATURE

#: Rows that are read at a time: some MB.
PAGE = 1_000

_ROWS = Prepared(
    select(*(ENTRY.c[name] for name in Row._fields))
    .where(
        ENTRY.c.station == asked(ENTRY.c.station),
        ENTRY.c.seq > bindparam("after", type_=ENTRY.c.seq.type),
        ENTRY.c.seq <= bindparam("upto", type_=ENTRY.c.seq.type),
    )
    .order_by(ENTRY.c.seq)
)


def size_of(journal: SqlJournal) -> int:
    """How many entries a journal has, by the number of its newest.

    Raises :class:`RecordError` for rows that have no place among them.
    """
    seq = ENTRY.c.seq
    wanted = select(func.min(seq), func.max(seq)).where(ENTRY.c.station == journal.station)
    first, last = journal.ask(lambda connection: connection.execute(wanted).one())
    if first is None:
        return 0
    for one in (first, last):
        if type(one) is not int or one < 1:
            raise RecordError(
                "unreadable-entry", "Its number is none that is ever given.", where=f"entry {one}"
            )
    return int(last)


def rows(journal: SqlJournal, after: int, upto: int) -> Iterator[Row]:
    """The rows of entries ``after + 1`` to ``upto``, a page at a time: memory stays flat.

    Raises :class:`JournalError`, and :class:`RecordError` for what is no text or number any more.
    """

    def page(connection: Connection) -> list[Row]:
        end = min(after + PAGE, upto)
        told = _ROWS(connection, station_is=journal.station, after=after, upto=end)
        return [Row(*one) for one in told.fetchall()]

    while after < upto:
        for row in journal.ask(page):
            if not _of_its_kinds(row):
                raise RecordError(
                    "unreadable-entry",
                    "A column of it holds something of another kind than was written.",
                    where=f"entry {row.seq}",
                )
            yield row
        after += PAGE


def misfiled_signature(journal: SqlJournal) -> int | None:
    """The first entry whose signature the database files under another batch than the entry."""
    wanted = (
        select(SIGNATURE.c.seq)
        .join(ENTRY, (ENTRY.c.station == SIGNATURE.c.station) & (ENTRY.c.seq == SIGNATURE.c.seq))
        .where(SIGNATURE.c.station == journal.station, SIGNATURE.c.batch != ENTRY.c.batch)
        .order_by(SIGNATURE.c.seq)
        .limit(1)
    )

    def ask(connection: Connection) -> int | None:
        if not inspect(connection).has_table(SIGNATURE.name):
            return None  # an older file, opened to be read
        return connection.scalars(wanted).first()

    return journal.ask(ask)


def _of_its_kinds(row: Row) -> bool:
    return (
        type(row.seq) is int
        and type(row.station) is type(row.kind) is type(row.at) is str
        and type(row.body) is type(row.prev) is type(row.hash) is str
    )
