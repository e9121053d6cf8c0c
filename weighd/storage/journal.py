"""The journal of a station in a database: one writer, atomic and durable appends.

What SQLite needs for that is in ``sqlite``; here is only what any database of the kind can do.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from decimal import Decimal
from pathlib import Path
from typing import Protocol, TypeVar

from sqlalchemy import Connection, Select, func, insert, select

from weighd.domain.away import as_was
from weighd.domain.batch import Status
from weighd.domain.check_record import CHECKED
from weighd.domain.clock_said import Wall
from weighd.domain.errors import JournalError
from weighd.domain.kinds import ENDS
from weighd.domain.lot_record import KINDS as LOT_KINDS
from weighd.domain.lot_uses import Drawn, Use
from weighd.domain.record import Entry, Tail
from weighd.domain.signing import Signature, Signer
from weighd.station.ports import BatchRow, Opening, Tally
from weighd.storage.address import Place, is_address, read_address, shown
from weighd.storage.devices import DeviceBook
from weighd.storage.heard import HeardBook
from weighd.storage.learned import LearnedBook
from weighd.storage.learned import Store as Asked
from weighd.storage.lines import lines_of, lines_with, newest_lines, newest_of_formulas
from weighd.storage.openings import openings, tally
from weighd.storage.people import PersonBook
from weighd.storage.prepared import Prepared, asked, given
from weighd.storage.redrawing import forget, note
from weighd.storage.rows import follow, key_used, keys_of, restored, stored
from weighd.storage.schema import BATCH, ENTRY
from weighd.storage.signatures import hashes, latest_key, sign, signatures
from weighd.storage.sqlite import QuietStore, SqliteStore
from weighd.storage.stations import stations
from weighd.storage.turns import take_turn
from weighd.storage.uses import drawn, masses_of_batches, uses_in_batches, uses_of_lots
from weighd.storage.vessels import VesselBook

T = TypeVar("T")

#: Entries that are read at a time, some kB each; checks, where a long one has tens of kB.
PAGE, NEWEST_PAGE, CHECKS_PAGE = 100, 20, 10

_ADD = Prepared(insert(ENTRY).values(given(ENTRY)))
_NEWEST = Prepared(
    select(ENTRY.c.seq, ENTRY.c.hash).where(
        ENTRY.c.station == asked(ENTRY.c.station),
        ENTRY.c.seq
        == select(func.max(ENTRY.c.seq))
        .where(ENTRY.c.station == asked(ENTRY.c.station))
        .scalar_subquery(),
    )
)
_USED = Prepared(
    select(ENTRY.c.seq).where(
        ENTRY.c.station == asked(ENTRY.c.station), ENTRY.c.key == asked(ENTRY.c.key)
    )
)


class Store(Asked, Protocol):
    """A database that holds journals. Every call may raise ``JournalError``."""

    def close(self) -> None: ...


class SqlJournal:
    """The journal of one station in a :class:`Store`. Reads may come from any thread.

    ``signer``    signs each batch that is over, in the transaction that ends it.
    ``appended``  called after entries were appended, by whoever appended them.
    ``copied``    the copy of an older record, made before it was brought up to date.
    """

    def __init__(self, store: Store, station: str) -> None:
        self.station = station
        self.signer: Signer | None = None
        self.appended: Callable[[], None] = lambda: None
        self.copied: Path | None = getattr(store, "copied", None)
        self._store = store
        self._all = select(ENTRY).where(ENTRY.c.station == station)

    def append(self, entries: Sequence[Entry]) -> None:
        """Write entries that follow the newest: all for good, or, if it raises JournalError,
        none; the journal can be used again once its cause is gone."""
        if not entries:
            return
        rows = [stored(one) for one in entries]
        keys = keys_of(rows)

        def add(connection: Connection) -> None:
            take_turn(connection, self.station)
            follow(self.station, self.tail_in(connection), entries)
            for key in keys:
                if _USED(connection, station_is=self.station, key_is=key).fetchone() is not None:
                    raise key_used(key)
            for one, columns in zip(entries, rows, strict=True):
                _ADD(connection, **columns)
                row = note(connection, one)
                over = one.kind in ENDS or (row is not None and row.closed is not None)
                if self.signer is not None and over:
                    sign(connection, self.signer, one)

        self._store.write(add)
        self.appended()

    def tail(self) -> Tail:
        """Number and hash of the newest entry."""
        return self._store.read(self.tail_in)

    def wall(self) -> Wall:
        """How times stand after the newest entry."""
        found = self._read(self._all.where(ENTRY.c.seq == self.tail().seq))
        return Wall.after(found[0]) if found else Wall()

    def batch(self, batch: str) -> Sequence[Entry]:
        """The entries of one batch, oldest first; empty when there is none."""
        return self._read(self._all.where(ENTRY.c.batch == batch).order_by(ENTRY.c.seq))

    def open_batch(self) -> Sequence[Entry]:
        """The entries of the batch that is still open; empty when none is."""
        newest = (
            select(BATCH.c.id)
            .where(BATCH.c.station == self.station, BATCH.c.status == Status.OPEN.value)
            .order_by(BATCH.c.seq.desc())
            .limit(1)
        )
        wanted = self._all.where(ENTRY.c.batch == newest.scalar_subquery())
        return self._read(wanted.order_by(ENTRY.c.seq))

    def in_process(self) -> Sequence[Sequence[Entry]]:
        """The entries of each batch in process, the oldest first."""
        wanted = select(BATCH.c.id).where(
            BATCH.c.station == self.station, BATCH.c.status == Status.IN_PROCESS.value
        )
        names = self._store.read(
            lambda connection: connection.scalars(wanted.order_by(BATCH.c.seq)).all()
        )
        return [self.batch(one) for one in names]

    def batches(self, *, limit: int = 50, before: str | None = None) -> Sequence[BatchRow]:
        """Newest first; ``before`` is a batch id to go on from, and nothing precedes a stranger."""
        return newest_lines(self._store, self.station, limit, before)

    def find_batches(self, words: Sequence[str], limit: int) -> Sequence[BatchRow]:
        """Those with all these words, newest first."""
        return lines_with(self._store, self.station, words, limit)

    def newest_of_formulas(self) -> Mapping[str, BatchRow]:
        """The newest batch of each formula that was all weighed, by the formula's id."""
        return newest_of_formulas(self._store, self.station)

    def lines_of(self, batches: Iterable[str]) -> Mapping[str, BatchRow]:
        """The lines of these batches by their ids, as far as there are such."""
        return lines_of(self._store, self.station, batches)

    def openings(self, formula: str) -> Sequence[Opening]:
        """Which revision of a formula each of its batches was opened with, oldest first."""
        return openings(self._store, self.station, formula)

    def count_batches(self) -> int:
        """How many batches were ever opened."""
        wanted = select(func.count()).select_from(BATCH).where(BATCH.c.station == self.station)
        return self._store.read(lambda connection: connection.execute(wanted).scalar_one())

    def tally(self, kinds: Collection[str]) -> Tally:
        """How many entries there are of these kinds."""
        return tally(self._store, self.station, kinds)

    def entry_for_key(self, key: str) -> Entry | None:
        """The entry that a command with this idempotency key made, if it made one."""
        found = self._read(self._all.where(ENTRY.c.key == key))
        return found[0] if found else None

    def entries(
        self, *, after: int = 0, limit: int | None = None, kind: str | None = None
    ) -> Iterable[Entry]:
        """All entries in order, a page at a time: memory stays flat, and nothing is held open."""
        wanted = self._all if kind is None else self._all.where(ENTRY.c.kind == kind)
        return _paged(self._read, wanted, after, limit)

    def checks(self, *, before: int | None = None) -> Iterable[Entry]:
        """The checks of scales, newest first, a page at a time.

        They are of no batch, and the index of entries by batch finds them by that.
        """
        wanted = self._all.where(ENTRY.c.batch.is_(None), ENTRY.c.kind == CHECKED)
        return self._backwards(wanted, before, CHECKS_PAGE)

    def newest(self, kind: str, *, before: int | None = None) -> Iterable[Entry]:
        """The entries of a kind, newest first, a page at a time."""
        return self._backwards(self._all.where(ENTRY.c.kind == kind), before, NEWEST_PAGE)

    def _backwards(
        self, wanted: Select[tuple[object, ...]], before: int | None, size: int
    ) -> Iterator[Entry]:
        while True:
            older = wanted if before is None else wanted.where(ENTRY.c.seq < before)
            page = self._read(older.order_by(ENTRY.c.seq.desc()).limit(size))
            yield from page
            if len(page) < size:
                return
            before = page[-1].seq

    def lot_entries(self) -> Iterable[Entry]:
        """The entries of lots, oldest first, a page at a time: they are of no batch."""
        wanted = self._all.where(ENTRY.c.batch.is_(None), ENTRY.c.kind.in_(LOT_KINDS))
        return _paged(self._read, wanted, 0, None)

    def drawn(self) -> Mapping[str, Drawn]:
        """What was drawn from each lot by now."""
        return drawn(self._store, self.station)

    def uses_of_lots(self, lots: Sequence[str]) -> Sequence[Use]:
        """What went where from these lots, in the order of the record."""
        return uses_of_lots(self._store, self.station, lots)

    def uses_in_batches(self, batches: Sequence[str]) -> Sequence[Use]:
        """What went into these batches, in the order of the record."""
        return uses_in_batches(self._store, self.station, batches)

    def masses_of_batches(self, batches: Sequence[str]) -> Mapping[str, Decimal]:
        """Grams of all that was weighed into each of these batches."""
        return masses_of_batches(self._store, self.station, batches)

    def rebuild_batches(self) -> int:
        """Draw the lists of batches and of uses from the entries again; say how many batches.
        Raises JournalError, and leaves the list as it was, when an entry cannot be read."""

        def draw(connection: Connection) -> int:
            take_turn(connection, self.station)
            forget(connection, self.station)
            every = _paged(lambda wanted: _fetch(connection, wanted), self._all, 0, None)
            for one in map(as_was, every):
                note(connection, one)
            wanted = select(func.count()).select_from(BATCH).where(BATCH.c.station == self.station)
            return connection.execute(wanted).scalar_one()

        return self._store.write(draw)

    def learned(self) -> LearnedBook:
        """What was learned of the station's scales, in the same database."""
        return LearnedBook(self._store, self.station)

    def people(self) -> PersonBook:
        """Who works at the station, in the same database."""
        return PersonBook(self._store, self.station)

    def devices(self) -> DeviceBook:
        """The devices that were paired with the station, in the same database."""
        return DeviceBook(self._store, self.station)

    def vessels(self) -> VesselBook:
        """The vessels that were weighed here, in the same database."""
        return VesselBook(self._store, self.station)

    def heard(self) -> HeardBook:
        """What was heard of other stations, in the same database."""
        return HeardBook(self._store, self.station)

    def signatures(
        self, batch: str | None = None, *, after: int = 0, upto: int | None = None
    ) -> Iterable[tuple[int, Signature]]:
        """What it signed (of entries beyond ``after``), with the entry that each ends with."""
        return signatures(self._store, self.station, batch, after, upto)

    def hashes(self, upto: int, *, after: int = 0) -> Iterable[str]:
        """The hashes of the first ``upto`` entries, in order; only those beyond ``after``."""
        return hashes(self._store, self.station, upto, after)

    def latest_key(self) -> str | None:
        """The public key that signed last, in hex."""
        return latest_key(self._store, self.station)

    def ask(self, question: Callable[[Connection], T]) -> T:
        """Ask the database itself one thing: for who knows its tables."""
        return self._store.read(question)

    def close(self) -> None:
        """Let go of the database. Does nothing the second time."""
        self._store.close()

    def _read(self, wanted: Select[tuple[object, ...]]) -> list[Entry]:
        return self._store.read(lambda connection: _fetch(connection, wanted))

    def tail_in(self, connection: Connection) -> Tail:
        """Number and hash of the newest entry, within a transaction."""
        row = _NEWEST(connection, station_is=self.station).fetchone()
        if row is None:
            return Tail()
        if type(row[0]) is not int or not isinstance(row[1], str):
            raise JournalError(
                "unreadable-entry",
                "Its number or its hash is none any more.",
                where=f"entry {row[0]!r}",
                remedy="See what else was changed: weighd verify DATABASE.",
            )
        return Tail(*row)


