"""Which revision of a formula each batch was opened with, and how many entries there are of a kind:
asked of the record itself."""

from __future__ import annotations

from collections.abc import Collection

from sqlalchemy import ColumnElement, Connection, func, literal_column, select

from weighd.station.ports import Opening, Tally
from weighd.storage.learned import Store
from weighd.storage.schema import BATCH, ENTRY
from weighd.storage.views import DIALECTS


def openings(store: Store, station: str, formula: str) -> list[Opening]:
    """The batches of a formula, oldest first. Of one that was put away the revision is empty."""

    def ask(connection: Connection) -> list[Opening]:
        of = DIALECTS[connection.dialect.name]
        revision: ColumnElement[str] = literal_column(of.text("entry.body", "formula", "revision"))
        wanted = (
            select(BATCH.c.id, BATCH.c.opened, BATCH.c.operator, func.coalesce(revision, ""))
            .join(ENTRY, (ENTRY.c.station == BATCH.c.station) & (ENTRY.c.seq == BATCH.c.seq))
            .where(BATCH.c.station == station, BATCH.c.formula == formula)
            .order_by(BATCH.c.seq)
        )
        return [Opening(*map(str, row)) for row in connection.execute(wanted)]

    return store.read(ask)


def tally(store: Store, station: str, kinds: Collection[str]) -> Tally:
    """How many entries there are of these kinds, by what was said of them and by their scale. Of
    batches that were put away there are none."""

    def ask(connection: Connection) -> Tally:
        of = DIALECTS[connection.dialect.name]
        texts: list[ColumnElement[str]] = [
            literal_column(of.text("entry.body", it)) for it in ("verdict", "outcome", "scale")
        ]
        verdict, outcome, scale = texts
        told = (ENTRY.c.kind, func.coalesce(verdict, outcome, ""), func.coalesce(scale, ""))
        wanted = select(*told, func.count()).where(
            ENTRY.c.station == station, ENTRY.c.kind.in_(sorted(kinds))
        )
        rows = connection.execute(wanted.group_by(*told)).all()
        newest = select(func.max(ENTRY.c.seq)).where(ENTRY.c.station == station)
        upto = int(connection.execute(newest).scalar() or 0)
        return Tally(upto, [(str(a), str(b), str(c), int(n)) for a, b, c, n in rows])

    return store.read(ask)
