"""Which revision of a formula each batch was opened with, asked of the record itself."""

from __future__ import annotations

from sqlalchemy import ColumnElement, Connection, func, literal_column, select

from weighd.station.ports import Opening
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
