"""All stations of a shared store at once: traces across them, what comes down; by a file and by
PostgreSQL, and against the same in memory."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.servers import Postgres
from tests.station.shared_world import Bench, World
from tests.storage.shared_store import emptied
from weighd.domain.errors import RecordError
from weighd.domain.lot_record import OVERDRAWN
from weighd.domain.lot_uses import Use, drawn_by
from weighd.domain.record import Entry
from weighd.domain.trace import Trace, trace
from weighd.main.proving import verify_file
from weighd.station.inputs import CameDown
from weighd.storage.everywhere import Everywhere
from weighd.storage.journal import SqlJournal, Store
from weighd.storage.sqlite import SqliteStore

NAMES = ("cold", "hot", "third")


@pytest.fixture(scope="module")
def address(postgres: Postgres) -> str:
    return postgres.create("everywhere")


@pytest.fixture(params=["sqlite", "postgresql"])
def store(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Store]:
    if request.param == "sqlite":
        one: Store = SqliteStore(tmp_path / "all.db")
    else:
        one = emptied(request.getfixturevalue("address"))
    yield one
    one.close()


class Kitchen(World):
    """Stations whose entries stand in a database."""

    def __init__(self, store: Store, *names: str) -> None:
        super().__init__(*names)
        self.everywhere = Everywhere(store)
        self.journals = {name: SqlJournal(store, name) for name in names}

    def up(self, *names: str) -> None:
        for name in names or self.benches:
            journal, sent = self.journals[name], self.journals[name].tail().seq
            if new := self[name].journal[sent:]:
                journal.append(new)

    def down(self, *names: str) -> None:
        for name in names or self.benches:
            bench = self[name]
            book = bench.station.stock.book
            news = self.everywhere.news(name, book.known, book)
            bench.sums, bench.heard = list(news.sums), bench.at()
            rows = tuple(one.as_json() for one in news.entries)
            sums = tuple(one.as_json() for one in news.sums)
            bench.take(CameDown(0.0, bench.heard, rows, sums))

    def settle(self) -> None:
        for _ in range(3):
            self.up()
            self.down()

    def traced(self, lot: str) -> Trace:
        return self.everywhere.trace(lot)


def weigh(bench: Bench, batch: str, lot: str, grams: str) -> None:
    """Weigh a lot into a batch."""
    bench.draw(lot, grams, batch=batch)


def test_a_base_made_at_one_station_and_used_at_another(store: Store) -> None:
    """Worked by hand, invented: a quarter of the base is M; of 80 g base, 20 g are M."""
    it = Kitchen(store, "cold", "hot", "third")
    it["cold"].receive("M", "1000")
    it.settle()
    weigh(it["cold"], "cold-0001", "M", "50")
    weigh(it["cold"], "cold-0001", "S", "150")
    it.settle()
    weigh(it["hot"], "hot-0001", "cold-0001", "80")
    weigh(it["hot"], "hot-0001", "S", "20")
    weigh(it["third"], "third-0001", "hot-0001", "10")
    weigh(it["third"], "third-0001", "M", "90")
    it.settle()
    found = it.traced("M")
    assert [(one.batch, one.depth, one.g, one.batch_g) for one in found.forward] == [
        ("cold-0001", 1, Decimal(50), Decimal(200)),
        ("third-0001", 1, Decimal(92), Decimal(100)),  # 90 g itself, and 10 g of a fifth of M
        ("hot-0001", 2, Decimal(20), Decimal(100)),
    ]
    back = {one.lot: one.g for one in it.traced("third-0001").back}
    assert back == {
        "M": Decimal(92),
        "hot-0001": Decimal(10),
        "cold-0001": Decimal(8),
        "S": Decimal(8),  # 2 g of the hot one's own, and 6 g by way of the base
    }
    assert it.everywhere.stations() == ["cold", "hot", "third"]
    assert it.everywhere.owners("M") == ["cold"]


def test_two_lots_of_one_code_are_traced_apart(store: Store) -> None:
    it = Kitchen(store, *NAMES)
    it["third"].draw("M", "7")  # before anybody told it what M is
    it["cold"].receive("M", "1000")
    it["hot"].receive("M", "1000")
    it.up()
    # Neither is told of to the third yet: its 7 g may be of both.
    assert it.everywhere.owners("M") == ["cold", "hot"]
    assert {one.g for one in it.traced("M@cold").uses} == {Decimal(7)}
    assert {one.g for one in it.traced("M@hot").uses} == {Decimal(7)}
    it.settle()
    it["cold"].draw("M", "10")
    it["hot"].draw("M", "20")
    it["hot"].draw("M@cold", "30")
    it["third"].draw("M@hot", "40")
    it.settle()

    def grams(lot: str) -> Decimal:
        return sum((one.g for one in it.traced(lot).uses), Decimal(0))

    assert grams("M@cold") == Decimal(47)  # the third's M is what it was told of first
    assert grams("M@hot") == Decimal(60)
    assert grams("M") == Decimal(107)  # who asks for both is given both
    assert {one.lot for one in it.everywhere.uses_in_batches(["hot-0001"])} == {"M@cold", "M@hot"}


def test_what_comes_down_is_what_is_not_known_yet(store: Store) -> None:
    it = Kitchen(store, *NAMES)
    it["cold"].receive("M", "1000")
    it["cold"].do("block lot", "M", reason="a stone in it")
    it.up("cold")
    assert [one.seq for one in it.everywhere.news("hot", {}, ()).entries] == [1, 2]
    assert [one.seq for one in it.everywhere.news("hot", {"cold": 1}, ()).entries] == [2]
    assert it.everywhere.news("cold", {}, ()).entries == ()
    it.down("hot")
    it["cold"].do("release lot", "M", reason="it was a nut")
    it["cold"].draw("M", "700")
    it["hot"].draw("M", "400")
    it.settle()
    for name in NAMES:
        assert it[name].lot("cold", "M").left_g == -100
        assert it[name].of_kind(OVERDRAWN), name
        assert it[name].verified() == 1
    journal = it.journals["hot"]
    assert journal.rebuild_batches() == 0
    assert {one.lot for one in it.everywhere.uses_in_batches(["hot-0001"])} == {"M"}


LOTS = ("A", "B", "cold-0001", "hot-0001", "hot-0002", "third-0001")
BATCHES = ("cold-0001", "hot-0001", "hot-0002", "third-0001")


@settings(
    max_examples=25,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    st.lists(
        st.tuples(st.sampled_from(BATCHES), st.sampled_from(LOTS), st.integers(1, 900)), max_size=15
    ),
    st.sampled_from(LOTS),
)
def test_a_trace_is_that_of_one_record_of_all(
    fresh: Callable[[], Store], weighed: Sequence[tuple[str, str, int]], lot: str
) -> None:
    store = fresh()
    it = Kitchen(store, *NAMES)
    for batch, of, grams in weighed:
        weigh(it[batch.partition("-")[0]], batch, of, str(grams))
    it.up()
    uses: list[Use] = []
    for name in NAMES:
        entries: list[Entry] = it[name].journal
        uses += drawn_by(entries)
    one = trace(
        lot,
        lambda lots: [it for it in uses if it.lot in lots],
        lambda batches: [it for it in uses if it.batch in batches],
    )
    assert it.traced(lot) == one
    store.close()


@pytest.fixture
def fresh(tmp_path: Path) -> Callable[[], Store]:
    count = iter(range(10_000))
    return lambda: SqliteStore(tmp_path / f"{next(count)}.db")


def test_verifying_a_shared_store_holds_what_was_learned_to_the_other_journal(
    tmp_path: Path,
) -> None:
    """Each journal holds by itself; together they show that one says what the other does not."""
    path = tmp_path / "all.db"
    store = SqliteStore(path)
    it = Kitchen(store, "cold", "hot")
    it["cold"].receive("M", "1000")
    it.settle()
    store.close()
    assert verify_file(path).report.lots == 2
    other = Bench("cold", it.store, lambda: it.minute)
    other.receive("M", "9000")
    forged = tmp_path / "forged.db"
    store = SqliteStore(forged)
    SqlJournal(store, "cold").append(other.journal)
    SqlJournal(store, "hot").append(it["hot"].journal)
    store.close()
    with pytest.raises(RecordError, match="journal of cold"):
        verify_file(forged)
