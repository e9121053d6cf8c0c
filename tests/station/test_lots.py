"""Lots at a station: named, split, refused, drawn down; kept over a restart, replayed, verified."""

from __future__ import annotations

import json
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from tests.station.scripted import Hand
from tests.station.test_session import RecordingHand, again
from weighd.domain.batch import Kind
from weighd.domain.errors import JournalError, OperatorError, RecordError
from weighd.domain.fold import fold
from weighd.domain.lots import Lot
from weighd.domain.record import NOTHING_BEFORE, Entry, Tail, seal
from weighd.domain.verify import Verifier, export, verify_export
from weighd.station.lot_history import lots_in, told_of
from weighd.storage.memory import MemoryJournal


def receive(hand: Hand, ingredient: str = "milk", quantity: str = "400", **goods: Any) -> str:
    given = {key: goods.pop(key) for key in ("lot", "key", "reason") if key in goods}
    hand.do(
        "receive lot",
        by="Ada",
        goods={"ingredient": ingredient, "quantity_g": quantity, **goods},
        **given,
    )
    return str(hand.journal[-1].body["lot"])


def lot_of(hand: Hand, code: str) -> Lot:
    found = hand.station.stock.book.get(code)
    assert found is not None
    return found


def begin(hand: Hand) -> None:
    hand.start()
    hand.show("312.4")
    hand.do("tare")


def split(hand: Hand) -> tuple[str, str]:
    """The milk of a batch: 200 g out of one lot that runs out, 300 g out of the next."""
    first, second = receive(hand), receive(hand, quantity="5000")
    begin(hand)
    hand.do("name lot", lot=first)
    hand.pour("512.4")
    hand.do("next lot", lot=second)
    hand.pour("812.4")
    hand.do("accept")
    return first, second


def verified(entries: list[Entry]) -> int:
    verifier = Verifier(whole=True)
    for entry in entries:
        verifier.take(entry)
    return verifier.finish().lots


def test_an_addition_draws_its_lot_down() -> None:
    hand = Hand()
    lot = receive(hand, quantity="2 kg")
    begin(hand)
    assert hand.station.stock.draw_next(hand.station.batch, hand.station.at()) == {  # type: ignore[arg-type]
        "lot": lot,
        "left_g": "2000",
        "enough": True,
        "use_by": "",
        "best_before": "",
        "opened": False,
    }
    hand.do("name lot", lot=lot.lower())
    assert hand.journal[-1].body["lot"] == lot  # as it is on the label, however it was typed
    hand.pour("812.4")
    hand.do("accept")
    assert "lots" not in hand.journal[-1].body
    assert lot_of(hand, lot).left_g == Decimal("1500.0")
    assert verified(hand.journal) == 1


def test_a_lot_that_runs_out_is_split_at_the_amount_where_it_changed() -> None:
    hand = Hand()
    first, second = split(hand)
    body = hand.journal[-1].body
    assert body["lot"] == second
    assert body["lots"] == [{"lot": first, "g": "200.0"}, {"lot": second, "g": "300.0"}]
    named = hand.journal[-2].body
    assert (named["from_g"], named["gross_g"]) == ("200.0", "512.4")
    assert len(named["evidence"]["readings"]) >= 4
    assert lot_of(hand, first).left_g == 200
    assert lot_of(hand, second).left_g == 4700
    assert verified(hand.journal) == 2
    batch = [one for one in hand.journal if one.body.get("batch") == "test-0001"]
    report = verify_export(json.loads(json.dumps(export("test", "test-0001", batch))), None)
    assert (report.weighings, report.lots) == (1, 0)


def test_what_is_taken_out_again_came_out_of_the_last_lot() -> None:
    hand = Hand()
    first, second = receive(hand), receive(hand)
    begin(hand)
    hand.do("name lot", lot=first)
    hand.pour("802.4")
    hand.do("next lot", lot=second)
    hand.pour("842.4")
    with pytest.raises(OperatorError):
        hand.do("accept")
    hand.do("take out")
    hand.pour("801.4", "2")
    hand.do("accept", reason="enough")
    body = hand.journal[-1].body
    assert (body["lot"], "lots" in body, body["net_g"]) == (first, False, "489.0")
    assert verified(hand.journal) == 2


