"""What may be done with a lot, however it stands, and what becomes of it: all answers as a whole.

``fixtures/tables/lots.txt`` has them. A line that changes is a change to what a kitchen may do with
its goods, or to what its record says: ``python -m tests.domain.test_lot_answers`` writes the file
anew, to be read.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from functools import partial
from typing import Any

from tests.domain.answering import answer, shown
from tests.domain.kept import Kept
from tests.domain.test_lots import DAY, Books
from weighd.domain.lot_fold import take
from weighd.domain.lot_json import drawn_as_json, kept_lot, lot_as_json
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
from weighd.domain.lot_shared import (
    elsewhere_of,
    is_long_gone,
    is_overdrawn,
    overdrawn_body,
    shared_body,
    spread,
    sum_of,
)
from weighd.domain.lots import Lot, LotBook
from weighd.domain.record import Entry, Tail, seal

KEPT = Kept("lots.txt")
CODES = ("R-0001", "r-0002 ", "R-0003", "SUP-7", "sup-8", "kitchen-0001", "unknown", "")
GIVEN: tuple[dict[str, Any], ...] = (
    {},
    {"keeps_days": 3},
    {"keeps_days": -1},
    {"keeps_days": 0},
    {"count_g": "500 g"},
    {"count_g": "0"},
    {"waste_g": "20"},
    {"waste_g": "20", "count_g": "3"},
    {"waste_g": "-1"},
    {"waste_g": "5", "corrects": "0" * 64},
)
GOODS: tuple[dict[str, Any], ...] = (
    {"ingredient": "sugar", "quantity_g": "25 kg"},
    {"ingredient": "sugar", "quantity_g": "25 kg", "lot": "S_1.x-2"},
    {"ingredient": "sugar", "quantity_g": "25 kg", "lot": "r-0001"},
    {"ingredient": "sugar", "quantity_g": "25 kg", "lot": "no good"},
    {"ingredient": "sugar", "quantity_g": "25 kg", "lot": "x" * 41},
    {"ingredient": "syrup", "quantity_g": "1200", "made_in": "kitchen-0009"},
    {"ingredient": "syrup", "quantity_g": "1200", "lot": "kitchen-0009"},
    {"ingredient": "syrup", "quantity_g": "1200", "lot": "S-9", "made_in": "kitchen-0009"},
    {"ingredient": "milk", "quantity_g": "1", "lot": "STRANGE"},
    {"ingredient": "", "quantity_g": "1"},
)


def kitchen() -> tuple[Books, list[Entry]]:
    """Lots in every state, and the entries of them."""
    books = Books()
    books.receive(quantity_g="25 kg", supplier_lot="SUP-7", use_by="2026-12-24", supplier="Mill")
    books.receive(quantity_g="1000", supplier_lot="SUP-8", best_before="2026-11-25")
    books.receive("milk", "2000", use_by="2026-11-25", supplier_lot="SUP-8", temperature_c="4,5")
    books.receive("milk", "2000", use_by="2026-11-30", lot="M-4")
    books.receive("cream", "500", lot="C-5", note="the last of it")
    books.receive("cream", "500", lot="C-6")
    books.use("R-0001", "1500", "0.2")
    books.use("R-0001", "10.5", "0.1")
    books.use("STRANGE", "30", "0.3")
    books.do(OPENED, "M-4", keeps_days=2)
    books.do(BLOCKED, "C-5", "recalled")
    waste = books.do(ADJUSTED, "R-0002", "spilt", waste_g="50")
    books.do(ADJUSTED, "R-0002", "less was spilt", waste_g="40", corrects=waste.hash)
    books.do(ADJUSTED, "R-0001", "counted", count_g="23 kg")
    books.use("C-6", "520", "0.5")
    books.do(USED_UP, "C-6")
    books.receive(quantity_g="26 kg", supplier_lot="SUP-7", corrects="R-0001", reason="misread")
    return books, books.entries


def doing() -> Iterator[tuple[str, str]]:
    books, _ = kitchen()
    for code in ("R-0001", "R-0002", "M-4", "C-5", "C-6", "nowhere"):
        for kind in (OPENED, BLOCKED, RELEASED, ADJUSTED, USED_UP, "lot eaten"):
            for given in GIVEN if kind in (OPENED, ADJUSTED) else ({},):
                for reason in ("", "because"):
                    body = partial(lot_body, books.book, kind, code, given, "Ada", reason)
                    asked = f"{json.dumps(given)} {reason}" if given or reason else ""
                    yield f"{code} | {kind} {asked}".rstrip(), answer(body, json.dumps)
    for given in GOODS:
        for sharing in (False, True):
            body = partial(receive_body, books.book, "kitchen", given, " Ada ", sharing=sharing)
            told = f"received {json.dumps(given)}{' shared' * sharing}"
            yield told, answer(body, json.dumps)
    for code, reason in (("R-0002", "misread"), ("R-0002", ""), ("nowhere", "misread")):
        body = partial(
            receive_body, books.book, "kitchen", GOODS[0], "Ada", corrects=code, reason=reason
        )
        yield f"received in the place of {code} {reason}".rstrip(), answer(body, json.dumps)
    yield (
        "by nobody",
        answer(partial(lot_body, books.book, OPENED, "R-0001", {}, " ", ""), json.dumps),
    )


def standing() -> Iterator[tuple[str, str]]:
    """What is said of each lot, and by which words it is found."""
    books, _ = kitchen()
    for lot in books.book:
        yield f"{lot.code} | as kept", json.dumps(lot_as_json(lot))
        told = {
            "left": lot.left_g,
            "had": lot.had_g,
            "used": lot.used_g,
            "uses": lot.uses,
            "u": lot.u_used_g,
            "over": lot.over_g,
            "wasted": lot.wasted_g,
            "counted": lot.counted_g,
            "use by": lot.use_by,
            "blocked": lot.blocked,
            "origin": lot.origin,
            "first out": lot.first_out,
            "fit": [str(lot.fit(day)) for day in ("2026-11-25", DAY, "2026-11-28", "2026-11-29")],
        }
        yield f"{lot.code} | figures", shown(told)
    for text in CODES:
        for ingredient in ("", "sugar", "milk"):
            found = books.book.find(text, ingredient)
            yield f"find {text!r} of {ingredient or 'any'}", found.code if found else "none"
            if ingredient:
                for reason in ("", "still good"):
                    named = partial(
                        books.book.name, text, ingredient, "Goods", books.at[:10], reason
                    )
                    yield f"name {text!r} for {ingredient} {reason}".rstrip(), answer(named)
    for code in ("C-5", "C-6", "M-4"):
        named = partial(books.book.name, code, "cream", "Cream", "2026-11-29", "")
        yield f"name {code} for cream", answer(named)
    named = partial(books.book.name, "M-4", "milk", "Milk", "2026-11-29", "")
    yield "name M-4 once it is too long open", answer(named)
    for ingredient in ("sugar", "milk", "cream", "salt"):
        for day in ("2026-11-25", DAY, "2026-12-25"):
            first = books.book.suggest(ingredient, day)
            yield f"suggest {ingredient} on {day}", first.code if first else "none"
        yield f"of {ingredient}", " ".join(one.code for one in books.book.of(ingredient))
    strange = {key: drawn_as_json(one) for key, one in books.book.strangers.items()}
    yield "strangers", json.dumps(strange)


def lots_after(entries: list[Entry]) -> LotBook:
    book = LotBook()
    for one in entries:
        take(book, one)
    return book


def shared() -> Iterator[tuple[str, str]]:
    """The same, as another station takes it in: each entry, and what is then known of its lot."""
    _, entries = kitchen()
    book, tail = LotBook(), Tail()
    for one in entries:
        if one.kind == "addition accepted":
            continue
        body = answer(partial(shared_body, book, "cellar", one), told_of)
        yield f"shared {one.seq} {one.kind}", body
        made = shared_body(book, "cellar", one)
        entry = seal("cellar", SHARED, one.at, made, tail)
        tail = Tail(entry.seq, entry.hash)
        for lot in take(book, entry):
            yield f"shared {one.seq} | known here", json.dumps(less_hashes(lot_as_json(lot)))
        yield f"shared {one.seq} again", answer(partial(shared_body, book, "cellar", one), told_of)
    for lot in list(book):
        for kind, given in (
            (OPENED, {}),
            (ADJUSTED, {"count_g": "5"}),
            (USED_UP, {}),
            (BLOCKED, {}),
        ):
            asked = partial(lot_body, book, kind, lot.code, given, "Bo", "why", own="cellar")
            yield f"{lot.code} of another | {kind}", answer(asked, json.dumps)


def elsewhere() -> Iterator[tuple[str, str]]:
    """What other stations drew, and what is overdrawn by it."""
    books, _ = kitchen()
    book = books.book
    milk = book.get("M-4")
    assert milk is not None
    book.put(replace(milk, code="M-4@cellar", station="cellar", there="M-4"))
    rows: list[dict[str, Any]] = [
        {"station": "cellar", "lot": "R-0002", "g": "900", "u2": "0.04", "uses": 2},
        {"station": "cellar", "lot": "R-0002", "g": "5", "u2": "0.01", "uses": 1},
        {"station": "attic", "lot": "R-0002", "g": "100.5", "u2": "0.01", "uses": 1},
        {"station": "attic", "lot": "M-4", "g": "2000.3", "u2": "0.04", "uses": 1},
        {"station": "attic", "lot": "x", "g": "7", "u2": "0", "uses": 1, "origin": "cellar",
         "code": "M-4"},
        {"station": "attic", "lot": "x", "g": "3", "u2": "0", "uses": 1, "origin": "kitchen",
         "code": "C-6"},
        {"station": "attic", "lot": "x", "g": "3", "u2": "0", "uses": 1, "origin": "attic",
         "code": "Q"},
        {"station": "kitchen", "lot": "R-0001", "g": "3", "u2": "0", "uses": 1},
    ]  # fmt: skip
    sums = [sum_of(one) for one in rows]
    for one, row in zip(sums, rows, strict=True):
        yield f"sum of {row['lot']} at {row['station']}", shown(one)
        assert sum_of(one.as_json()) == one
    for at in ("", "2026-11-27T10:00:00.000Z", "2027-11-27T10:00:00.000Z"):
        for some in (sums, sums[:3], []):
            changed = spread(book, "kitchen", some, at)
            told = [(one.code, shown(one.elsewhere), str(one.left_g)) for one in changed]
            yield f"spread {len(some)} at {at[:4] or 'first'}", shown(told)
            over = [one for one in book if is_overdrawn(one)]
            for lot in over:
                made = overdrawn_body(lot, "kitchen", "2026-11-27T10:00:00.000Z")
                yield f"{lot.code} overdrawn, {len(some)} at {at[:4] or 'first'}", json.dumps(made)
                told_before = replace(lot, overdrawn_g=lot.over_g)
                assert not is_overdrawn(told_before)
                back = elsewhere_of(made, "kitchen")
                yield f"{lot.code} drawn elsewhere", f"{shown(back)} {back == lot.elsewhere}"
            for code in ("C-6", "R-0002"):
                lot = book.get(code)
                assert lot is not None
                gone = [
                    is_long_gone(lot, f"{year}-06-01T00:00:00.000Z") for year in (2026, 2027, 2028)
                ]
                yield f"{code} long gone", str(gone)
    yield "drawn elsewhere, as a sum", shown(elsewhere_of({"elsewhere_g": "5.5"}, "kitchen"))
    yield "drawn elsewhere, nothing", shown(elsewhere_of({"elsewhere_g": "0"}, "kitchen"))
    yield "drawn elsewhere, not said", shown(elsewhere_of({}, "kitchen"))


def told_of(body: Any) -> str:
    return json.dumps({key: one if key != "entry" else one["seq"] for key, one in body.items()})


def less_hashes(row: Any) -> Any:
    """Hashes stand in what is kept; here the one before has them already."""
    if isinstance(row, str) and len(row) == 64:
        return row[:6]
    if isinstance(row, dict):
        return {key: less_hashes(one) for key, one in row.items()}
    return [less_hashes(one) for one in row] if isinstance(row, list | tuple) else row


PARTS = (doing, standing, shared, elsewhere)


def lines() -> list[str]:
    return [f"{what} | {said}" for part in PARTS for what, said in part()]


def test_lots_are_answered_for_as_they_were() -> None:
    assert KEPT.beside(lines()) == ([], [])


def test_a_lot_that_stays_text_is_the_lot() -> None:
    books, entries = kitchen()
    for lot in books.book:
        later = kept_lot(lot)
        assert isinstance(lot, Lot)
        assert (later.whole, later.code, later.origin) == (lot, lot.code, lot.origin)
        assert (later.ingredient, later.over) == (lot.goods.ingredient, bool(lot.used_up))
        assert later.supplier_lot == lot.goods.supplier_lot
    assert [lot_as_json(one) for one in lots_after(entries)] == [
        lot_as_json(one) for one in books.book
    ]
    assert RECEIVED in {one.kind for one in entries}


if __name__ == "__main__":
    KEPT.write(lines())
