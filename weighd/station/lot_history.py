"""The lots in a journal, as a station starts with them, and what was recorded of one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from weighd.domain.lot_record import take
from weighd.domain.lot_uses import Drawn
from weighd.domain.lots import Lot, LotBook
from weighd.station.ports import Journal


def lots_in(journal: Journal) -> tuple[Lot, ...]:
    """The lots that were received here, each with what was drawn from it by now."""
    book = LotBook()
    for entry in journal.lot_entries():
        take(book, entry)
    drawn: Mapping[str, Drawn] = journal.drawn() if len(book) else {}
    nothing = Drawn()
    return tuple(
        replace(one, used_g=it.g, used_u2=it.u2, uses=it.uses)
        for one in book
        for it in (drawn.get(one.code, nothing),)
    )


def told_of(journal: Journal, lot: str) -> list[dict[str, Any]]:
    """The entries of a lot, oldest first: what was done, by whom and when."""
    return [
        {
            "seq": one.seq,
            "kind": one.kind,
            "at": one.at,
            "hash": one.hash,
            **{key: value for key, value in one.body.items() if key not in ("lot", "key")},
        }
        for one in journal.lot_entries()
        if one.body.get("lot") == lot
    ]
