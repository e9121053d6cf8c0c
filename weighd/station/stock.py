"""The lots of a station: what is done to them, which may be named, and which to take next."""

from __future__ import annotations

from collections.abc import Generator, Iterable, Sequence
from typing import TYPE_CHECKING, Any

from weighd.domain import mass
from weighd.domain.addition import Do
from weighd.domain.batch import Batch
from weighd.domain.clock_said import Wall
from weighd.domain.days import day_of
from weighd.domain.errors import OperatorError
from weighd.domain.lot_fold import take
from weighd.domain.lot_record import (
    ADJUSTED,
    BLOCKED,
    OPENED,
    RECEIVED,
    RELEASED,
    USED_UP,
    lot_body,
    receive_body,
)
from weighd.domain.lot_shared import spread
from weighd.domain.lots import Lot, LotBook
from weighd.domain.record import Entry
from weighd.station.inputs import Answer, Command
from weighd.station.sharing import Shared

if TYPE_CHECKING:
    from weighd.station.station import Station

RECEIVE = "receive lot"
#: What can be asked of a lot that is there, and the entry it makes.
KIND_OF = {
    "open lot": OPENED,
    "block lot": BLOCKED,
    "release lot": RELEASED,
    "adjust lot": ADJUSTED,
    "use up lot": USED_UP,
}
COMMANDS = frozenset({RECEIVE, *KIND_OF})
_NAMES_ONE = (Do.NAME_LOT, Do.NEXT_LOT)


class Stock:
    """The lots that were received here, or at stations it shares with. They change by entries.

    ``shared``  what was known of the other stations; ``None`` where there is none.
    """

    def __init__(
        self,
        lots: Iterable[Lot],
        own: str = "",
        shared: Shared | None = None,
        wall: Wall | None = None,
    ) -> None:
        #: Times in the record. No day before the newest is today, whatever the clock says.
        self.wall = wall or Wall()
        self.book = LotBook(lots, shared.strangers if shared else None)
        self.sharing = shared is not None
        #: When the shared store was heard of last, and of each station what was not taken of it.
        self.heard_at = shared.at if shared else ""
        self.refused: dict[str, Entry] = {}
        if shared is not None:
            self.book.known = dict(shared.marks)
            spread(self.book, own, shared.sums)

    def take(self, station: Station, entries: Iterable[Entry]) -> None:
        """Have entries that are durable; tell where more was weighed than was there."""
        for entry in entries:
            self.wall = Wall.after(entry)
            for lot in take(self.book, entry):
                station.mark("batch")
                if lot.left_g < 0 and "batch" in entry.body:
                    text = f"{lot.code} {mass.text(-lot.left_g)}"
                    station.notice("warn", "lot-below-nothing", text, anew=True)

    def today(self, at: str) -> str:
        """The day that dates of lots are held against, where the clock shows ``at``.

        A clock that was set back makes no lot good again.
        """
        return day_of(max(at, self.wall.newest))

    def as_known(self, at: str) -> tuple[LotBook, str]:
        """The books as they stand, for whoever works with them beside the station, and today."""
        return LotBook(self.book), self.today(at)

    def named(self, batch: Batch, command: Command, at: str) -> tuple[str, str]:
        """The lot and the reason of a command for an addition, as the record is to have them.

        Raises :class:`OperatorError` for a lot that is not to be used for it.
        """
        text, reason, current = command.lot.strip(), command.reason.strip(), batch.current
        if command.do not in _NAMES_ONE or not text or current is None:
            return text, reason
        try:
            return self.book.name(text, current.ingredient, current.name, self.today(at), reason)
        except OperatorError as error:
            if error.code == "lot-expired":
                error.remedy += f" Today is {self.today(at)} by the clock of this computer."
            raise

    def command(
        self, station: Station, command: Command
    ) -> Generator[Sequence[Entry], None, Answer]:
        """Do something to a lot. Raises :class:`OperatorError` or :class:`JournalError`."""
        given, by, reason = dict(command.goods or {}), command.by.strip(), command.reason.strip()
        if command.do == RECEIVE:
            kind = RECEIVED
            corrects = str(given.pop("corrects", "") or "")
            body = receive_body(
                self.book,
                station.name,
                {**given, "lot": command.lot},
                by,
                corrects=corrects,
                reason=reason,
                sharing=self.sharing,
            )
        else:
            kind = KIND_OF[command.do]
            body = lot_body(self.book, kind, command.lot, given, by, reason, own=station.name)
        if command.key:
            body["key"] = command.key
        entry = yield from station.enter(kind, body)
        return Answer("", entry.seq)

    def draw_next(self, batch: Batch, at: str) -> dict[str, Any] | None:
        """The lot to take for the current addition, first out first; ``None`` where there is none.

        ``enough``  whether what is left of it by the books is all that is wanted.
        """
        current = batch.current
        lot = self.book.suggest(current.ingredient, self.today(at)) if current else None
        if lot is None or current is None:
            return None
        return {
            "lot": lot.code,
            "left_g": mass.text(lot.left_g),
            "enough": lot.left_g >= current.target_g,
            "use_by": lot.use_by,
            "best_before": lot.goods.best_before,
            "opened": bool(lot.opened),
        }


def unknown_lot(lot: str) -> OperatorError:
    """What to raise for a lot that was not received here."""
    return OperatorError(
        "unknown-lot",
        f'No lot "{lot}" was received here.',
        where="lot",
        remedy="Look at the code on its label.",
    )
