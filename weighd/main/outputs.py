"""Records as others read them: tables, a sheet, their schema. What draws is imported when used."""

from __future__ import annotations

import re
import sys
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from weighd.domain.errors import OperatorError, RecordError
from weighd.domain.verify import read_export
from weighd.main.files import read_document
from weighd.main.labels import LabelOutputs
from weighd.main.proving import export_batch
from weighd.storage.address import Place, shown

if TYPE_CHECKING:
    from weighd.reports.sheet_data import Checked
    from weighd.storage.journal import SqlJournal

FORMATS = ("json", "csv", "pdf", "parquet")
_DAY = re.compile(r"\d{4}-(0[1-9]|1[0-2])-(0[1-9]|[12]\d|3[01])", re.ASCII)
_PAGE = 200


@dataclass(frozen=True, slots=True)
class Days:
    """Batches opened from one day to another, both included; days are those of UTC."""

    first: str = ""
    last: str = ""

    def __post_init__(self) -> None:
        """Raises :class:`OperatorError`, ``bad-day``."""
        for one in (self.first, self.last):
            if one and not _DAY.fullmatch(one):
                raise OperatorError(
                    "bad-day", f'"{one}" is not a day.', remedy="Write it like 2026-11-26."
                )
        if self.first and self.last and self.first > self.last:
            raise OperatorError("bad-day", f"{self.first} comes after {self.last}.")

    def holds(self, opened: str) -> bool:
        """Whether something that was opened then is among them."""
        day = opened[:10]
        return (not self.first or day >= self.first) and (not self.last or day <= self.last)


def exported(source: str) -> Mapping[str, Any] | None:
    """The record in a file that was exported before; ``None`` where it is a batch that is named.

    Raises :class:`RecordError`, ``not-a-record``.
    """
    path = Path(source)
    if not (path.suffix == ".json" or len(path.parts) > 1):
        return None
    document = read_document(path)
    read_export(document)
    found: Mapping[str, Any] = document
    return found


def documents(database: Place, batch: str | None, days: Days) -> Iterator[Mapping[str, Any]]:
    """The records of one batch (or in one exported file), or of all batches in those days, the
    oldest first.

    Raises :class:`RecordError`, ``unknown-batch`` or ``no-batches``, and :class:`JournalError`.
    """
    if batch is not None:
        yield exported(batch) or export_batch(database, batch)
        return
    from weighd.storage.journal import open_read_only, stations_in

    found = False
    for station in stations_in(database):
        journal = open_read_only(database, station)
        try:
            for name in batches_in(journal, days):
                found = True
                try:
                    yield document_of(journal, name)
                except RecordError as error:
                    if error.code != "put-away":  # what was put away is in its archive
                        raise
        finally:
            journal.close()
    if not found:
        raise RecordError("no-batches", "There is no batch in those days.", where=shown(database))


def document_of(journal: SqlJournal, batch: str) -> dict[str, Any]:
    """A batch as exports carry it, less the checks that only a verification needs."""
    from weighd.domain.verify import export

    signed = [one for _, one in journal.signatures(batch)]
    return export(journal.station, batch, journal.batch(batch), (), signed)


def batches_in(journal: SqlJournal, days: Days) -> list[str]:
    """The ids of the batches that were opened then, oldest first."""
    out: list[str] = []
    before: str | None = None
    while page := journal.batches(limit=_PAGE, before=before):
        out += [one.id for one in page if days.holds(one.opened)]
        before = page[-1].id
    return out[::-1]


def write_table(database: Place, batch: str | None, days: Days, form: str, out: Path | None) -> int:
    """Write weighings as CSV or Parquet; how many rows. Raises as :func:`documents` does, and
    :class:`OperatorError` where the file cannot be written, or not in this form here."""
    from weighd.reports.told import Record

    records = (Record(one) for one in documents(database, batch, days))
    if form == "parquet":
        from weighd.reports.parquet_table import write_parquet

        if out is None:
            raise _needs_out()
        with whole(out) as part:
            return write_parquet(records, part)
    from weighd.reports.csv_table import csv_lines

    return write_lines(csv_lines(records), out)


