"""Putting right what somebody typed or named, in a batch that is weighed, in process or over."""

from __future__ import annotations

from typing import TYPE_CHECKING

from weighd.domain.addition import Draft
from weighd.domain.batch import Batch, Kind
from weighd.domain.corrections import correction_body, lot_put_right
from weighd.domain.errors import OperatorError
from weighd.station.inputs import Command

if TYPE_CHECKING:
    from weighd.station.station import Station

#: More corrections than these of one batch nobody reads any more.
MOST = 500


def correction_drafts(station: Station, batch: Batch, command: Command) -> tuple[Draft, ...]:
    """The entry that ``correct`` makes. Raises :class:`OperatorError`."""
    if sum(len(one.made) for one in batch.written) >= MOST:
        raise OperatorError(
            "too-many-corrections",
            f"{MOST} corrections of batch {batch.id} are recorded already.",
            remedy="Write down elsewhere what is still wrong.",
        )
    if command.entry is None:
        raise OperatorError(
            "unknown-entry",
            "It was not said which entry is to be put right.",
            where="entry",
            remedy="Give its number in the batch.",
        )
    body = correction_body(
        batch,
        command.entry,
        command.field,
        command.old,
        command.new,
        command.reason,
        command.by,
    )
    if "drew" in body:
        book = station.stock.book
        lot, although = lot_put_right(batch, body, book, confirm=command.confirm)
        # Its own code may be what stands already, where it was named by its supplier's.
        body = correction_body(
            batch, command.entry, command.field, command.old, lot, command.reason, command.by
        )
        if although:
            body["although"] = although
    return (Draft(Kind.CORRECTED, body),)
