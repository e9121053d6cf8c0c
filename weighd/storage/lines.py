"""Lines of the list of batches, asked for by their ids."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from sqlalchemy import Connection, select

from weighd.station.ports import BatchRow
from weighd.storage.schema import BATCH

if TYPE_CHECKING:
    from weighd.storage.journal import Store

LINE = tuple(BATCH.c[name] for name in BatchRow.__dataclass_fields__)
#: Ids that one question names.
_TOGETHER = 200


def lines_of(store: Store, station: str, batches: Iterable[str]) -> dict[str, BatchRow]:
    """The lines of these batches by their ids, as far as there are such."""
    ids, out = sorted(set(batches)), dict[str, BatchRow]()
    mine = select(*LINE).where(BATCH.c.station == station)

    def ask(connection: Connection) -> None:
        for n in range(0, len(ids), _TOGETHER):
            some = mine.where(BATCH.c.id.in_(ids[n : n + _TOGETHER]))
            out.update((one.id, BatchRow(*one)) for one in connection.execute(some))

    store.read(ask)
    return out
