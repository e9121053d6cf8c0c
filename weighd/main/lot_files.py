"""What the command line does with lots: out of a database, beside a running station or without."""

from __future__ import annotations

import csv
import io
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from weighd.domain.lots import LotBook
from weighd.domain.trace import Trace, trace
from weighd.main.files import database_of
from weighd.station.lot_history import lots_in, told_of
from weighd.station.lots_drawn import draw_balance, draw_lot, draw_lots, draw_trace
from weighd.station.recall_sheet import recall_rows
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
    """A trace, as JSON values and as a recall sheet; ``took_s``: how long it took to find."""

    drawn: dict[str, Any]
    sheet: str
    took_s: float


def trace_lot(config: Path | None, database: Place | None, lot: str) -> Traced:
    """Trace a lot both ways. Raises :class:`OperatorError`, :class:`JournalError`."""
    from weighd.storage.journal import open_read_only

    journal = open_read_only(database or database_of(config))
    try:
        begun = time.perf_counter()
        known = LotBook(lots_in(journal)).find(lot)
        code = known.code if known else lot
        found: Trace = trace(
            code, journal.uses_of_lots, journal.uses_in_batches, journal.masses_of_batches
        )
        took = time.perf_counter() - begun
    finally:
        journal.close()
    if known is None and not found.uses and not found.back:
        raise unknown_lot(lot)
    drawn = draw_trace(found, known, today())
    if known is not None:
        drawn["balance"] = draw_balance(known)
    text = io.StringIO()
    csv.writer(text, lineterminator="\r\n").writerows(recall_rows(found, known))
    return Traced(drawn, text.getvalue(), took)
