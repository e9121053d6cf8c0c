"""Lots: stock, first expired first out, what may be named, corrections, splits."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from weighd.domain.days import days_between, days_in, plus_days, read_day
from weighd.domain.errors import OperatorError
from weighd.domain.lot_fold import take
from weighd.domain.lot_json import lot_as_json, lot_of
from weighd.domain.lot_record import (
    ADJUSTED,
    BLOCKED,
    OPENED,
    RECEIVED,
    RELEASED,
    SHARED,
    USED_UP,
    lot_body,
    receive_body,
)
from weighd.domain.lot_shared import shared_body
from weighd.domain.lot_splits import as_fields, shares
from weighd.domain.lots import Fit, Lot, LotBook
from weighd.domain.record import Entry, Tail, seal

DAY = "2026-11-26"


class Books:
    """A book of lots and the entries that made it, on a day that can be set."""

    def __init__(self) -> None:
        self.book = LotBook()
        self.entries: list[Entry] = []
        self.at = f"{DAY}T10:00:00.000Z"

    def enter(self, kind: str, body: dict[str, Any]) -> Entry:
        last = self.entries[-1] if self.entries else None
        tail = Tail(last.seq, last.hash) if last else Tail()
        entry = seal("kitchen", kind, self.at, body, tail)
        take(self.book, entry)
        self.entries.append(entry)
        return entry

    def receive(self, ingredient: str = "sugar", quantity_g: str = "1000", **given: Any) -> str:
        corrects, reason = given.pop("corrects", ""), given.pop("reason", "")
        goods = {"ingredient": ingredient, "quantity_g": quantity_g, **given}
        body = receive_body(self.book, "kitchen", goods, "Ada", corrects=corrects, reason=reason)
        self.enter(RECEIVED, body)
        return str(body["lot"])

    def do(self, kind: str, lot: str, reason: str = "", **given: Any) -> Entry:
        return self.enter(kind, lot_body(self.book, kind, lot, given, "Ada", reason))

    def use(self, lot: str, grams: str, u_g: str = "0.1") -> None:
        body = {"batch": "kitchen-0001", "n": 2, "addition": 1, "ingredient": "sugar"}
        self.enter("addition accepted", {**body, "lot": lot, "net_g": grams, "u_g": u_g})

    def left(self, lot: str) -> Decimal:
        found = self.book.get(lot)
        assert found is not None
        return found.left_g


def refused(books: Books, lot: str, reason: str = "", ingredient: str = "sugar") -> str:
    with pytest.raises(OperatorError) as caught:
        books.book.name(lot, ingredient, "Sugar", books.at[:10], reason)
    assert len(caught.value.message) > 20
    assert caught.value.remedy
    return caught.value.code


def test_stock_is_what_came_less_what_went() -> None:
    books = Books()
    lot = books.receive(quantity_g="25 kg")
    assert lot == "R-0001"
    books.use(lot, "400.2")
    books.use(lot, "12.3")
    books.do(ADJUSTED, lot, "spilt", waste_g="100")
    assert books.left(lot) == Decimal("24487.5")
    counted = books.do(ADJUSTED, lot, "counted", count_g="24 kg")
    assert counted.body["change_g"] == "-487.5"
    assert books.left(lot) == 24000
    # Put right: the count was misread, and the new one is against what was there before it.
    books.do(ADJUSTED, lot, "misread", count_g="24400", corrects=counted.hash)
    assert books.left(lot) == 24400
    books.do(USED_UP, lot)
    found = books.book.get(lot)
    assert found is not None
    assert (found.left_g, found.fit(DAY), found.uses) == (0, Fit.USED_UP, 2)
    assert found.u_used_g == Decimal("0.1414")  # 0.1 * sqrt 2


def test_below_nothing_is_told_not_hidden() -> None:
    books = Books()
    lot = books.receive(quantity_g="100")
    books.use(lot, "130")
    assert books.left(lot) == -30
    assert books.book.suggest("sugar", DAY) is None


def test_a_receipt_is_put_right_by_another_that_names_it() -> None:
    books = Books()
    lot = books.receive(quantity_g="100", supplier="Invented Mill")
    books.use(lot, "30")
    with pytest.raises(OperatorError, match="reason"):
        books.receive(quantity_g="1000", corrects=lot)
    first = books.entries[0].hash
    books.receive(quantity_g="1000", corrects=lot, reason="a nought was missing")
    assert books.entries[-1].body["corrects"] == first
    assert books.left(lot) == 970


@pytest.mark.parametrize(
    ("day", "use_by", "best", "opened", "fit"),
    [
        ("2026-11-26", "2026-11-26", "", None, Fit.GOOD),  # through its whole day
        ("2026-11-27", "2026-11-26", "", None, Fit.EXPIRED),
        ("2026-11-27", "", "2026-11-26", None, Fit.PAST_BEST),
        ("2026-11-27", "2026-12-01", "2026-11-26", None, Fit.PAST_BEST),
        ("2026-12-02", "2026-12-01", "2026-11-26", None, Fit.EXPIRED),
        ("2026-11-29", "2026-12-24", "", 3, Fit.GOOD),
        ("2026-11-30", "2026-12-24", "", 3, Fit.EXPIRED),  # opened on the 26th, keeps 3 days
        ("2026-11-28", "2026-11-27", "", 30, Fit.EXPIRED),  # opening makes nothing keep longer
        ("2999-01-01", "", "", None, Fit.GOOD),
    ],
)
def test_dates(day: str, use_by: str, best: str, opened: int | None, fit: Fit) -> None:
    books = Books()
    lot = books.receive(use_by=use_by, best_before=best)
    if opened is not None:
        books.do(OPENED, lot, keeps_days=opened)
    found = books.book.get(lot)
    assert found is not None
    assert found.fit(day) is fit


def test_what_may_be_named() -> None:
    books = Books()
    good = books.receive(supplier_lot="X-1")
    other = books.receive("milk")
    old = books.receive(best_before="2026-11-25")
    gone = books.receive(use_by="2026-11-25")
    name = books.book.name
    assert name("r-0001", "sugar", "Sugar", DAY, "") == (good, "")
    assert name("x-1", "sugar", "Sugar", DAY, "no need") == (good, "")  # the supplier's own code
    assert name("whatever", "sugar", "Sugar", DAY, "") == ("whatever", "")  # never booked in
    assert refused(books, other) == "other-ingredient"
    assert refused(books, old) == "past-best-before"
    assert name(old, "sugar", "Sugar", DAY, "smells fine") == (old, "smells fine")
    assert refused(books, gone) == "lot-expired"
    assert refused(books, gone, "smells fine") == "lot-expired"
    books.do(BLOCKED, good, "supplier called")
    assert refused(books, good, "smells fine") == "lot-blocked"
    books.do(RELEASED, good, "supplier called again")
    assert name(good, "sugar", "Sugar", DAY, "") == (good, "")
    books.do(USED_UP, good)
    assert refused(books, good) == "lot-used-up"
    books.do(ADJUSTED, good, "found a bag", count_g="50")
    assert name(good, "sugar", "Sugar", DAY, "") == (good, "")


def test_a_code_that_two_lots_share_names_neither() -> None:
    books = Books()
    books.receive(supplier_lot="X-1")
    second = books.receive(supplier_lot="X-1")
    assert books.book.find("X-1", "sugar") is None
    books.do(USED_UP, "R-0001")
    found = books.book.find("X-1", "sugar")
    assert found is not None
    assert found.code == second


def test_first_expired_first_out() -> None:
    books = Books()
    assert books.book.suggest("sugar", DAY) is None
    late = books.receive(use_by="2027-03-01")
    none = books.receive()
    soon = books.receive(best_before="2026-12-24", use_by="2027-01-31")
    same = books.receive(best_before="2026-12-24")
    books.receive(use_by="2026-11-20")  # expired: never suggested
    blocked = books.receive(use_by="2026-11-28")
    books.do(BLOCKED, blocked, "leaks")
    order = []
    while (lot := books.book.suggest("sugar", DAY)) is not None:
        order.append(lot.code)
        books.use(lot.code, "1000")
    assert order == [soon, same, late, none]
    reopened = Books()
    reopened.receive(best_before="2026-12-24")
    opened = reopened.receive(best_before="2026-12-24")
    reopened.do(OPENED, opened)
    lot = reopened.book.suggest("sugar", DAY)
    assert lot is not None
    assert lot.code == opened  # what is open goes first


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"ingredient": "Sugar!"}, "ingredient"),
        ({"quantity_g": ""}, "quantity_g"),
        ({"quantity_g": "0"}, "quantity_g"),
        ({"quantity_g": "-5"}, "quantity_g"),
        ({"quantity_g": "NaN"}, "quantity_g"),
        ({"quantity_g": "1e9"}, "quantity_g"),
        ({"use_by": "2026-02-30"}, "use_by"),
        ({"best_before": "soon"}, "best_before"),
        ({"gtin": "123"}, "gtin"),
        ({"temperature_c": "warm"}, "temperature_c"),
        ({"temperature_c": "999"}, "temperature_c"),
        ({"supplier": "x" * 81}, "supplier"),
        ({"note": "\u202e"}, "note"),
        ({"lot": "a/b"}, "lot"),
        ({"lot": "kitchen-0007"}, "lot"),
        ({"made_in": "kitchen-0007", "lot": "other"}, "lot"),
    ],
)
def test_a_receipt_that_cannot_be_names_its_field(given: dict[str, str], field: str) -> None:
    with pytest.raises(OperatorError) as caught:
        Books().receive(**given)
    assert (caught.value.code, caught.value.where) == ("bad-lot", field)


def test_a_batch_of_ours_becomes_a_lot_under_its_own_code() -> None:
    books = Books()
    assert books.receive("base", "2000", made_in="kitchen-0007") == "kitchen-0007"
    with pytest.raises(OperatorError, match="received before"):
        books.receive("base", "2000", made_in="kitchen-0007")


# --- of other stations ----------------------------------------------------------------------------


def told(books: Books, kind: str, seq: int, at: str, station: str = "cellar", **more: Any) -> Lot:
    """What another station did to our first lot comes down; the lot as it is then."""
    body = {"lot": "R-0001", "of": {"station": "kitchen", "lot": "R-0001"}, "by": "Bo", **more}
    there = seal(station, kind, f"{DAY}T{at}:00.000Z", body, Tail(seq - 1, "0" * 64))
    books.enter(SHARED, shared_body(books.book, "kitchen", there))
    lot = books.book.get("R-0001")
    assert lot is not None
    return lot


def test_a_lot_was_opened_when_that_was_first_done() -> None:
    """Here at ten; whoever opened it earlier says how long it keeps, and at the same time does
    not."""
    books = Books()
    books.do(OPENED, books.receive(), keeps_days=3)
    for seq, at, days, due in (
        (1, "11:00", 5, ("10:00", 3)),
        (2, "10:00", 5, ("10:00", 3)),
        (3, "09:59", 5, ("09:59", 5)),
        (4, "09:58", None, ("09:58", None)),
    ):
        lot = told(books, OPENED, seq, at, **({} if days is None else {"keeps_days": days}))
        assert (lot.opened[11:16], lot.keeps_days) == due


def test_that_it_is_used_up_counts_where_nothing_was_counted_since() -> None:
    """What was written off stays in the books; what is there is what was counted last."""
    books = Books()
    books.do(ADJUSTED, books.receive(), "counted", count_g="700")
    lot = told(books, USED_UP, 1, "09:59", left_g="1000")
    assert (lot.used_up, lot.count_g, lot.fit(DAY)) == ("", 700, Fit.GOOD)
    assert [change for _, change, _ in lot.adjusted] == [-300, -1000]
    assert lot.adjusted[-1][2]
    lot = told(books, USED_UP, 2, "10:01", left_g="700")
    assert (lot.used_up[11:16], lot.count_g, lot.fit(DAY)) == ("10:01", 0, Fit.USED_UP)


def test_an_entry_that_nothing_can_make_of_a_lot_is_not_folded() -> None:
    """Only a record made by hand holds it: none is told of to other stations."""
    books = Books()
    body = {"lot": books.receive(), "of": {"station": "kitchen", "lot": "R-0001"}}
    there = seal("cellar", "lot overdrawn", books.at, body, Tail())
    with pytest.raises(OperatorError, match="nothing that another station did") as caught:
        shared_body(books.book, "kitchen", there)
    assert (caught.value.code, caught.value.where) == ("not-shared", "entry 1 of station cellar")
    before = list(books.book)
    with pytest.raises(ValueError, match="lot overdrawn is nothing done to a lot"):
        books.enter(SHARED, {"lot": "R-0001", "entry": there.as_json()})
    assert list(books.book) == before


@pytest.mark.parametrize(("days", "taken"), [(-1, False), (0, True), (3650, True), (3651, False)])
def test_how_long_it_keeps_at_another_station_is_a_number_of_days(days: int, taken: bool) -> None:
    books = Books()
    books.receive()
    if taken:
        assert told(books, OPENED, 1, "09:00", keeps_days=days).keeps_days == days
        return
    with pytest.raises(OperatorError, match="no number of days") as caught:
        told(books, OPENED, 1, "09:00", keeps_days=days)
    assert (caught.value.code, caught.value.where) == ("not-shared", "entry 1 of station cellar")
    assert books.book.known == {}


# --- laws ---------------------------------------------------------------------------------------

GRAMS = st.decimals(0, 5000, places=1, allow_nan=False)
ACTS = st.lists(
    st.one_of(
        st.tuples(st.just("use"), st.integers(0, 2), GRAMS),
        st.tuples(st.just("waste"), st.integers(0, 2), GRAMS),
        st.tuples(st.just("count"), st.integers(0, 2), GRAMS),
        st.tuples(st.just("used up"), st.integers(0, 2), GRAMS),
    ),
    max_size=25,
)


@given(ACTS)
def test_stock_never_differs_from_a_plain_recomputation(
    acts: list[tuple[str, int, Decimal]],
) -> None:
    books, plain, over = Books(), [Decimal(3000)] * 3, set[int]()
    codes = [books.receive(quantity_g="3000") for _ in range(3)]
    for act, at, grams in acts:
        code = codes[at]
        if act == "use":
            books.use(code, f"{grams}")
            plain[at] -= grams
        elif act == "waste":
            books.do(ADJUSTED, code, "thrown away", waste_g=f"{grams}")
            plain[at] -= grams
        elif act == "count":
            books.do(ADJUSTED, code, "counted", count_g=f"{grams}")
            plain[at] = grams
            over -= {at} if grams else set()
        elif at not in over:
            books.do(USED_UP, code)
            plain[at] = Decimal(0)
            over.add(at)
    assert [books.left(one) for one in codes] == plain
    # Folded again, and carried over as JSON, it is the same book.
    again = LotBook()
    for entry in books.entries:
        take(again, entry)
    assert list(again) == list(books.book)
    assert [lot_of(lot_as_json(one)) for one in books.book] == list(books.book)
    for lot in books.book:  # the balance closes whatever was done
        gone = lot.used_g + lot.wasted_g - lot.counted_g
        assert lot.goods.quantity_g == gone + lot.left_g


@given(st.lists(st.one_of(st.none(), st.integers(0, 400)), min_size=1, max_size=8))
def test_no_fit_lot_ends_before_the_one_suggested(ends: list[int | None]) -> None:
    books = Books()
    for days in ends:
        books.receive(use_by="" if days is None else plus_days(DAY, days))
    lot = books.book.suggest("sugar", DAY)
    assert lot is not None
    known = [days for days in ends if days is not None]
    assert lot.use_by == (plus_days(DAY, min(known)) if known else "")


@given(
    st.lists(st.decimals(0, 500, places=1), max_size=4),
    st.decimals("0.1", 500, places=1),
)
def test_a_split_adds_up_to_the_net(upto: list[Decimal], net: Decimal) -> None:
    splits = [(f"L{n}", g) for n, g in enumerate(sorted(upto))]
    found = shares(splits, "last", net)
    assert sum(g for _, g in found) == net
    assert all(g > 0 for _, g in found)
    told = as_fields(splits, "last", net)
    assert told["lot"] == found[-1][0]
    assert ("lots" in told) is (len(found) > 1)


def test_days_are_those_of_the_calendar() -> None:
    """Against the standard library's calendar."""
    from datetime import date, timedelta

    for start in ("1999-12-31", "2000-02-28", "2024-02-28", "2100-02-28", "2026-11-26"):
        for days in (-400, -1, 0, 1, 30, 365, 1461):
            due = date.fromisoformat(start) + timedelta(days)
            assert plus_days(start, days) == due.isoformat()
            assert days_between(start, due.isoformat()) == days
    assert days_in(2028, 2) == 29
    for wrong in ("2026-02-29", "2026-13-01", "26-01-01", "2026-1-1", "", "2026-01-01T00"):
        with pytest.raises(ValueError, match="not a day"):
            read_day(wrong)