def test_what_the_next_lot_needs_is_said() -> None:
    hand = Hand()
    first, second = receive(hand), receive(hand)
    begin(hand)

    def code(lot: str = second) -> str:
        with pytest.raises(OperatorError) as caught:
            hand.do("next lot", lot=lot)
        assert caught.value.remedy or caught.value.code == "same-lot"
        return caught.value.code

    assert code("") == "no-lot"
    assert code() == "no-lot"  # none was named for what is in
    hand.do("name lot", lot=first)
    assert code(first) == "same-lot"
    assert code() == "not-settled"
    assert "next lot" not in hand.station.can()
    hand.pour("512.4")
    assert "next lot" in hand.station.can()
    hand.do("next lot", lot=second)
    assert "next lot" not in hand.station.can()  # nothing is from that one yet
    assert code(first) == "nothing-poured"
    hand.do("name lot", lot=first)  # misnamed: the newest is put right, the split stays
    hand.pour("812.4")
    hand.do("accept")
    assert [one["lot"] for one in hand.journal[-1].body["lots"]] == [first, first]


def test_lots_that_must_not_be_used_are_refused_at_naming() -> None:
    hand = Hand()
    sugar = receive(hand, "sugar")
    expired = receive(hand, use_by="2026-11-24")
    old = receive(hand, best_before="2026-11-24")
    blocked = receive(hand)
    hand.do("block lot", lot=blocked, by="Ada", reason="the supplier called")
    begin(hand)
    entries = len(hand.journal)
    for lot, code in (
        (sugar, "other-ingredient"),
        (expired, "lot-expired"),
        (blocked, "lot-blocked"),
        (old, "past-best-before"),
    ):
        with pytest.raises(OperatorError) as caught:
            hand.do("name lot", lot=lot)
        assert caught.value.code == code
    for lot in (expired, blocked, sugar):  # no reason helps
        with pytest.raises(OperatorError):
            hand.do("name lot", lot=lot, reason="I know better")
    assert len(hand.journal) == entries
    hand.do("name lot", lot=old, reason="smelt and tasted")
    assert hand.journal[-1].body["reason"] == "smelt and tasted"
    hand.do("release lot", lot=blocked, by="Ada", reason="it was another lot")
    hand.do("name lot", lot=blocked, reason="not needed")
    assert "reason" not in hand.journal[-1].body
    assert verified(hand.journal) == 4


def test_more_than_was_there_is_told() -> None:
    hand = Hand()
    lot = receive(hand, quantity="300")
    begin(hand)
    hand.do("name lot", lot=lot)
    hand.pour("812.4")
    hand.do("accept")
    assert lot_of(hand, lot).left_g == -200
    assert [(one.code, one.text) for one in hand.station.notices if one.level == "warn"] == [
        ("lot-below-nothing", f"{lot} 200.0")
    ]


def test_a_restart_finds_the_same_stock_and_the_same_split() -> None:
    hand = Hand()
    first, second = receive(hand), receive(hand, quantity="5000")
    begin(hand)
    hand.do("name lot", lot=first)
    hand.pour("512.4")
    hand.do("next lot", lot=second)
    after = Hand(list(hand.journal), t=hand.t + 10)
    assert after.station.batch is not None
    assert after.station.batch.splits == {1: ((first, Decimal("200.0")),)}
    after.show("512.4")
    after.pour("812.4")
    after.do("accept")
    assert after.journal[-1].body["lots"][0] == {"lot": first, "g": "200.0"}
    twice = Hand(list(after.journal), t=after.t + 10)
    assert list(twice.station.stock.book) == list(after.station.stock.book)
    assert verified(twice.journal) == 2


def test_a_command_sent_twice_acts_once_and_a_full_disk_loses_nothing() -> None:
    hand = Hand()
    hand.fail = JournalError("store-full", "The disk is full.")
    with pytest.raises(JournalError):
        receive(hand, key="once")
    assert len(hand.station.stock.book) == 0
    hand.fail = None
    for _ in range(3):
        receive(hand, key="once")
    assert [one.kind for one in hand.journal] == ["lot received"]
    assert len(hand.station.stock.book) == 1


