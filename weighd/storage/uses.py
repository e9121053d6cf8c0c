"""What each addition drew from which lot, and what lots are called: tables beside the record, drawn
from its entries.

They are written in the transaction that writes the entry, and can be thrown away and drawn again.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Any

from sqlalchemy import (
    ARRAY,
    ColumnElement,
    Connection,
    Numeric,
    Text,
    any_,
    cast,
    delete,
    func,
    insert,
    literal,
    select,
    update,
)

from weighd.domain import mass
from weighd.domain.lot_fold import inner
from weighd.domain.lot_record import RECEIVED, SHARED
from weighd.domain.lot_uses import Drawn, Moved, Use, moved_in, uses_in
from weighd.domain.record import Entry
from weighd.storage.learned import Store
from weighd.storage.prepared import Prepared, asked, given
from weighd.storage.schema import LOT_NAME, LOT_SUM, LOT_USE

#: Lots or batches that are asked for at once: SQLite takes some hundred variables at least.
MOST_ASKED = 400
_NOTHING = Decimal(0)

_USE = tuple(LOT_USE.c[name] for name in Use.__dataclass_fields__)
_USES = select(LOT_USE.c.station, LOT_USE.c.seq, LOT_USE.c.part, *_USE)
_HERE = (LOT_SUM.c.station == asked(LOT_SUM.c.station), LOT_SUM.c.lot == asked(LOT_SUM.c.lot))

_ADD = Prepared(insert(LOT_USE).values(given(LOT_USE)))
_SUM = Prepared(select(LOT_SUM.c.g, LOT_SUM.c.u2, LOT_SUM.c.uses).where(*_HERE))
_NO_SUM = Prepared(delete(LOT_SUM).where(*_HERE))
_NEW_SUM = Prepared(insert(LOT_SUM).values(given(LOT_SUM)))
_OTHER_SUM = Prepared(update(LOT_SUM).where(*_HERE).values(given(LOT_SUM, "g", "u2", "uses")))
#: Kinds of entries that may name a lot.
NAMES = (RECEIVED, SHARED)
_NAMED = Prepared(
    select(LOT_NAME.c.lot).where(
        LOT_NAME.c.station == asked(LOT_NAME.c.station), LOT_NAME.c.lot == asked(LOT_NAME.c.lot)
    )
)
_NAME = Prepared(insert(LOT_NAME).values(given(LOT_NAME)))


def note_uses(connection: Connection, entry: Entry) -> None:
    """Bring the tables up to one more entry."""
    if entry.kind in NAMES:
        note_name(connection, entry)
        return
    if moved := moved_in(entry):
        _move(connection, entry.station, moved)
    uses = uses_in(entry)
    if not uses:
        return
    for part, one in enumerate(uses):
        _ADD(connection, **use_row(entry, part, one))
        if one.lot:
            _sum_up(connection, entry.station, one)


def use_row(entry: Entry, part: int, use: Use) -> dict[str, Any]:
    """A use as columns of the table ``lot_use``: the ``part`` of what an entry used."""
    return {
        "station": entry.station,
        "seq": entry.seq,
        "part": part,
        "batch": use.batch,
        "addition": use.addition,
        "lot": use.lot,
        "ingredient": use.ingredient,
        "g": mass.text(use.g),
        "u_g": mass.text(use.u_g),
        "corrected": 0,
    }


def note_name(connection: Connection, entry: Entry) -> None:
    """Note what a lot is called here from now on; nothing for what cannot be read, as with uses."""
    try:
        done = inner(entry) if entry.kind == SHARED else entry
        lot, code = str(entry.body["lot"]), str(done.body["lot"])
        first = done.kind == RECEIVED and "corrects" not in done.body
    except (KeyError, TypeError, ValueError):
        return
    if not first or _NAMED(connection, station_is=entry.station, lot_is=lot).fetchone():
        return
    _NAME(connection, station=entry.station, lot=lot, origin=done.station, code=code)


def move_use(connection: Connection, station: str, moved: Moved) -> bool:
    """Put a use down to the lot it was taken from; whether there is such a use. The sums of the
    lots are for who calls."""
    was = moved.was
    here = (
        LOT_USE.c.station == station,
        LOT_USE.c.batch == was.batch,
        LOT_USE.c.addition == was.addition,
        LOT_USE.c.part == moved.part,
        LOT_USE.c.lot == was.lot,
    )
    if connection.execute(select(LOT_USE.c.seq).where(*here)).first() is None:
        return False
    connection.execute(update(LOT_USE).where(*here).values(lot=moved.lot, corrected=1))
    return True


def _move(connection: Connection, station: str, moved: Moved) -> None:
    was = moved.was
    if not move_use(connection, station, moved):
        return
    if was.lot:
        _sum_up(connection, station, was, back=True)
    if moved.lot:
        _sum_up(connection, station, replace(was, lot=moved.lot))


def _sum_up(connection: Connection, station: str, use: Use, *, back: bool = False) -> None:
    here = {"station_is": station, "lot_is": use.lot}
    row = _SUM(connection, **here).fetchone()
    before = Drawn() if row is None else drawn_of(*row)
    after = (before.without if back else before.and_also)(use.g, use.u_g)
    if back and not after.uses:
        _NO_SUM(connection, **here)
        return
    values = {"g": mass.text(after.g), "u2": mass.text(after.u2), "uses": after.uses}
    if row is None:
        _NEW_SUM(connection, station=station, lot=use.lot, **values)
    else:
        _OTHER_SUM(connection, **here, **values)


def forget_uses(connection: Connection, station: str) -> None:
    """Empty the tables, to draw them again."""
    for table in (LOT_USE, LOT_SUM, LOT_NAME):
        connection.execute(delete(table).where(table.c.station == station))


def drawn(store: Store, station: str) -> Mapping[str, Drawn]:
    """What was drawn from each lot."""
    wanted = select(LOT_SUM.c.lot, LOT_SUM.c.g, LOT_SUM.c.u2, LOT_SUM.c.uses)

    def ask(connection: Connection) -> dict[str, Drawn]:
        rows = connection.execute(wanted.where(LOT_SUM.c.station == station))
        return {row.lot: drawn_of(row.g, row.u2, row.uses) for row in rows}

    return store.read(ask)


def uses_of_lots(store: Store, station: str, lots: Sequence[str]) -> list[Use]:
    """What went where from these lots, in the order of the record."""
    return _of_station(store, station, LOT_USE.c.lot, lots)


def uses_in_batches(store: Store, station: str, batches: Sequence[str]) -> list[Use]:
    """What went into these batches, in the order of the record."""
    return _of_station(store, station, LOT_USE.c.batch, batches)


def masses_of_batches(store: Store, station: str, batches: Sequence[str]) -> dict[str, Decimal]:
    """Grams of all that was weighed into each of these batches."""
    return store.read(lambda it: masses(it, batches, LOT_USE.c.station == station))


def _of_station(
    store: Store, station: str, by: ColumnElement[str], wanted: Sequence[str]
) -> list[Use]:
    found = store.read(lambda it: uses_by(it, by, wanted, LOT_USE.c.station == station))
    return [use for _, use in found]


def uses_by(
    connection: Connection,
    by: ColumnElement[str],
    wanted: Sequence[str],
    *where: ColumnElement[bool],
) -> list[tuple[str, Use]]:
    """The uses of these lots or batches with the station of each, in the order of its record."""
    out = []
    for these in some(connection, by, wanted):
        rows = connection.execute(_USES.where(these, *where))
        # Sorted here: asked to sort, SQLite would read the whole record in its order instead.
        for station, _, _, batch, n, lot, ingredient, g, u_g, corrected in sorted(map(tuple, rows)):
            use = Use(batch, n, lot, ingredient, mass.parse(g), mass.parse(u_g), bool(corrected))
            out.append((station, use))
    return out


def masses(
    connection: Connection, batches: Sequence[str], *where: ColumnElement[bool]
) -> dict[str, Decimal]:
    """Grams of all that was weighed into each of these batches."""
    out: dict[str, Decimal] = {}
    exact = connection.dialect.name == "postgresql"  # SQLite would sum in binary floats
    for these in some(connection, LOT_USE.c.batch, batches):
        if exact:
            total = func.sum(cast(LOT_USE.c.g, Numeric))
            wanted = select(LOT_USE.c.batch, total).group_by(LOT_USE.c.batch)
        else:
            wanted = select(LOT_USE.c.batch, LOT_USE.c.g)
        for batch, g in connection.execute(wanted.where(these, *where)):
            out[batch] = out.get(batch, _NOTHING) + Decimal(g)
    return out


def some(
    connection: Connection, column: ColumnElement[str], those: Sequence[str]
) -> Iterator[ColumnElement[bool]]:
    """That a column is one of those, at most so many at once: PostgreSQL takes all as one array,
    which is quicker made than as many variables."""
    if connection.dialect.name == "postgresql":
        if those:
            yield column == any_(literal(list(those), ARRAY(Text)))
        return
    for first in range(0, len(those), MOST_ASKED):
        yield column.in_(those[first : first + MOST_ASKED])


def drawn_of(g: str, u2: str, uses: int) -> Drawn:
    """What was drawn from a lot, by columns of the table ``lot_sum``."""
    return Drawn(mass.parse(g), mass.parse(u2), uses)
