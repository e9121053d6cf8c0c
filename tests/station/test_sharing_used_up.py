"""What others drew of a lot that was used up: taken back where it turns out to be of another."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

from tests.station.shared_world import World
from weighd.domain.lot_shared import Sum, is_long_gone, spread
from weighd.domain.lot_uses import Drawn
from weighd.domain.lots import Goods, Lot, LotBook
from weighd.station.inputs import CameDown
from weighd.storage.everywhere import Everywhere
from weighd.storage.journal import SqlJournal
from weighd.storage.sqlite import SqliteStore

NAMES = ("cold", "hot", "third")


@pytest.mark.parametrize("ends", ["use up lot", "adjust lot"])
def test_a_use_that_may_be_of_two_lots_is_of_one_in_the_end_though_the_other_was_used_up(
    ends: str,
) -> None:
    """Worked by hand: 10 g each; 5 g drawn from ``A`` where nobody had told which. It is told that
    the one of ``cold`` was received first: of that 5 g are left, of the one used up nothing."""
    world = World(*NAMES)
    world["cold"].receive("A", "10")
    world.minute += 1
    world["hot"].receive("A", "10")
    world["third"].draw("A", "5")
    world.minute += 1
    goods = {"count_g": "0"} if ends == "adjust lot" else None
    assert world["hot"].do(ends, "A", reason="so", goods=goods) == ""
    for name in NAMES:
        world[name].send()
    for name in ("cold", "hot"):  # before the third was told: it counts as drawn from each
        world[name].pull()
        assert world[name].lot("hot", "A").left_g == -5
        assert world[name].lot("cold", "A").left_g == 5
    world.settle()
    for name in NAMES:
        assert world[name].lot("hot", "A").left_g == 0, name
        assert world[name].lot("hot", "A").elsewhere_g == 0, name
        assert world[name].lot("cold", "A").left_g == 5, name
        assert bool(world[name].lot("hot", "A").used_up) is (ends == "use up lot")
        assert world[name].verified() == 2


def test_the_same_by_the_store_of_a_database(tmp_path: Path) -> None:
    """What is asked for, and what is told of it, by the lines that the receiver uses."""
    world = World("cold", "hot", "third")
    cold, hot, third = (world[name] for name in NAMES)
    cold.receive("A", "10")
    hot.receive("A", "10")
    third.draw("A", "5")
    world.minute += 1
    hot.do("use up lot", "A", reason="so")
    store = SqliteStore(tmp_path / "all.db")
    stood = list[list[Decimal]]()
    for _ in range(3):
        for one in (cold, hot, third):
            journal = SqlJournal(store, one.name)
            journal.append(one.journal[journal.tail().seq :])
        for one in (cold, hot, third):
            book = one.station.stock.book
            asked = [lot for lot in book if not is_long_gone(lot, one.at())]
            news = Everywhere(store).news(one.name, book.known, asked)
            rows = [tuple(it.as_json() for it in those) for those in (news.entries, news.sums)]
            one.take(CameDown(0.0, one.at(), *rows))
        stood.append([one.lot("hot", "A").left_g for one in (cold, hot, third)])
    store.close()
    assert stood[0] == [-5, -5, 0]
    assert stood[-1] == [0, 0, 0]
    assert [one.lot("cold", "A").left_g for one in (cold, hot, third)] == [5, 5, 5]


def test_only_what_is_asked_no_more_stands_untold() -> None:
    """Sums of a lot are asked for through 60 days after its end."""
    drawn = Drawn(Decimal(5), Decimal("0.01"), 1)
    lot = Lot("A", Goods("milk", "Milk", Decimal(10)), "2026-09-01T08:00:00.000Z", "Ada", 1, "h")
    end = "2026-09-27T10:00:00.000Z"
    moments = {"2026-11-26T23:59:59.999Z": False, "2026-11-27T00:00:00.000Z": True}
    for at, gone in moments.items():
        book = LotBook([_ended(lot, end)])
        told = [Sum("third", "A", drawn), Sum("hot", "A", drawn, "cold", "A")]
        spread(book, "cold", told, end)
        assert is_long_gone(next(iter(book)), at) is gone
        spread(book, "cold", [], at)
        assert next(iter(book)).elsewhere_g == (10 if gone else 0)
    # What is still told of it, for the code it shares with another lot, takes nothing else away.
    more = Drawn(Decimal(6), Decimal("0.01"), 1)
    book = LotBook([_ended(lot, end)])
    spread(book, "cold", told, end)
    spread(book, "cold", [Sum("third", "A", more)], at)
    assert dict(next(iter(book)).elsewhere) == {"third": more, "hot": drawn}
    assert not is_long_gone(lot, at)  # that was never used up


def _ended(lot: Lot, at: str) -> Lot:
    return replace(lot, used_up=at)