def test_a_session_replays_byte_for_byte() -> None:
    hand = RecordingHand()
    first, _ = split(hand)
    hand.do("adjust lot", lot=first, by="Ada", reason="counted", goods={"count_g": "190"})
    hand.do("open lot", lot=first, by="Ada", goods={"keeps_days": 3})
    hand.do("use up lot", lot=first, by="Ada")
    assert again(hand.lines) == hand.journal


def test_what_was_recorded_of_a_lot_is_read_back() -> None:
    hand = Hand()
    first, _ = split(hand)
    hand.do("block lot", lot=first, by="Ada", reason="a stone in it")
    journal = MemoryJournal("test")
    journal.append(hand.journal)
    assert list(lots_in(journal)) == list(hand.station.stock.book)
    assert [one["kind"] for one in told_of(journal, first)] == ["lot received", "lot blocked"]


# --- what does not follow -----------------------------------------------------------------------


def resealed(entries: list[Entry], at: int, **changes: Any) -> list[Entry]:
    """The journal with one body changed, and everything sealed anew from there."""
    out, tail, after = list[Entry](), Tail(), dict[str, str]()
    for n, one in enumerate(entries):
        body = {**one.body, **(changes if n == at else {})}
        body = {key: value for key, value in body.items() if value is not None}
        if "batch" in body:
            body["after"] = after.get(body["batch"], NOTHING_BEFORE)
        entry = seal(one.station, one.kind, one.at, body, tail)
        tail = Tail(entry.seq, entry.hash)
        if "batch" in body:
            after[body["batch"]] = entry.hash
        out.append(entry)
    return out


@pytest.mark.parametrize(
    ("kind", "changes"),
    [
        (Kind.ACCEPTED, {"lots": None}),
        (Kind.ACCEPTED, {"lot": "R-0001"}),
        (
            Kind.ACCEPTED,
            {"lots": [{"lot": "R-0001", "g": "100.0"}, {"lot": "R-0002", "g": "400.0"}]},
        ),
        (Kind.LOT_NAMED, {"from_g": "150.0"}),
        (Kind.LOT_NAMED, {"gross_g": "500.0"}),
        (Kind.LOT_NAMED, {"reason": "made up"}),
        ("lot received", {"lot": "R-0001"}),
        ("lot received", {"quantity_g": "-5"}),
        ("lot received", {"use_by": "2026-11-01"}),
        ("lot received", {"made_in": "test-0009", "lot": "test-0009"}),
        ("lot adjusted", {"change_g": "-1"}),
        ("lot adjusted", {"lot": "R-0009"}),
        ("lot adjusted", {"reason": ""}),
        ("lot used up", {"left_g": "3"}),
        ("lot released", {"lot": "R-0001"}),
    ],
)
def test_what_does_not_follow_is_found(kind: str, changes: dict[str, Any]) -> None:
    hand = Hand()
    first, second = split(hand)
    hand.do("adjust lot", lot=first, by="Ada", reason="counted", goods={"count_g": "190"})
    hand.do("use up lot", lot=first, by="Ada")
    hand.do("block lot", lot=second, by="Ada", reason="a stone in it")
    hand.do("release lot", lot=second, by="Ada", reason="it was a nut")
    assert verified(resealed(hand.journal, -1)) == 2
    at = max(n for n, one in enumerate(hand.journal) if one.kind == kind)
    changed = resealed(hand.journal, at, **changes)
    with pytest.raises(RecordError) as caught:
        verified(changed)
    named = {f"entry {n}" for n in (changed[at].seq, *(one.seq for one in changed[at:]))}
    assert any(caught.value.where.startswith(one) for one in named)


def test_a_batch_folds_with_and_without_a_split() -> None:
    hand = Hand()
    split(hand)
    batch = fold(one for one in hand.journal if one.body.get("batch") == "test-0001")
    assert batch is not None
    assert batch.accepted[0].lot == "R-0002"
    assert replace(batch, splits={}) != batch
