"""What the command line does with lots: out of a database, beside a running station or without."""

from __future__ import annotations

import time
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from weighd.domain.lots import LotBook
from weighd.domain.trace import Trace, trace
from weighd.main.files import database_of
from weighd.station.lot_history import lots_in, told_of
from weighd.station.lots_drawn import draw_lot, draw_lots
from weighd.station.recalling import draw_recall, rows_of
from weighd.station.stock import unknown_lot
from weighd.storage.address import Place


def today() -> str:
    """The present day, UTC."""
    from weighd.clock import SystemClock

    return SystemClock().utc()[:10]


def list_lots(
    config: Path | None, database: Place | None, word: str, *, gone: bool
) -> list[dict[str, Any]]:
    """The lots of a station, soonest to expire first. Raises :class:`JournalError`."""
    from weighd.storage.journal import open_read_only

    journal = open_read_only(database or database_of(config))
    try:
        return draw_lots(LotBook(lots_in(journal)), today(), word, gone=gone)
    finally:
        journal.close()


def show_lot(config: Path | None, database: Place | None, lot: str) -> dict[str, Any]:
    """One lot with its entries. Raises :class:`OperatorError`, :class:`JournalError`."""
    from weighd.storage.journal import open_read_only

    journal = open_read_only(database or database_of(config))
    try:
        found = LotBook(lots_in(journal)).find(lot)
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


def trace_lot(config: Path | None, database: Place | None, lot: str) -> Traced:
    """Trace a lot both ways. Raises :class:`OperatorError`, :class:`JournalError`."""
    from weighd.storage.journal import open_read_only

    journal = open_read_only(database or database_of(config))
    try:
        begun = time.perf_counter()
        book = LotBook(lots_in(journal))
        known = book.find(lot)
        code = known.code if known else lot
        found: Trace = trace(
            code, journal.uses_of_lots, journal.uses_in_batches, journal.masses_of_batches
        )
        took = time.perf_counter() - begun
        rows = rows_of(journal, found)
    finally:
        journal.close()
    if known is None and not found.uses and not found.back:
        raise unknown_lot(lot)
    took_ms = round(took * 1000, 1)
    return Traced(draw_recall(found, known, book, rows, day=today(), took_ms=took_ms), took)


def write_recall(told: Mapping[str, Any], form: str, out: Path) -> None:
    """Write a recall as a sheet, ``pdf`` or ``csv``. Raises :class:`OperatorError`."""
    from weighd.main.outputs import RecordOutputs, whole

    outputs = RecordOutputs()
    made = outputs.recall_pdf(told) if form == "pdf" else outputs.recall_csv(told).encode("utf-8")
    with whole(out) as part:
        part.write_bytes(made)
