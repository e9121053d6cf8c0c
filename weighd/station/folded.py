"""What a station has to know of its whole record to begin: lots, checks, how many batches.

1. It follows from the entries alone. :func:`fold` asks the tables that are drawn from them,
   :meth:`Folded.go_on` takes entries one by one, and both come to the same.
2. What is kept of it saves reading the record again at each start, and is nothing else: without it,
   or where it is not of this record, all is folded again.
"""

from __future__ import annotations

import json
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

from weighd import __version__
from weighd.domain.away import as_was
from weighd.domain.batch import Kind
from weighd.domain.check_record import is_check
from weighd.domain.check_standing import Past, last_of, past_of_json
from weighd.domain.lot_fold import take
from weighd.domain.lot_json import KeptLot, drawn_as_json, drawn_of, kept_lot
from weighd.domain.lots import Lot, LotBook
from weighd.domain.record import Tail
from weighd.station import check_history
from weighd.station.lot_history import book_in
from weighd.station.ports import Journal

#: Another weighd may fold otherwise: what it kept is not taken.
FORMAT = f"1 of weighd {__version__}"


@dataclass(slots=True)
class Folded:
    """What entries up to ``tail`` come to.

    ``made``   how many batches were opened.
    ``past``   how the checks of the scales ``asked`` stand, as far as there are any.
    ``book``   the lots, and what was drawn from codes that no lot has.
    """

    tail: Tail = field(default_factory=Tail)
    made: int = 0
    asked: frozenset[str] = frozenset()
    past: dict[str, Past] = field(default_factory=dict)
    book: LotBook = field(default_factory=LotBook)

    def go_on(self, journal: Journal) -> None:
        """Take what came after. Raises ``KeyError``, ``TypeError``, ``ValueError`` for nonsense,
        and :class:`JournalError`."""
        for entry in journal.entries(after=self.tail.seq):
            was = as_was(entry)
            take(self.book, was)
            self.made += was.kind == Kind.OPENED
            if is_check(was) and (scale := str(was.body["scale"])) in self.asked:
                self.past[scale] = self.past.get(scale, Past()).then(last_of(was))
            self.tail = Tail(entry.seq, entry.hash)

    def ask(self, journal: Journal, scales: Collection[str]) -> None:
        """Know how the checks of these scales stand too."""
        more = set(scales) - self.asked
        self.past |= check_history.past(journal, more)
        self.asked |= more

    def _lots(self) -> Iterator[Lot | KeptLot]:
        """Those that nobody asked for stay as they were kept."""
        for one in self.book.later():
            yield one if isinstance(one, Lot | KeptLot) else one.whole

    def as_lines(self, station: str) -> list[str]:
        """As it is kept: one line of what all go by, and one for each lot."""
        lots = [one if isinstance(one, KeptLot) else kept_lot(one) for one in self._lots()]
        strangers = self.book.strangers
        head = {
            "start": FORMAT,
            "station": station,
            "seq": self.tail.seq,
            "hash": self.tail.hash,
            "made": self.made,
            "asked": sorted(self.asked),
            "past": {name: one.as_json() for name, one in self.past.items()},
            "known": self.book.known,
            "strangers": {code: drawn_as_json(one) for code, one in strangers.items()},
            "lots": [one.row for one in lots],
        }
        text = json.dumps(head, ensure_ascii=False, separators=(",", ":"))
        return [text, *(one.text for one in lots)]


def fold(journal: Journal, scales: Collection[str]) -> Folded:
    """Out of the record as it stands. Nobody may write to it meanwhile.

    Raises as :meth:`Folded.go_on`.
    """
    tail, made = journal.tail(), journal.count_batches()
    past = check_history.past(journal, scales)
    return Folded(tail, made, frozenset(scales), past, book_in(journal))


def folded_of(lines: Sequence[str], station: str) -> Folded | None:
    """The inverse of :meth:`Folded.as_lines`; ``None`` for what another weighd, or another station,
    has kept. Raises ``KeyError``, ``TypeError`` or ``ValueError`` for what is nothing of ours."""
    head: Any = json.loads(lines[0])
    if head["start"] != FORMAT or head["station"] != station:
        return None
    lots = [KeptLot(row, text) for row, text in zip(head["lots"], lines[1:], strict=True)]
    strangers = {code: drawn_of(one) for code, one in head["strangers"].items()}
    book = LotBook(lots, strangers)
    book.known = {str(name): int(seq) for name, seq in head["known"].items()}
    past = {name: past_of_json(one) for name, one in head["past"].items()}
    tail = Tail(int(head["seq"]), str(head["hash"]))
    return Folded(tail, int(head["made"]), frozenset(head["asked"]), past, book)