def write_lines(lines: Iterable[str], out: Path | None) -> int:
    """Write a table with its header; how many rows. Raises :class:`OperatorError`."""
    rows = -1
    if out is None:
        for line in lines:
            sys.stdout.buffer.write(line.encode("utf-8"))
            rows += 1
        sys.stdout.buffer.flush()
        return rows
    with whole(out) as part, part.open("w", encoding="utf-8", newline="") as stream:
        for line in lines:
            stream.write(line)
            rows += 1
    return rows


def checked(document: Mapping[str, Any]) -> Checked:
    """What a verification says of a record: for its sheet, which tells it."""
    from weighd.domain.verify import read_checks, verify_export
    from weighd.main.drivers import reread
    from weighd.reports.sheet_data import Checked
    from weighd.station.check_history import said_of
    from weighd.storage.keys import made

    try:
        report = verify_export(document, reread, made)
        doubts = said_of(read_export(document), read_checks(document))
    except RecordError as error:
        return Checked(trouble=error)
    except (ArithmeticError, AttributeError, LookupError, TypeError, ValueError) as error:
        wrong = RecordError("unreadable-entry", f"It is not as a record should be: {error!r}.")
        return Checked(trouble=wrong)
    return Checked(
        signed=tuple(report.signed),
        doubts=doubts,
        unread=sorted(report.unread),
        weighings=report.weighings,
        entries=report.entries,
    )


def sheet(document: Mapping[str, Any]) -> tuple[bytes, RecordError | None]:
    """The record sheet as PDF/A, and what is wrong with the record where it does not hold.

    Raises :class:`OperatorError`, ``cannot-typeset``.
    """
    from weighd.reports.sheet import sheet_pdf

    found = checked(document)
    return sheet_pdf(document, found), found.trouble


class RecordOutputs(LabelOutputs):
    """Sheets, tables, labels and the schema, for the network edge."""

    def sheet(self, document: Mapping[str, Any], /) -> bytes:
        """The record sheet, PDF/A. Raises :class:`OperatorError`, ``cannot-typeset``."""
        return sheet(document)[0]

    def table(self, document: Mapping[str, Any], /) -> str:
        """Its weighings as CSV."""
        from weighd.reports.csv_table import csv_lines
        from weighd.reports.told import Record

        return "".join(csv_lines([Record(document)]))

    def recall_pdf(self, told: Mapping[str, Any], /) -> bytes:
        """A recall sheet, PDF/A. Raises :class:`OperatorError`, ``cannot-typeset``."""
        from weighd.reports.recall import recall_pdf

        return recall_pdf(told)

    def recall_csv(self, told: Mapping[str, Any], /) -> str:
        """The same as CSV."""
        from weighd.reports.recall import recall_csv

        return "".join(recall_csv(told))

    def schema(self) -> str:
        """The JSON Schema of records."""
        from weighd.main.shipped import record_schema

        return record_schema()


def write_sheet(database: Place, batch: str, out: Path | None) -> None:
    """Write a batch's sheet. Raises what is wrong with the record, once the sheet is written that
    says so; else as :func:`documents` and :func:`sheet` do."""
    if out is None and sys.stdout.isatty():
        raise _needs_out()
    made, trouble = sheet(exported(batch) or export_batch(database, batch))
    if out is None:
        sys.stdout.buffer.write(made)
        sys.stdout.buffer.flush()
    else:
        with whole(out) as part:
            part.write_bytes(made)
    if trouble is not None:
        raise trouble


@contextmanager
def whole(path: Path) -> Iterator[Path]:
    """Where to write what becomes the file once all of it is there: a failure leaves what was."""
    plain = path.is_file() or not path.exists()
    part = path.with_name(f".{path.name}.part") if plain else path
    try:
        yield part
        if plain:
            part.replace(path)
    except OSError as error:
        raise OperatorError(
            "cannot-write", f"It cannot be written: {error.strerror or error}.", where=str(path)
        ) from error
    finally:
        if plain:
            with suppress(OSError):
                part.unlink(missing_ok=True)


def _needs_out() -> OperatorError:
    return OperatorError(
        "no-file", "This is no text for a terminal.", remedy="Name a file with --out."
    )
