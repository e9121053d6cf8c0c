"""Records as any of the tables that there are, one at a time or all of them into a folder."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING, Any

from weighd.domain.errors import OperatorError
from weighd.main.lot_files import today
from weighd.main.outputs import Days, documents, whole, write_lines
from weighd.storage.address import Place

if TYPE_CHECKING:
    from weighd.reports.columns import Value

EVERY = "all"
NAMES = (
    *("weighings", "batches", "deviations", "corrections"),
    *("steps", "draws", "yields", "lots"),
)


def write_one(name: str, database: Place, batch: str | None, days: Days, out: Path | None) -> int:
    """Write one table as CSV; how many rows it has.

    Raises as :func:`~weighd.main.outputs.documents` does, :class:`OperatorError` where the file
    cannot be written, and :class:`RecordError`, ``unreadable-entry``, where a table has to be
    reckoned from entries that are not as they should be.
    """
    from weighd.reports.csv_table import lines_of
    from weighd.reports.tables import TABLES
    from weighd.reports.told import Record

    table = TABLES[name]
    if name == "lots":
        return write_lines(lines_of(table.heads, _lots(database)), out)
    records = (Record(one) for one in documents(database, batch, days))
    return write_lines(
        lines_of(table.heads, (row for one in records for row in table.rows(one))), out
    )


def write_all(database: Place, batch: str | None, days: Days, folder: Path) -> Mapping[str, int]:
    """Write every table into a folder, which is made; how many rows each has. The records are read
    once. Of one batch there is no table of lots. Raises as :func:`write_one` does."""
    from weighd.reports.csv_table import lines_of
    from weighd.reports.tables import TABLES
    from weighd.reports.told import Record

    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OperatorError(
            "cannot-write", f"The folder cannot be made: {error.strerror}.", where=str(folder)
        ) from error
    rows = dict.fromkeys((one for one in NAMES if one != "lots"), 0)
    with ExitStack() as stack:
        streams = {}
        for name in rows:
            part = stack.enter_context(whole(folder / f"{name}.csv"))
            stream = stack.enter_context(part.open("w", encoding="utf-8", newline=""))
            stream.write(next(iter(lines_of(TABLES[name].heads, ()))))
            streams[name] = stream
        for document in documents(database, batch, days):
            record = Record(document)
            for name, stream in streams.items():
                _, *lines = lines_of(TABLES[name].heads, TABLES[name].rows(record))
                stream.writelines(lines)
                rows[name] += len(lines)
    if batch is None:
        rows["lots"] = write_one("lots", database, None, days, folder / "lots.csv")
    return rows


def _lots(database: Place) -> Iterator[Mapping[str, Value]]:
    from weighd.domain.lots import LotBook
    from weighd.reports.tables import lot_rows
    from weighd.station.lot_history import lots_in
    from weighd.storage.journal import open_read_only, stations_in

    for station in stations_in(database):
        journal = open_read_only(database, station)
        try:
            book: Any = LotBook(lots_in(journal))
            yield from lot_rows(station, book, today())
        finally:
            journal.close()
