"""What the scale of the current addition shows, and what became of its link, as the addition takes
it; with what could not be written of it, which is tried again."""

from __future__ import annotations

from collections.abc import Generator, Sequence
from dataclasses import replace
from math import inf
from typing import TYPE_CHECKING

from weighd.domain.addition import LinkEvent, Seen
from weighd.domain.errors import JournalError
from weighd.domain.record import Entry
from weighd.domain.weighing import step

if TYPE_CHECKING:
    from weighd.station.station import Station

#: After the store refused an entry that no person asked for, wait this long before the next try.
RETRY_S = 1.0


class Seeing:
    """Sights that no person asked for: an entry they make can be refused to nobody."""

    def __init__(self) -> None:
        self._retry_at = -inf
        #: That a scale went, where that could not be written: batch, additions done, and event.
        self._unheld: tuple[str, int, LinkEvent] | None = None

    @property
    def owes(self) -> bool:
        """Whether something is still to be written that no reading will call for again."""
        return self._unheld is not None

    def sight(
        self, station: Station, event: Seen | LinkEvent
    ) -> Generator[Sequence[Entry], None, bool]:
        """Let the current addition have it; whether it could."""
        assert station.batch is not None
        move = step(station.batch, station.now, event)
        station.mark("live")
        if not move.drafts:
            station.now = move.now
            return True
        if station.t >= self._retry_at:
            try:
                yield from station.move(move)
            except JournalError:
                # It is tried again while the scale still shows what called for it, and the page
                # says that the store fails.
                self._retry_at = station.t + RETRY_S
            else:
                return True
        # What was seen before does not stand any more: nobody may accept it meanwhile.
        station.now = replace(station.now, gross_g=None, level=None, claim=None)
        return False

    def gone(self, station: Station, event: LinkEvent) -> Generator[Sequence[Entry], None, None]:
        """The scale of the current addition went. No reading calls for that entry again, so it is
        kept until it can be written."""
        self._unheld = None
        if not (yield from self.sight(station, event)):
            batch = station.batch
            assert batch is not None
            station.now = replace(station.now, unsure=batch.tare is not None)
            self._unheld = (batch.id, len(batch.accepted), event)

    def late(self, station: Station) -> Generator[Sequence[Entry], None, None]:
        """Write what could not be written when a scale went, where the addition is the same."""
        if self._unheld is None or station.t < self._retry_at:
            return
        (name, done, event), self._unheld = self._unheld, None
        batch = station.batch
        if batch is None or batch.current is None or batch.current.scale != event.scale:
            return
        if (batch.id, len(batch.accepted)) == (name, done):
            yield from self.gone(station, event)