def open_journal(path: Path, station: str) -> SqlJournal:
    """The journal of a station in an SQLite file, which is made if it is not there.

    Raises :class:`JournalError`: ``store-in-use`` when another daemon has it, ``store-newer``
    and ``store-not-ours`` for a file that is not for this weighd, which is not touched, and
    what else an append can raise.
    """
    return SqlJournal(SqliteStore(path), station)


def open_read_only(place: Place, station: str | None = None, *, batch: str = "") -> SqlJournal:
    """A journal to verify or export from, beside a running daemon or without one.

    ``place``    an SQLite file, or the address of a shared store, which may name the station.
    ``station``  where there are the journals of several; else it is the only one, or
    ``batch``    the one that has this batch.

    Nothing is written, made or migrated. Raises :class:`JournalError`, among others
    ``several-stations``.
    """
    if station is None:
        there = stations_in(place)
        if len(there) > 1 and batch:
            there = [one for one in there if has_batch(place, one, batch)] or there
        if len(there) > 1:
            raise JournalError(
                "several-stations",
                f"It holds the records of {len(there)} stations: {', '.join(there)}.",
                where=shown(place),
                remedy="Say which one: put ?station=NAME after the address."
                if is_address(place)
                else "Say which one.",
            )
        station = there[0] if there else ""
    return SqlJournal(_quiet(place), station)


