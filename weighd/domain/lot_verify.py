"""Verifying lots, as far as their entries follow from one another: only a whole journal shows it.

Each entry of a lot is made again from what it keeps and the book of lots before it. A lot named for
an addition must be one that could be named on that day. A batch shown alone has neither; what it
has, the split of an addition over lots, is checked with the addition (``rederive``).

What another station recorded is held to its own hash, and to follow from what is known of its lot
here; whether that station has that entry, only its journal shows (``others``). What others drew is
taken as it was kept: sums hang on nothing in this journal.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from typing import Any

from weighd.domain.batch import Batch
from weighd.domain.corrections import lot_put_right
from weighd.domain.days import day_of
from weighd.domain.errors import OperatorError
from weighd.domain.following import check_made, differs, does_not_follow, not_recordable
from weighd.domain.kinds import Kind
from weighd.domain.lot_fold import inner, take
from weighd.domain.lot_record import OVERDRAWN, RECEIVED, SHARED, lot_body, receive_body
from weighd.domain.lot_shared import elsewhere_of, is_overdrawn, overdrawn_body, shared_body
from weighd.domain.lots import LotBook
from weighd.domain.record import Entry
from weighd.domain.whose import unbound

#: The hash of an entry of another station by its number; ``None`` for one that is not there.
Others = Callable[[str, int], str | None]

_SOURCE = "the lots before it give"
_differs = partial(differs, source=_SOURCE)


class LotVerifier:
    """Takes entries of lots, and those of batches that concern lots, in the order of the journal.

    ``is_batch``  whether a batch of that name was opened before.
    ``others``    asks the journals of other stations, where they are there.
    """

    def __init__(
        self,
        is_batch: Callable[[str], bool],
        others: Others | None = None,
    ) -> None:
        self._book = LotBook()
        self._is_batch = is_batch
        self._others = others

    def __len__(self) -> int:
        return len(self._book)

    def entry(self, entry: Entry) -> None:
        """An entry of a lot. Raises :class:`RecordError`; another error for nonsense."""
        body = unbound(entry.body)
        reason, lot = str(body.get("reason", "")), str(body["lot"])
        by = "" if entry.kind in (SHARED, OVERDRAWN) else str(body["by"])
        was = self._book.get(lot)
        if was is not None and entry.kind not in (RECEIVED, SHARED):
            self._book.put(replace(was, elsewhere=elsewhere_of(body, entry.station)))
        try:
            if entry.kind == SHARED:
                made = shared_body(self._book, entry.station, inner(entry))
                self._there(entry)
            elif entry.kind == OVERDRAWN:
                made = self._overdrawn(entry)
            elif entry.kind == RECEIVED:
                made = receive_body(
                    self._book,
                    entry.station,
                    body,
                    by,
                    corrects=lot if "corrects" in body else "",
                    reason=reason,
                    sharing="drawn_before" in body,
                )
                if (batch := body.get("made_in")) and not self._is_batch(batch):
                    raise _differs(entry, "made_in", batch, "no batch of that name before it")
            else:
                made = lot_body(self._book, entry.kind, lot, body, by, reason, own=entry.station)
        except OperatorError as error:
            raise not_recordable(entry, error) from error
        check_made(entry, body, made, _SOURCE)
        take(self._book, entry)

    def _overdrawn(self, entry: Entry) -> dict[str, Any]:
        lot = self._book.get(str(entry.body["lot"]))
        if lot is None or not is_overdrawn(lot):
            raise does_not_follow(entry, "That lot was not overdrawn by what it keeps.")
        return overdrawn_body(lot, entry.station, str(entry.body["known_at"]))

    def _there(self, entry: Entry) -> None:
        """Where the other station's journal is there, it must have that entry."""
        there = inner(entry)
        found = there.hash if self._others is None else self._others(there.station, there.seq)
        if found is not None and found != there.hash:
            raise _differs(entry, "entry", there.hash, f"the journal of {there.station}: {found}")

    def away(self, entry: Entry) -> None:
        """What stands for an entry of a batch that was put away: what it drew is drawn."""
        take(self._book, entry)

    def of_batch(self, batch: Batch, entry: Entry) -> None:
        """An entry of a batch, before the batch has it. Raises as :meth:`entry` does."""
        if entry.kind == Kind.LOT_NAMED and batch.current is not None:
            self._named(batch, entry)
        elif entry.kind == Kind.ACCEPTED:
            take(self._book, entry)
        elif entry.kind == Kind.CORRECTED and "drew" in entry.body:
            self._corrected(batch, entry)
            take(self._book, entry)

    def _corrected(self, batch: Batch, entry: Entry) -> None:
        """A lot put right could be named on the day of the weighing, or that was confirmed."""
        body = entry.body
        said = body.get("although")
        try:
            due, although = lot_put_right(batch, body, self._book, confirm=said is not None)
        except OperatorError as error:
            raise not_recordable(entry, error) from error
        if due != body["new"]:
            raise _differs(entry, "new", body["new"], due)
        if although != (said or ""):
            raise _differs(entry, "although", said, although or "nothing")

    def _named(self, batch: Batch, entry: Entry) -> None:
        body, current = entry.body, batch.current
        assert current is not None
        lot, reason = str(body["lot"]), str(body.get("reason", ""))
        try:
            due, why = self._book.name(
                lot, current.ingredient, current.name, day_of(entry.at), reason
            )
        except OperatorError as error:
            raise not_recordable(entry, error) from error
        if due != lot:
            raise _differs(entry, "lot", lot, due)
        if why != reason:
            raise _differs(entry, "reason", reason, why or "none")
