"""Lines of the list of batches: the newest, or those of some ids."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from sqlalchemy import Connection, func, or_, select

from weighd.domain.spelling import plain
from weighd.station.ports import ALL_WEIGHED, CODES, WRITTEN, BatchRow
from weighd.storage.schema import BATCH
from weighd.storage.uses import some

if TYPE_CHECKING:
    from weighd.storage.journal import Store

LINE = tuple(BATCH.c[name] for name in BatchRow.__dataclass_fields__)


def newest_lines(store: Store, station: str, limit: int, before: str | None) -> list[BatchRow]:
    """The newest first; ``before`` is a batch to go on from, and nothing precedes a stranger."""
    wanted = select(*LINE).where(BATCH.c.station == station)
    if before is not None:
        seq = select(BATCH.c.seq).where(BATCH.c.station == station, BATCH.c.id == before)
        wanted = wanted.where(BATCH.c.seq < seq.scalar_subquery())
    wanted = wanted.order_by(BATCH.c.seq.desc()).limit(max(limit, 0))
    return store.read(lambda connection: [BatchRow(*one) for one in connection.execute(wanted)])


def newest_of_formulas(store: Store, station: str) -> dict[str, BatchRow]:
    """The newest batch of each formula that was all weighed, by the formula's id."""
    mine = (BATCH.c.station == station, BATCH.c.status.in_(ALL_WEIGHED))
    newest = select(func.max(BATCH.c.seq)).where(*mine).group_by(BATCH.c.formula)
    wanted = select(*LINE).where(BATCH.c.station == station, BATCH.c.seq.in_(newest))
    rows = store.read(lambda connection: [BatchRow(*one) for one in connection.execute(wanted)])
    return {one.formula: one for one in rows}


def lines_of(store: Store, station: str, batches: Iterable[str]) -> dict[str, BatchRow]:
    """The lines of these batches by their ids, as far as there are such."""
    ids, out = sorted(set(batches)), dict[str, BatchRow]()
    mine = select(*LINE).where(BATCH.c.station == station)

    def ask(connection: Connection) -> None:
        for these in some(connection, BATCH.c.id, ids):
            rows = connection.execute(mine.where(these))
            out.update((one.id, BatchRow(*one)) for one in rows)

    store.read(ask)
    return out


def lines_with(store: Store, station: str, words: Sequence[str], limit: int) -> list[BatchRow]:
    """Those that have all these words in what is searched, newest first.

    No database knows accents as we do: of what people wrote the few different texts are looked at
    here, and batches that have one of them asked for.
    """
    mine = BATCH.c.station == station

    def ask(connection: Connection) -> list[BatchRow]:
        texts = {
            column: connection.scalars(select(column).where(mine).distinct()).all()
            for column in (BATCH.c[one] for one in WRITTEN if words)
        }
        wanted = select(*LINE).where(mine)
        for word in words:
            has = [func.lower(BATCH.c[one]).contains(word, autoescape=True) for one in CODES]
            has += [
                column.in_([one for one in known if word in plain(one)])
                for column, known in texts.items()
            ]
            wanted = wanted.where(or_(*has))
        wanted = wanted.order_by(BATCH.c.seq.desc()).limit(max(limit, 0))
        return [BatchRow(*one) for one in connection.execute(wanted)]

    return store.read(ask)