def stations_in(place: Place) -> Sequence[str]:
    """The stations that have a journal in a file or shared store; of an address that names one,
    that one. Raises :class:`JournalError`."""
    store = _quiet(place)
    try:
        there = store.read(stations)
    finally:
        store.close()
    wanted = read_address(str(place)).station if is_address(place) else ""
    if not wanted:
        return there
    if wanted not in there:
        raise JournalError(
            "other-station",
            f'There is no record of station "{wanted}".',
            where=shown(place),
            remedy=f"There are those of {', '.join(there)}." if there else "",
        )
    return [wanted]


def has_batch(place: Place, station: str, batch: str) -> bool:
    """Whether a station's journal has a batch of this name. Raises :class:`JournalError`."""
    journal = SqlJournal(_quiet(place), station)
    try:
        return bool(journal.batch(batch))
    finally:
        journal.close()


def _quiet(place: Place) -> Store:
    if isinstance(place, Path) or not is_address(place):
        return QuietStore(Path(place))
    from weighd.storage.postgres import PostgresStore  # noqa: PLC0415  (what one bench never needs)

    return PostgresStore(read_address(place), make=False)


def _fetch(connection: Connection, wanted: Select[tuple[object, ...]]) -> list[Entry]:
    return [restored(row) for row in connection.execute(wanted).mappings()]


def _paged(
    fetch: Callable[[Select[tuple[object, ...]]], list[Entry]],
    every: Select[tuple[object, ...]],
    after: int,
    limit: int | None,
) -> Iterator[Entry]:
    left = limit
    while left is None or left > 0:
        size = PAGE if left is None else min(PAGE, left)
        page = fetch(every.where(ENTRY.c.seq > after).order_by(ENTRY.c.seq).limit(size))
        yield from page
        if len(page) < size:
            return
        after = page[-1].seq
        left = None if left is None else left - size
