"""The formulas that were published to a shared store: only ever added to, numbered in order."""

from __future__ import annotations

import json
from collections.abc import Sequence

from sqlalchemy import func, insert, select
from sqlalchemy.engine import Connection, RowMapping

from weighd.domain.errors import JournalError
from weighd.domain.formula import Formula, plain_id
from weighd.domain.formula_shared import Published, published_of
from weighd.domain.record import canonical
from weighd.storage.learned import Store
from weighd.storage.schema import FORMULA_REVISION
from weighd.storage.turns import take_turn

#: Revisions that come down at once: a page or two of text each.
MOST = 100


class FormulaRevisions:
    """What was published. Calls may come from any thread; each may raise ``JournalError``."""

    def __init__(self, store: Store) -> None:
        self._store = store

    def publish(self, formula: Formula, station: str, by: str, at: str) -> tuple[Published, bool]:
        """Publish a formula as it is; and whether it is new: the newest revision of it is not
        published twice."""
        content = formula.content()
        identity = plain_id(formula.id)

        def add(connection: Connection) -> tuple[Published, bool]:
            take_turn(connection, ":formulas")  # no station is called so
            table = FORMULA_REVISION
            newest = select(table).where(table.c.formula == identity)
            row = connection.execute(newest.order_by(table.c.number.desc()).limit(1)).mappings()
            before = row.first()
            if before is not None and before["revision"] == formula.revision:
                return _published(before), False
            number = (connection.scalar(select(func.max(table.c.number))) or 0) + 1
            made = Published(
                number, identity, formula.revision, formula.name, content, station, by, at
            )
            text = canonical(content).decode("utf-8")
            connection.execute(insert(table).values({**made.as_json(), "content": text}))
            return made, True

        return self._store.write(add)

    def after(self, number: int) -> Sequence[Published]:
        """What was published after that number, oldest first, some at a time."""
        table = FORMULA_REVISION
        wanted = select(table).where(table.c.number > number).order_by(table.c.number).limit(MOST)

        def ask(connection: Connection) -> list[Published]:
            return [_published(row) for row in connection.execute(wanted).mappings()]

        return self._store.read(ask)


def _published(row: RowMapping) -> Published:
    try:
        return published_of({**row, "content": json.loads(row["content"])})
    except (ValueError, TypeError, RecursionError) as error:
        raise JournalError(
            "unreadable-formula",
            f"Formula {row['number']} of the shared store cannot be read: {error}.",
            where=f"formula {row['number']}",
        ) from error
