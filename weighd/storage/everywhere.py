"""What a shared store holds of all its stations at once: traces across them, and what comes down.

1. A batch's code begins with its station, so it is the same everywhere. A lot's code is so but
   where two stations received another lot under one code: then it is ``CODE@STATION`` here, the
   station being where it was received (``lot_name`` says what each station means by a code).
2. A use that names such a code, at a station that was told of neither lot, counts as a use of each:
   a recall that finds too much is better than one that finds too little.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import partial

from sqlalchemy import ColumnElement, Connection, literal_column, select

from weighd.domain.lot_record import TOLD
from weighd.domain.lot_shared import Sum
from weighd.domain.lot_uses import Use
from weighd.domain.lots import Lot
from weighd.domain.record import Entry
from weighd.domain.trace import Trace, trace
from weighd.station.everywhere import Traced
from weighd.station.ports import BatchRow
from weighd.storage.learned import Store
from weighd.storage.lines import LINE
from weighd.storage.rows import restored
from weighd.storage.schema import BATCH, ENTRY, LOT_NAME, LOT_SUM, LOT_USE
from weighd.storage.stations import stations
from weighd.storage.uses import drawn_of, masses, some, uses_by

_NAME = (LOT_NAME.c.station, LOT_NAME.c.lot, LOT_NAME.c.origin, LOT_NAME.c.code)
_RECEIVED: ColumnElement[bool] = literal_column("station = origin")
#: Entries of lots that come down from one station at once.
MOST_DOWN = 500


@dataclass(frozen=True, slots=True)
class News:
    """What others did to lots and a station was not told of, and what they drew."""

    entries: tuple[Entry, ...]
    sums: tuple[Sum, ...]


class Everywhere:
    """All stations of a store. Calls may come from any thread; each may raise ``JournalError``."""

    def __init__(self, store: Store) -> None:
        self._store = store

    def stations(self) -> list[str]:
        """The stations that sent anything, by name."""
        return self._store.read(stations)

    def owners(self, code: str) -> list[str]:
        """Where a lot with that code was received: more than one where those are other lots."""
        return self._store.read(lambda it: _owners(it, [_bare(code)]).get(_bare(code), []))

    def trace(self, lot: str) -> Trace:
        """Trace a lot both ways, in the record as it stands at one moment."""
        return self._store.read(lambda it: _trace(it, lot))

    def traced(self, lot: str, origin: str = "") -> Traced:
        """The same with what there is to say of it.

        ``origin``  the station that received it; where it is empty, and several received lots of
                    that code, all of them are traced together.
        """

        def ask(connection: Connection) -> Traced:
            owners = _owners(connection, [_bare(lot)]).get(_bare(lot), [])
            code = f"{_bare(lot)}@{origin}" if origin in owners and len(owners) > 1 else lot
            found = _trace(connection, code)
            names = [found.lot, *(one.batch for one in found.forward)]
            return Traced(found, stations(connection), owners, _lines(connection, names))

        return self._store.read(ask)

    def uses_of_lots(self, lots: Sequence[str]) -> list[Use]:
        """What went where from these lots, at every station, in the order of each record."""
        return self._store.read(lambda it: _uses_of_lots(it, lots))

    def uses_in_batches(self, batches: Sequence[str]) -> list[Use]:
        """What went into these batches, at every station, in the order of each record."""
        return self._store.read(lambda it: _uses_in_batches(it, batches))

    def masses_of_batches(self, batches: Sequence[str]) -> dict[str, Decimal]:
        """Grams of all that was weighed into each of these batches."""
        return self._store.read(lambda it: masses(it, batches))

    def news(self, own: str, marks: Mapping[str, int], lots: Iterable[Lot]) -> News:
        """What a station has not heard yet.

        ``marks``  of each other station the newest entry of a lot that came down;
        ``lots``   the lots whose sums are wanted.
        """

        def ask(connection: Connection) -> News:
            others = [one for one in stations(connection) if one != own]
            entries = [
                one for name in others for one in _told(connection, name, marks.get(name, 0))
            ]
            return News(tuple(entries), tuple(_sums(connection, others, own, lots)))

        return self._store.read(ask)


def _told(connection: Connection, station: str, after: int) -> list[Entry]:
    wanted = select(ENTRY).where(
        ENTRY.c.station == station,
        ENTRY.c.batch.is_(None),
        ENTRY.c.seq > after,
        ENTRY.c.kind.in_(TOLD),
    )
    rows = connection.execute(wanted.order_by(ENTRY.c.seq).limit(MOST_DOWN)).mappings()
    return [restored(row) for row in rows]


def _sums(
    connection: Connection, others: Sequence[str], own: str, lots: Iterable[Lot]
) -> list[Sum]:
    texts = set[str]()
    for one in lots:
        code = one.there or one.code
        texts |= {code, f"{code}@{one.station or own}"}
    out = []
    for those in some(connection, LOT_SUM.c.lot, sorted(texts)):
        wanted = (
            select(
                LOT_SUM.c.station,
                LOT_SUM.c.lot,
                LOT_SUM.c.g,
                LOT_SUM.c.u2,
                LOT_SUM.c.uses,
                LOT_NAME.c.origin,
                LOT_NAME.c.code,
            )
            .select_from(LOT_SUM)
            .outerjoin(
                LOT_NAME,
                (LOT_NAME.c.station == LOT_SUM.c.station) & (LOT_NAME.c.lot == LOT_SUM.c.lot),
            )
            .where(LOT_SUM.c.station.in_(others), those)
        )
        for station, lot, g, u2, uses, origin, code in connection.execute(wanted):
            out.append(Sum(station, lot, drawn_of(g, u2, uses), origin or "", code or ""))
    return sorted(out, key=lambda one: (one.station, one.lot))


def _trace(connection: Connection, lot: str) -> Trace:
    both = partial(_uses_of_lots, connection), partial(_uses_in_batches, connection)
    return trace(lot, *both, partial(masses, connection))


def _lines(connection: Connection, batches: Sequence[str]) -> dict[str, BatchRow]:
    out = {}
    for these in some(connection, BATCH.c.id, batches):
        for row in connection.execute(select(*LINE).where(these)):
            out[row.id] = BatchRow(*row)
    return out


# --- traces --------------------------------------------------------------------------------------


def _uses_of_lots(connection: Connection, lots: Sequence[str]) -> list[Use]:
    wanted = set(lots)
    owners = _owners(connection, sorted({_bare(one) for one in lots}))
    texts = {_bare(one) for one in lots}
    texts |= {f"{code}@{station}" for code, those in owners.items() for station in those}
    found = uses_by(connection, LOT_USE.c.lot, sorted(texts))
    named = _Named(connection, owners)
    return [
        replace(use, lot=lot)
        for station, use in found
        for lot in named.all(station, use.lot)
        if lot in wanted or _bare(lot) in wanted
    ]


def _uses_in_batches(connection: Connection, batches: Sequence[str]) -> list[Use]:
    found = uses_by(connection, LOT_USE.c.batch, batches)
    codes = sorted({_bare(use.lot) for _, use in found if use.lot})
    named = _Named(connection, _owners(connection, codes))
    return [replace(use, lot=named.one(station, use.lot)) for station, use in found]


class _Named:
    """What is meant by the codes that stations use. Looked up only where two received one code."""

    def __init__(self, connection: Connection, owners: Mapping[str, Sequence[str]]) -> None:
        self._owners = owners
        twice = sorted(code for code, those in owners.items() if len(those) > 1)
        self._means: dict[tuple[str, str], str] = {}
        for these in some(connection, LOT_NAME.c.code, twice):
            rows = connection.execute(select(*_NAME).where(these))
            for station, lot, origin, code in rows:
                self._means[station, lot] = f"{code}@{origin}"

    def one(self, station: str, lot: str) -> str:
        """The code of a lot that a station uses; as it stands where nobody can tell."""
        code, owners = _bare(lot), self._owners.get(_bare(lot), ())
        if len(owners) < 2:
            return code if lot in (code, *(f"{code}@{one}" for one in owners)) else lot
        return self._means.get((station, lot), lot)

    def all(self, station: str, lot: str) -> list[str]:
        """The same; each that it may be where nobody can tell."""
        one = self.one(station, lot)
        owners = self._owners.get(lot, ())
        return [f"{lot}@{it}" for it in owners] if one == lot and len(owners) > 1 else [one]


def _owners(connection: Connection, codes: Sequence[str]) -> dict[str, list[str]]:
    """Where the lots with these codes were received."""
    out: dict[str, list[str]] = {}
    for these in some(connection, LOT_NAME.c.code, codes):
        wanted = select(LOT_NAME.c.code, LOT_NAME.c.station).where(these, _RECEIVED)
        for code, station in connection.execute(wanted.order_by(LOT_NAME.c.station)):
            out.setdefault(code, []).append(station)
    return out


def _bare(lot: str) -> str:
    """A lot's code without where it was received."""
    return lot.partition("@")[0] or lot
