"""The lots in a journal, as a station starts with them, and what was recorded of one."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from weighd.domain.lot_fold import inner, take
from weighd.domain.lot_record import SHARED
from weighd.domain.lot_shared import Sum
from weighd.domain.lot_uses import Drawn
from weighd.domain.lots import Lot, LotBook
from weighd.station.ports import Journal
from weighd.station.sharing import Shared

#: Fields that are told otherwise, or are nothing to people.
_UNTOLD = ("lot", "key", "of", "lifts")


def lots_in(journal: Journal) -> tuple[Lot, ...]:
    """The lots that are known here, each with what was drawn from it by now."""
    return tuple(book_in(journal))


def book_in(journal: Journal) -> LotBook:
    """The book of those, which knows as far as which entry of each other station it was told."""
    book, drawn = LotBook(), dict(journal.drawn())
    for entry in journal.lot_entries():
        take(book, entry)
    for one in list(book):
        book.put(replace(one, drawn=drawn.pop(one.code, Drawn())))
    book.strangers = drawn
    return book


def shared_in(book: LotBook, sums: Iterable[Sum] = (), at: str = "") -> Shared:
    """What a station that shares with others starts with: ``book`` is :func:`book_in`; ``sums``
    and ``at`` what was kept beside the journal of what the others drew."""
    return Shared(dict(book.known), dict(book.strangers), tuple(sums), at)


def told_of(journal: Journal, lot: str) -> list[dict[str, Any]]:
    """The entries of a lot, oldest first: what was done, by whom and when."""
    return [
        {
            "seq": one.seq,
            "kind": done.kind,
            "at": done.at,
            "hash": done.hash,
            **({} if done is one else {"station": done.station}),
            **{key: value for key, value in done.body.items() if key not in _UNTOLD},
        }
        for one in journal.lot_entries()
        if one.body.get("lot") == lot
        for done in (inner(one) if one.kind == SHARED else one,)
    ]
