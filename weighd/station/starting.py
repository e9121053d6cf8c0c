"""Starting a batch: the bench must be free, and its scales fit to be weighed on."""

from __future__ import annotations

from collections.abc import Generator, Sequence
from typing import TYPE_CHECKING

from weighd.domain.addition import begin
from weighd.domain.batch import Kind
from weighd.domain.errors import OperatorError
from weighd.domain.fold import opened
from weighd.domain.record import Entry
from weighd.station.inputs import Answer, Command
from weighd.station.opening import open_batch

if TYPE_CHECKING:
    from weighd.station.station import Station


def start(station: Station, command: Command) -> Generator[Sequence[Entry], None, Answer]:
    """Open a batch and put it on the bench.

    Raises :class:`OperatorError` or :class:`FormulaError` where it cannot be started, and
    :class:`JournalError` where that cannot be written.
    """
    if station.batch is not None and station.batch.current is not None:
        raise OperatorError(
            "batch-open",
            f"Batch {station.batch.id} is still being weighed.",
            remedy="Finish it or abandon it first.",
        )
    identity = f"{station.name}-{station.made + 1:04d}"
    body = open_batch(command, identity, station.scales, station.rule, station.version)
    for scale in body["scales"]:
        station.checking.may_start(station, scale)
    vessel = station.shelf.get(command.vessel)
    if vessel is not None:
        body["vessel"] = vessel.as_json()
    entry = yield from station.enter(str(Kind.OPENED), body)
    batch = opened(entry)
    station.made += 1
    station.now = begin(batch)
    station.take(batch)
    station.mark("live")
    return Answer(identity, entry.seq)
