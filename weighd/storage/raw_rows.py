"""Entries as rows, as they stand in the database: for who asks whether they were changed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from sqlalchemy import Connection, bindparam, func, inspect, select

from weighd.domain.chain import Row, check_columns
from weighd.domain.errors import RecordError
from weighd.storage.journal import SqlJournal
from weighd.storage.prepared import Prepared, asked
from weighd.storage.schema import ENTRY, SIGNATURE

#: Rows that are read at a time: some 10 MB at most, as entries are.
PAGE = 4_000

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
    mine = ENTRY.c.station == journal.station
    # Asked one by one each is looked up; asked together SQLite would go through all.
    least, most = (select(one(seq)).where(mine).scalar_subquery() for one in (func.min, func.max))
    first, last = journal.ask(lambda connection: connection.execute(select(least, most)).one())
    if first is None:
        return 0
    for one in (first, last):
        if type(one) is not int or one < 1:
            raise RecordError(
                "unreadable-entry", "Its number is none that is ever given.", where=f"entry {one}"
            )
    return int(last)


def pages(journal: SqlJournal, after: int, upto: int) -> Iterator[list[Sequence[Any]]]:
    """The rows of entries ``after + 1`` to ``upto`` as they stand, a page at a time: memory stays
    flat. Each row has the columns of :class:`Row`. Raises :class:`JournalError`."""

    def page(connection: Connection) -> list[Sequence[Any]]:
        end = min(after + PAGE, upto)
        told = _ROWS(connection, station_is=journal.station, after=after, upto=end)
        return list(told.fetchall())

    while after < upto:
        yield journal.ask(page)
        after += PAGE


def rows(journal: SqlJournal, after: int, upto: int) -> Iterator[Row]:
    """The rows of entries ``after + 1`` to ``upto``; memory stays flat.

    Raises :class:`JournalError`, and :class:`RecordError` for what is no text or number any more.
    """
    for page in pages(journal, after, upto):
        for one in page:
            row = Row(*one)
            check_columns(row)
            yield row


def misfiled_signature(journal: SqlJournal, after: int = 0, upto: int | None = None) -> int | None:
    """The first entry whose signature the database files under another batch than the entry.

    ``after``, ``upto``  among these entries only.
    """
    wanted = (
        select(SIGNATURE.c.seq)
        .join(ENTRY, (ENTRY.c.station == SIGNATURE.c.station) & (ENTRY.c.seq == SIGNATURE.c.seq))
        .where(
            SIGNATURE.c.station == journal.station,
            SIGNATURE.c.batch != ENTRY.c.batch,
            SIGNATURE.c.seq > after,
        )
        .order_by(SIGNATURE.c.seq)
        .limit(1)
    )
    if upto is not None:
        wanted = wanted.where(SIGNATURE.c.seq <= upto)

    def ask(connection: Connection) -> int | None:
        if not inspect(connection).has_table(SIGNATURE.name):
            return None  # an older file, opened to be read
        return connection.scalars(wanted).first()

    return journal.ask(ask)
