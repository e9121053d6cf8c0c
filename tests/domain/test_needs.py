"""What a batch takes out of stock. First expired first out is common practice, no source."""

from __future__ import annotations

from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from tests.domain.test_lots import DAY, Books
from weighd.domain.formula_text import read_formula
from weighd.domain.lot_record import BLOCKED
from weighd.domain.needs import Stocked, most_of, needs

FORMULA = """
name = "Test ice"
[ingredients]
milk = { name = "Milk" }
sugar = { name = "Sugar" }
water = { name = "Water" }
[[additions]]
ingredient = "milk"
target = "400 g"
tolerance = "1 %"
[[additions]]
ingredient = "sugar"
target = "100 g"
tolerance = "1 %"
[[additions]]
ingredient = "milk"
target = "200 g"
tolerance = "1 %"
[[additions]]
ingredient = "water"
target = "300 g"
tolerance = "1 %"
"""
ICE = read_formula(FORMULA, "test-ice.toml")


def test_lots_are_taken_in_order_and_what_is_missing_is_told() -> None:
    books = Books()
    late = books.receive("milk", "100", use_by="2026-12-09")
    soon = books.receive("milk", "450", use_by="2026-11-30")
    old = books.receive("milk", "900", use_by="2026-11-25")
    bad = books.receive("milk", "900", use_by="2026-12-24")
    books.do(BLOCKED, bad, reason="a stone")
    sugar = books.receive("sugar", "2000")
    first, sweet, again, wet = needs(ICE, books.book, DAY)
    assert [(one.code, g) for one, g in first.takes] == [(soon, 400)]
    assert (first.stocked, first.short_g) == (Stocked.THERE, 0)
    assert {one.code for one in first.aside} == {old, bad}
    assert [(one.code, g) for one, g in sweet.takes] == [(sugar, 100)]
    assert [(one.code, g) for one, g in again.takes] == [(soon, 50), (late, 100)]
    assert (again.stocked, again.short_g, again.aside) == (Stocked.SHORT, 50, ())
    assert wet.stocked is Stocked.UNBOOKED
    # 550 g of milk are there, 600 g go into a kilo: 916.666 g. The sugar would do for 20 kg.
    most = most_of(ICE, books.book, DAY)
    assert most is not None
    assert (most.batch_g, most.scarcest, most.asked) == (Decimal("916.66"), "milk", "milk=550 g")


def test_nothing_is_made_of_nothing_and_nothing_limits_what_was_never_booked_in() -> None:
    books = Books()
    assert most_of(ICE, books.book, DAY) is None
    assert {one.stocked for one in needs(ICE, books.book, DAY)} == {Stocked.UNBOOKED}
    books.receive("milk", "100", use_by="2026-11-01")
    assert most_of(ICE, books.book, DAY) is None
    assert needs(ICE, books.book, DAY)[0].short_g == 400


@given(st.lists(st.integers(1, 400), max_size=6), st.integers(1, 900))
def test_what_is_taken_and_what_is_missing_is_what_is_needed(lots: list[int], size: int) -> None:
    books = Books()
    for k, grams in enumerate(lots):
        books.receive("milk", str(grams), use_by=f"2026-12-{k % 28 + 1:02}")
    found = needs(ICE.scaled(Decimal(size)), books.book, DAY)
    milk = [one for one in found if one.stocked is not Stocked.UNBOOKED]
    for one in milk:
        assert sum(g for _, g in one.takes) + one.short_g == one.needed_g
    emptied: dict[str, Decimal] = {}
    order: list[str] = []
    for lot, grams in (take for one in milk for take in one.takes):
        emptied[lot.code] = emptied.get(lot.code, Decimal(0)) + grams
        if lot.code not in order:
            order.append(lot.code)
    for code in order[:-1]:  # none is begun before the one before it is empty
        lot = books.book.get(code)
        assert lot is not None
        assert emptied[code] == lot.left_g


def test_so_much_that_no_batch_can_be_that_large_limits_nothing() -> None:
    books = Books()
    for name, there in (("milk", "999999"), ("sugar", "999999"), ("water", "999999")):
        books.receive(name, there)
    assert most_of(ICE, books.book, DAY) is None
