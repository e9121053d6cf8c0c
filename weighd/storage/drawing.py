"""The lists of batches and of uses brought up to many entries at once.

Over a network each question costs a journey, and a journal that is far behind has a hundred
thousand entries to send: what is there is asked for once, the rest is reckoned here, and what
changed is written at the end. What comes out is what one entry after the other gives (``journal``,
``uses``); a test holds them against each other.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from sqlalchemy import Connection, bindparam, delete, insert, select, update

from weighd.domain import mass
from weighd.domain.lot_uses import Drawn, Moved, Use, moved_in, uses_in
from weighd.domain.record import Entry
from weighd.station.ports import BatchRow
from weighd.storage.lines import LINE
from weighd.storage.rows import line, line_row
from weighd.storage.schema import BATCH, LOT_SUM, LOT_USE
from weighd.storage.uses import NAMES, drawn_of, move_use, note_name, use_row

_Row = dict[str, Any]


def draw_all(connection: Connection, station: str, entries: Sequence[Entry]) -> None:
    """Bring the lists of a station up to ``entries``, which follow what they were drawn from.

    Raises :class:`JournalError` for a batch that opens twice, or cannot be read.
    """
    _draw_lines(connection, station, entries)
    _Uses(connection, station, entries).draw(entries)


def _draw_lines(connection: Connection, station: str, entries: Sequence[Entry]) -> None:
    names = dict.fromkeys(str(one.body["batch"]) for one in entries if one.body.get("batch"))
    if not names:
        return
    wanted = select(*LINE).where(BATCH.c.station == station, BATCH.c.id.in_(names))
    before = {row.id: BatchRow(*row) for row in connection.execute(wanted)}
    after, opened = dict(before), dict[str, int]()
    for one in entries:
        name = str(one.body.get("batch", ""))
        drawn = line(after.get(name), one)
        if drawn is None:
            continue
        if name not in after:
            opened[name] = one.seq
        after[name] = drawn
    new = [
        {**line_row(after[name]), "station": station, "seq": seq} for name, seq in opened.items()
    ]
    if new:
        connection.execute(insert(BATCH), new)
    changed = [
        {f"{key}_": value for key, value in line_row(after[name]).items()}
        for name, was in before.items()
        if after[name] != was
    ]
    if changed:
        values: _Row = {one.name: bindparam(f"{one.name}_") for one in LINE}
        here = (BATCH.c.station == station, BATCH.c.id == bindparam("id_"))
        connection.execute(update(BATCH).where(*here).values(values), changed)


class _Uses:
    """The uses of lots and their sums, as entries come by."""

    def __init__(self, connection: Connection, station: str, entries: Sequence[Entry]) -> None:
        self._connection, self._station = connection, station
        self._rows: list[_Row] = []
        lots = set[str]()
        for one in entries:
            lots.update(use.lot for use in uses_in(one))
            if moved := moved_in(one):
                lots |= {moved.was.lot, moved.lot}
        self._before = self._sums(lots - {""})
        self._sum = dict(self._before)

    def draw(self, entries: Sequence[Entry]) -> None:
        """Write what the entries used."""
        for one in entries:
            if one.kind in NAMES:
                note_name(self._connection, one)  # lots come one at a time
                continue
            if moved := moved_in(one):
                self._write_uses()  # it may be one of these
                self._move(moved)
            for part, use in enumerate(uses_in(one)):
                self._rows.append(use_row(one, part, use))
                self._add(use)
        self._write_uses()
        self._write_sums()

    def _sums(self, lots: set[str]) -> dict[str, Drawn]:
        if not lots:
            return {}
        wanted = select(LOT_SUM.c.lot, LOT_SUM.c.g, LOT_SUM.c.u2, LOT_SUM.c.uses).where(
            LOT_SUM.c.station == self._station, LOT_SUM.c.lot.in_(sorted(lots))
        )
        return {lot: drawn_of(g, u2, uses) for lot, g, u2, uses in self._connection.execute(wanted)}

    def _add(self, use: Use) -> None:
        if use.lot:
            self._sum[use.lot] = self._sum.get(use.lot, Drawn()).and_also(use.g, use.u_g)

    def _move(self, moved: Moved) -> None:
        was = moved.was
        if not move_use(self._connection, self._station, moved):
            return
        if was.lot:
            self._sum[was.lot] = self._sum.get(was.lot, Drawn()).without(was.g, was.u_g)
        self._add(replace(was, lot=moved.lot))

    def _write_uses(self) -> None:
        if self._rows:
            self._connection.execute(insert(LOT_USE), self._rows)
            self._rows = []

    def _write_sums(self) -> None:
        new, other, gone = list[_Row](), list[_Row](), list[_Row]()
        for lot, one in self._sum.items():
            if one == self._before.get(lot):
                continue
            row: _Row = {
                "lot_": lot,
                "g_": mass.text(one.g),
                "u2_": mass.text(one.u2),
                "n_": one.uses,
            }
            if lot in self._before:
                (other if one.uses else gone).append(row)
            elif one.uses:
                new.append({"station_": self._station, **row})
        here = (LOT_SUM.c.station == self._station, LOT_SUM.c.lot == bindparam("lot_"))
        values: _Row = {"g": bindparam("g_"), "u2": bindparam("u2_"), "uses": bindparam("n_")}
        names: _Row = {"station": bindparam("station_"), "lot": bindparam("lot_")}
        if new:
            self._connection.execute(insert(LOT_SUM).values(**names, **values), new)
        if other:
            self._connection.execute(update(LOT_SUM).where(*here).values(**values), other)
        if gone:
            self._connection.execute(delete(LOT_SUM).where(*here), gone)
