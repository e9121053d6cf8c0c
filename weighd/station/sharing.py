"""What comes down from the store that several stations share: lots, and what others drew of them.

It is an input like others (:class:`~weighd.station.inputs.CameDown`): asked for beside the station,
taken in its turn. What is learned becomes entries; sums do not, and are kept beside the record.
"""

from __future__ import annotations

from collections.abc import Generator, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from weighd.domain import mass
from weighd.domain.errors import JournalError, OperatorError
from weighd.domain.lot_json import drawn_as_json, drawn_of, pairs, whole
from weighd.domain.lot_record import BLOCKED, OVERDRAWN, RECEIVED, SHARED
from weighd.domain.lot_shared import (
    Sum,
    is_overdrawn,
    overdrawn_body,
    shared_body,
    spread,
    sum_of,
)
from weighd.domain.lot_uses import Drawn
from weighd.domain.lots import Lot
from weighd.domain.record import Entry
from weighd.station.inputs import CameDown

if TYPE_CHECKING:
    from weighd.station.station import Station


@dataclass(frozen=True, slots=True)
class Shared:
    """What a station that shares with others knew of them at its start.

    ``marks``      of each other station the number of its newest entry of a lot that came down.
    ``strangers``  what was drawn here from codes that no known lot has.
    ``sums``       what others drew, as it was at ``at`` (UTC; empty for never).
    """

    marks: Mapping[str, int] = field(default_factory=dict)
    strangers: Mapping[str, Drawn] = field(default_factory=dict)
    sums: tuple[Sum, ...] = ()
    at: str = ""

    def as_json(self) -> dict[str, Any]:
        """As JSON values."""
        return {
            "marks": dict(self.marks),
            "strangers": {code: drawn_as_json(one) for code, one in self.strangers.items()},
            "sums": [one.as_json() for one in self.sums],
            "at": self.at,
        }


def shared_of(row: Mapping[str, Any]) -> Shared:
    """The inverse of :meth:`Shared.as_json`. Raises ``KeyError``, ``TypeError``, ``ValueError``."""
    return Shared(
        {str(name): whole(seq) for name, seq in pairs(row["marks"])},
        {str(code): drawn_of(one) for code, one in pairs(row["strangers"])},
        tuple(sum_of(one) for one in row["sums"]),
        str(row["at"]),
    )


Writes = Generator[Sequence[Entry], None, None]


def came_down(station: Station, event: CameDown) -> Writes:
    """Take in what the others recorded. What the store refuses to write is asked for again."""
    stock = station.stock
    try:
        yield from _learn(station, event)
        spread(stock.book, station.name, map(sum_of, event.sums), event.at)
        stock.heard_at = event.at
        for lot in list(stock.book):
            if is_overdrawn(lot):
                body = overdrawn_body(lot, station.name, event.at)
                yield from station.enter(OVERDRAWN, body)
                _tell_overdrawn(station, lot)
    except JournalError:
        return  # told by the station; nobody asked for it, and it comes down again
    station.mark("station", "batch")


def _learn(station: Station, event: CameDown) -> Writes:
    """Take each station's entries in their order, those of lots first known by another's after it.

    What does not hold is told, and nothing after it is taken of that station.
    """
    waiting: dict[str, list[Entry]] = {}
    for entry in _read(station, event.entries):
        waiting.setdefault(entry.station, []).append(entry)
    took = True
    while took:
        took = False
        for name, entries in waiting.items():
            while entries:
                if entries[0].seq <= station.stock.book.known.get(name, 0):
                    entries.pop(0)
                    continue
                try:
                    body = shared_body(station.stock.book, station.name, entries[0])
                except OperatorError as error:
                    if error.code != "unknown-lot":
                        _tell_not_shared(station, entries[0])
                        entries.clear()
                    break
                station.stock.refused.pop(name, None)
                yield from station.enter(SHARED, body)
                _tell_learned(station, entries.pop(0), str(body["lot"]))
                took = True


def _read(station: Station, rows: Sequence[Mapping[str, Any]]) -> Iterator[Entry]:
    for row in rows:
        texts = {key: str(row.get(key, "")) for key in ("station", "kind", "at", "prev", "hash")}
        body, seq = row.get("body"), row.get("seq")
        if isinstance(body, Mapping) and isinstance(seq, int) and texts["station"] != station.name:
            yield Entry(seq=seq, body=dict(body), **texts)


def _tell_learned(station: Station, entry: Entry, code: str) -> None:
    """What somebody at the scale has to know at once."""
    lot = station.stock.book.get(code)
    if lot is None:
        return
    if entry.kind == BLOCKED:
        batch, now = station.batch, station.batch.current if station.batch else None
        named = batch.lots.get(now.n, "") if batch and now else ""
        level, said = ("error", "lot-blocked-now") if named == code else ("warn", "lot-blocked-at")
        station.notice(level, said, f"{code} {entry.station}: {entry.body['reason']}")
    elif entry.kind == RECEIVED and code != lot.there:
        station.notice("warn", "lot-code-twice", f"{lot.there} {entry.station} {code}")


def _tell_overdrawn(station: Station, lot: Lot) -> None:
    text = f"{lot.code} {mass.text(lot.over_g)}"
    station.notice("error", "lot-overdrawn", text, anew=False)


def _tell_not_shared(station: Station, entry: Entry) -> None:
    if station.stock.refused.get(entry.station) == entry:
        return  # once
    station.stock.refused[entry.station] = entry
    station.notice("error", "not-shared", f"{entry.station} {entry.seq}", anew=True)
