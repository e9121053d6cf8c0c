"""The receiver beside a running station: what is new is taken in once; a store away is awaited."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import Any, cast

from tests.station.shared_world import Bench, Store, World
from weighd.clock import SystemClock
from weighd.domain.errors import JournalError
from weighd.domain.formula_text import read_formula
from weighd.domain.lot_record import OVERDRAWN
from weighd.main.receiving import Pace, Receiver
from weighd.station.inputs import CameDown, Input
from weighd.station.lot_history import book_in
from weighd.station.picture import Picture
from weighd.station.runner import Runner
from weighd.station.station import Station
from weighd.storage.address import Address
from weighd.storage.formula_revisions import FormulaRevisions
from weighd.storage.journal import SqlJournal
from weighd.storage.received import Received
from weighd.storage.sqlite import SqliteStore

PLUM = """
name = "Plum ice"
[ingredients]
plum = { name = "Plum" }
[[additions]]
ingredient = "plum"
target = "100 g"
tolerance = "5 g"
"""


class Nobody:
    """No page looks on."""

    def changed(self) -> None:
        pass


class Hot:
    """A station that runs, and its receiver on a store of the others."""

    def __init__(self, folder: Path) -> None:
        self.journal = SqlJournal(SqliteStore(folder / "own.db"), "hot")
        self.folder = folder
        self.away = False
        lots = book_in(self.journal)
        self.receiver = Receiver(
            self.journal,
            Address("postgresql://floor.example/weighd", {}),
            SystemClock(),
            lots,
            received=Received(folder / "formulas"),
            pace=Pace(0.02, 0.05, 0.0),
            open_store=self._open,
        )
        self.station = Station("hot", [], lots=lots, shared=self.receiver.shared)
        self.inputs: list[Input] = []
        self.runner = Runner(
            self.station,
            self.journal,
            SystemClock(),
            Picture(self.station),
            Nobody(),
            self.inputs.append,
        )

    def _open(self, _address: Address) -> Any:
        if self.away:
            raise JournalError("store-away", "The shared store does not answer.")
        return Cut(self)

    def pulls(self) -> int:
        return sum(isinstance(one, CameDown) for one in self.inputs)

    def run(self, what: Callable[[], Awaitable[None]]) -> None:
        async def main() -> None:
            running = asyncio.create_task(self.runner.run())
            await self.runner.awake.wait()
            self.receiver.start(self.runner)
            try:
                await what()
            finally:
                await asyncio.to_thread(self.receiver.stop)
                running.cancel()
                await asyncio.gather(running, return_exceptions=True)
                self.journal.close()

        asyncio.run(main())


class Cut:
    """The others' store, which may be cut off at any moment."""

    def __init__(self, hot: Hot) -> None:
        self._hot = hot
        self._store = SqliteStore(hot.folder / "all.db")

    def read(self, question: Callable[..., Any]) -> Any:
        if self._hot.away:
            raise JournalError("store-away", "The shared store does not answer.")
        return self._store.read(question)

    def write(self, change: Callable[..., Any]) -> Any:
        return self._store.write(change)

    def close(self) -> None:
        self._store.close()


async def until(true: Callable[[], object]) -> None:
    for _ in range(3000):  # half a minute; it takes a moment
        if true():
            return
        await asyncio.sleep(0.01)
    raise AssertionError("it did not come")


def store_of(hot: Hot, *benches: Bench) -> None:
    """Have the store hold what these stations recorded, and nothing else."""
    store = SqliteStore(hot.folder / "all.db")
    for one in benches:
        journal = SqlJournal(store, one.name)
        journal.append(one.journal[journal.tail().seq :])
    store.close()


def test_what_is_new_comes_down_once(tmp_path: Path) -> None:
    world = World("cold")
    cold = world["cold"]
    cold.receive("M-1", "1000")
    hot = Hot(tmp_path)
    hot.away = True  # SQLite has one user at a time; PostgreSQL has not
    store_of(hot, cold)

    async def what() -> None:
        await until(lambda: hot.receiver.cut_off)
        hot.away = False
        await until(lambda: len(hot.station.stock.book) == 1)
        await until(lambda: not hot.receiver.cut_off)
        before, heard = hot.pulls(), hot.station.stock.heard_at
        assert before == 1
        await until(lambda: hot.station.stock.heard_at > heard)
        assert hot.pulls() == before  # nothing new: no input, and a recording does not grow
        hot.away = True
        await until(lambda: hot.receiver.cut_off)
        await asyncio.to_thread(cold.draw, "M-1", "1200")
        await asyncio.to_thread(store_of, hot, cold)
        await asyncio.to_thread(publish, hot)
        hot.away = False
        await until(lambda: hot.station.stock.book.get("M-1").left_g == -200)  # type: ignore[union-attr]
        await until(lambda: any(one.kind == OVERDRAWN for one in hot.journal.lot_entries()))
        await until(lambda: [one["formula"] for one in hot.receiver._received.draw({})])  # type: ignore[union-attr]

    hot.run(what)
    told = {one.code for one in hot.station.notices}
    assert {"lot-overdrawn", "formula-came-down"} <= told
    again = Hot(tmp_path)  # started anew, cut off
    book = again.station.stock.book
    assert (book.get("M-1").left_g, book.known) == (-200, {"cold": 1})  # type: ignore[union-attr]
    assert again.station.stock.heard_at
    again.journal.close()


def publish(hot: Hot) -> None:
    store = SqliteStore(hot.folder / "all.db")
    formula = read_formula(PLUM, "plum-ice.toml")
    FormulaRevisions(store).publish(formula, "cold", "Ada", "2026-11-26T10:00:00.000Z")
    store.close()


def test_what_does_not_hold_is_told_once_and_asked_for_again(tmp_path: Path) -> None:
    cold = Bench("cold", Store(), lambda: 600)
    cold.receive("M-1", "1000")
    hot = Hot(tmp_path)
    store = SqliteStore(tmp_path / "all.db")
    good = cold.journal[0]
    SqlJournal(store, "cold").append([good])
    spoil(store, '"quantity_g":"1000"', '"quantity_g":"9000"')
    store.close()

    async def what() -> None:
        await until(lambda: hot.station.stock.refused)
        heard = hot.station.stock.heard_at
        await until(lambda: hot.station.stock.heard_at > heard)
        assert hot.pulls() == 1  # asked again, and not told again
        assert not len(hot.station.stock.book)
        hot.away = True
        await until(lambda: hot.receiver.cut_off)

        def mend() -> None:
            store = SqliteStore(tmp_path / "all.db")
            spoil(store, '"quantity_g":"9000"', '"quantity_g":"1000"')
            store.close()

        await asyncio.to_thread(mend)
        hot.away = False
        await until(lambda: len(hot.station.stock.book) == 1)

    hot.run(what)
    assert [one.code for one in hot.station.notices].count("not-shared") == 1


def spoil(store: SqliteStore, old: str, new: str) -> None:
    from sqlalchemy import func, update

    from weighd.storage.schema import ENTRY

    change = update(ENTRY).values(body=func.replace(ENTRY.c.body, old, new))
    store.write(lambda it: cast(None, it.execute(change)))
