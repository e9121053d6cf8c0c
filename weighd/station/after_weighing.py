"""Commands for batches that are off the bench: each ends in entries of that batch."""

from __future__ import annotations

from collections.abc import Generator, Sequence
from typing import TYPE_CHECKING

from weighd.domain.addition import Draft
from weighd.domain.countersigning import countersign_body
from weighd.domain.kinds import Kind
from weighd.domain.process_orders import Ask
from weighd.domain.record import Entry
from weighd.station.correcting import correction_drafts
from weighd.station.inputs import Answer, Command
from weighd.station.off_bench import COMMANDS, CORRECT, COUNTERSIGN, RECORD_YIELD, batch_of
from weighd.station.processing import note_clock, step_drafts
from weighd.station.yielding import yield_drafts

if TYPE_CHECKING:
    from weighd.station.station import Station


def takes(station: Station, command: Command) -> bool:
    """Whether a command is for a batch off the bench; ``abandon`` may be for either."""
    if command.do != Ask.DISCARD:
        return command.do in COMMANDS
    return any(one.id == command.batch for one in station.off_bench.in_process())


def after_weighing(station: Station, command: Command) -> Generator[Sequence[Entry], None, Answer]:
    """Meet one of :data:`weighd.station.off_bench.COMMANDS`.

    Raises :class:`OperatorError` where it cannot be met, :class:`JournalError` where it cannot be
    written.
    """
    drafts: Sequence[Draft]
    bench = station.batch
    if command.do in (CORRECT, COUNTERSIGN) and bench is not None and bench.id == command.batch:
        batch = bench
    else:
        batch = batch_of(station, command.batch)
    if command.do == CORRECT:
        drafts = correction_drafts(station, batch, command)
    elif command.do == COUNTERSIGN:
        body = countersign_body(batch, command.entry, command.by, command.note)
        drafts = (Draft(Kind.COUNTERSIGNED, body),)
    elif command.do == RECORD_YIELD:
        drafts = yield_drafts(station, batch, command)
    else:
        yield from note_clock(station, batch.id)
        batch = batch_of(station, command.batch)
        drafts = step_drafts(station, batch, command)
    entries = yield from station.write(drafts, command.key, batch)
    return Answer(batch.id, entries[0].seq)
