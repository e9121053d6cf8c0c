"""What the command line does with lots: out of a database, beside a running station or without."""

from __future__ import annotations

import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from weighd.config import load
from weighd.domain.lot_shared import spread
from weighd.domain.lots import Lot, LotBook
from weighd.domain.trace import Trace
from weighd.main.files import database_of
from weighd.main.sending import address_of, open_shared
from weighd.station import everywhere
from weighd.station.everywhere import draw_everywhere, known_stations
from weighd.station.lot_history import lots_in, told_of
from weighd.station.lots_drawn import draw_lot, draw_lots
from weighd.station.ports import BatchRow
from weighd.station.recalling import draw_recall
from weighd.station.stock import unknown_lot
from weighd.storage.address import Address, Place, is_address, read_address
from weighd.storage.journal import SqlJournal, open_read_only

if TYPE_CHECKING:
    from weighd.storage.postgres import PostgresStore


def today() -> str:
    """The present day, UTC."""
    from weighd.clock import SystemClock

    return SystemClock().utc()[:10]


def list_lots(
    config: Path | None, database: Place | None, word: str, *, gone: bool
) -> list[dict[str, Any]]:
    """The lots of a station, soonest to expire first. Raises :class:`JournalError`."""
    journal = open_read_only(database or database_of(config))
    try:
        return draw_lots(book_of(journal)[0], today(), word, gone=gone)
    finally:
        journal.close()


def show_lot(config: Path | None, database: Place | None, lot: str) -> dict[str, Any]:
    """One lot with its entries. Raises :class:`OperatorError`, :class:`JournalError`."""
    journal = open_read_only(database or database_of(config))
    try:
        found = book_of(journal)[0].find(lot)
        if found is None:
            raise unknown_lot(lot)
        return {**draw_lot(found, today()), "history": told_of(journal, found.code)}
    finally:
        journal.close()


@dataclass(frozen=True, slots=True)
class Traced:
    """A trace as JSON values, with what a recall has besides; ``took_s``: how long it took."""

    drawn: dict[str, Any]
    took_s: float


def book_of(journal: SqlJournal) -> tuple[LotBook, str]:
    """The lots of a station with what other stations drew, and when that was heard (UTC)."""
    book = LotBook(lots_in(journal))
    sums, at = journal.heard().last()
    spread(book, journal.station, sums)
    return book, at


def trace_lot(
    config: Path | None, database: Place | None, lot: str, *, here: bool = False
) -> Traced:
    """Trace a lot both ways.

    ``database``  a station's file, or the address of a shared store: then at every station. Without
                  one, that of the configured station, and every station where it shares a store
                  that can be reached, unless only that one is meant (``here``).
    Raises :class:`OperatorError`, :class:`JournalError`, :class:`ConfigError`.
    """
    if database is not None and is_address(database):
        with _shared(read_address(str(database))) as store:
            return _everywhere(store, lot)
    address = None if here or database is not None else address_of(load(config))
    journal = open_read_only(database or database_of(config))
    try:
        book, heard_at = book_of(journal)
        known, begun = book.find(lot), time.perf_counter()
        found, rows, beside = everywhere.trace_lot(
            journal,
            journal.station,
            lot,
            known,
            None if address is None else partial(_asked, address),
            unseen=known_stations(book, journal.station),
            heard_at=heard_at,
        )
        took = time.perf_counter() - begun
    finally:
        journal.close()
    return _made(found, known, book, rows, took, beside)


def _asked(address: Address, code: str, origin: str) -> everywhere.Traced:
    """At every station, of a shared store that is reached for it."""
    from weighd.storage.everywhere import Everywhere

    with _shared(address) as store:
        return Everywhere(store).traced(code, origin)


def _everywhere(store: PostgresStore, lot: str) -> Traced:
    """At every station, beside none of them."""
    from weighd.storage.everywhere import Everywhere

    begun, known, book = time.perf_counter(), None, LotBook()
    it = Everywhere(store).traced(lot, "")
    took = time.perf_counter() - begun
    if len(it.owners) == 1:
        # As the station that received it knows it, which is told of what the others did to it.
        journal = SqlJournal(store, it.owners[0])
        book = LotBook(lots_in(journal))
        spread(book, journal.station, Everywhere(store).news(journal.station, {}, book).sums)
        known = book.get(lot)
    return _made(it.found, known, book, it.rows, took, draw_everywhere(it))


def _made(
    found: Trace,
    known: Lot | None,
    book: LotBook,
    rows: Mapping[str, BatchRow],
    took: float,
    beside: Mapping[str, Any],
) -> Traced:
    if known is None and not found.uses and not found.back:
        raise unknown_lot(found.lot)
    took_ms = round(took * 1000, 1)
    drawn = draw_recall(found, known, book, rows, day=today(), took_ms=took_ms)
    return Traced({**drawn, **beside}, took)


@contextmanager
def _shared(address: Address) -> Iterator[PostgresStore]:
    store = open_shared(address, make=False)
    try:
        yield store
    finally:
        store.close()


def write_recall(told: Mapping[str, Any], form: str, out: Path) -> None:
    """Write a recall as a sheet, ``pdf`` or ``csv``. Raises :class:`OperatorError`."""
    from weighd.main.outputs import RecordOutputs, whole

    outputs = RecordOutputs()
    made = outputs.recall_pdf(told) if form == "pdf" else outputs.recall_csv(told).encode("utf-8")
    with whole(out) as part:
        part.write_bytes(made)
