"""Commands for batches that are off the bench: each ends in entries of that batch."""

from __future__ import annotations

from collections.abc import Generator, Sequence
from typing import TYPE_CHECKING

from weighd.domain.record import Entry
from weighd.station.inputs import Answer, Command
from weighd.station.off_bench import batch_of
from weighd.station.yielding import yield_drafts

if TYPE_CHECKING:
    from weighd.station.station import Station


def after_weighing(station: Station, command: Command) -> Generator[Sequence[Entry], None, Answer]:
    """Meet one of :data:`weighd.station.off_bench.COMMANDS`.

    Raises :class:`OperatorError` where it cannot be met, :class:`JournalError` where it cannot be
    written.
    """
    batch = batch_of(station, command.batch)
    drafts = yield_drafts(station, batch, command)
    entries = yield from station.write(drafts, command.key, batch)
    return Answer(batch.id, entries[0].seq)
