"""What a database keeps beside the record: the columns that entries are found by, the lists drawn
from them, and where signatures are filed.

None of it is the record, which stands in the bodies that were hashed. But exports, lists, stock and
traces go by it, and who can change a body can change these.
"""

from __future__ import annotations

from collections.abc import Iterator

from weighd.domain.away import as_was
from weighd.domain.canonical_json import canonical_text
from weighd.domain.chain import Row
from weighd.domain.errors import JournalError, RecordError
from weighd.domain.record import Entry
from weighd.storage.journal import SqlJournal
from weighd.storage.raw_rows import misfiled_signature, rows, size_of
from weighd.storage.redrawing import Redrawn
from weighd.storage.rows import restored, without_nul

REDRAW = "Stop the station and have the lists drawn again: weighd verify --redraw."


class Beside:
    """Reads a journal's entries; afterwards says whether what stands beside them fits."""

    def __init__(self, journal: SqlJournal) -> None:
        self._journal = journal
        self._lists = Redrawn(journal.station)
        self._why: RecordError | None = None

    def entries(self) -> Iterator[Entry]:
        """All entries in order, each as it stands. Raises :class:`RecordError` for columns that
        are not as it says."""
        for row in rows(self._journal, 0, size_of(self._journal)):
            entry = restored(row._asdict())
            yield entry  # what the entry itself is found to be comes first
            _columns(row, entry)
            self._draw(entry)

    def check(self) -> None:
        """Once all entries hold. Raises :class:`RecordError`."""
        if misfiled := misfiled_signature(self._journal):
            raise RecordError(
                "column-differs",
                "Its signature is filed under another batch.",
                where=f"entry {misfiled}",
            )
        found = self._why or self._journal.ask(self._lists.differs)
        self._lists.close()
        if isinstance(found, RecordError):
            raise found
        if found is not None:
            table, of = found
            raise RecordError(
                "list-differs",
                "The entries hold, but a list that is drawn from them was changed: lists, stock "
                "and traces may be wrong.",
                where=f"table {table}, {of}",
                remedy=REDRAW,
            )

    def _draw(self, entry: Entry) -> None:
        if self._why is None:
            try:
                self._lists.take(as_was(entry))
            except JournalError as error:
                self._why = RecordError(
                    error.code, error.message, where=error.where, remedy=error.remedy
                )


def _columns(row: Row, entry: Entry) -> None:
    where = f"entry {row.seq}"
    try:
        written = canonical_text(dict(entry.body))
    except (ValueError, TypeError, RecursionError) as error:
        raise RecordError(
            "not-canonical", f"This cannot be hashed: {error}.", where=where
        ) from error
    if written != row.body:
        raise RecordError(
            "not-canonical",
            "The body is not the canonical JSON that was written.",
            where=where,
        )
    for name, kept in (("batch", row.batch), ("key", row.key)):
        said = entry.body.get(name) or None
        if kept != (without_nul(said) if isinstance(said, str) else said):
            raise RecordError(
                "column-differs",
                f'The database files it under {name} "{kept}", and it says "{said}".',
                where=where,
            )
