"""Recorded batches as if they had been weighed in other years, and a lot they may be out of."""

from __future__ import annotations

from typing import Any

from weighd.domain.lot_record import RECEIVED
from weighd.domain.record import Entry, Tail, seal
from weighd.storage.journal import SqlJournal


def dated(entries: list[Entry], tail: Tail, batch: str, year: str) -> list[Entry]:
    """A recorded batch under another name and in another year."""
    out, after = [], "0" * 64
    for one in entries:
        body: dict[str, Any] = {**one.body, "batch": batch, "after": after}
        body.pop("key", None)
        made = seal(one.station, one.kind, year + one.at[4:], body, tail)
        out.append(made)
        tail, after = Tail(made.seq, made.hash), made.hash
    return out


def lot_received(journal: SqlJournal, lot: str, goods: dict[str, Any], at: str) -> None:
    body = {"lot": lot, "by": "Ada", **goods}
    journal.append([seal(journal.station, RECEIVED, at, body, journal.tail())])
