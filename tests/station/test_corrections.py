"""What was typed wrongly, put right: folded, verified, drawn from the right lot, refused."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.json_schemas import held_to
from tests.station.scripted import Hand
from tests.station.test_lots import begin, lot_of, receive, split, verified
from tests.station.test_session import RecordingHand, again
from weighd.domain.batch import Batch, Kind
from weighd.domain.errors import OperatorError, RecordError
from weighd.domain.fold import fold
from weighd.domain.lot_uses import drawn_by
from weighd.domain.record import Entry, Tail, seal
from weighd.domain.trace import trace
from weighd.domain.verify import export, verify_export
from weighd.reports.schema import schema
from weighd.station.inputs import Recalled
from weighd.station.lots_drawn import draw_trace
from weighd.storage.memory import MemoryJournal


def weigh(hand: Hand) -> Hand:
    """The whole batch, milk out of the lot A, sugar a little over."""
    for code in ("A", "B"):
        receive(hand, lot=code, quantity="2 kg")
    begin(hand)
    hand.do("name lot", lot="A")
    for grams in ("812.4", "935.4", "937.4"):
        hand.pour(grams)
        hand.do("accept", reason="it pours so" if grams == "935.4" else "")
        if hand.phase == "held":
            hand.do("accept", reason="it pours so")
    assert hand.kinds()[-1] == Kind.CLOSED
    hand.lift("0.0")
    return hand


@pytest.fixture
def hand() -> Hand:
    return weigh(Hand())


def of(hand: Hand) -> list[Entry]:
    return [one for one in hand.journal if one.body.get("batch") == "test-0001"]


def batch_of(hand: Hand) -> Batch:
    found = fold(of(hand))
    assert found is not None
    return found


def accepted(hand: Hand, addition: int = 1) -> int:
    """The number in the batch of the entry that accepted an addition."""
    [found] = [
        one.body["n"]
        for one in of(hand)
        if one.kind == Kind.ACCEPTED and one.body["addition"] == addition
    ]
    return int(found)


def correct(hand: Hand, entry: int, field: str, old: str, new: str, **more: Any) -> dict[str, Any]:
    told = {"reason": "wrong label", "by": "Bo", **more}
    hand.do("correct", batch="test-0001", entry=entry, field=field, old=old, new=new, **told)
    assert hand.journal[-1].kind == Kind.CORRECTED
    return dict(hand.journal[-1].body)


def test_a_lot_is_put_right_and_what_stood_there_stays(hand: Hand) -> None:
    before = list(hand.journal)
    n = accepted(hand)
    body = correct(hand, n, "lot", "A", "B")
    assert body["of"] == {"n": n, "hash": of(hand)[n - 1].hash}
    assert hand.journal[:-1] == before
    batch = batch_of(hand)
    assert batch.accepted[0].lot == "B"
    [written] = [one for one in batch.written if one.n == n]
    assert [(one.old, one.new, one.by, one.reason) for one in written.made] == [
        ("A", "B", "Bo", "wrong label")
    ]
    verified(hand.journal)
    verify_export(export("test", "test-0001", of(hand)), None)
    closed = held_to(schema(closed=True))
    document = export("test", "test-0001", of(hand))
    assert [one.message for one in closed.iter_errors(document)] == []


def test_stock_and_trace_follow_and_say_so(hand: Hand) -> None:
    correct(hand, accepted(hand), "lot", "A", "B")
    assert (lot_of(hand, "A").used_g, lot_of(hand, "A").uses) == (0, 0)
    assert (lot_of(hand, "B").used_g, lot_of(hand, "B").uses) == (500, 1)
    journal = MemoryJournal("test")
    journal.append(hand.journal)
    found = draw_trace(
        trace("B", journal.uses_of_lots, journal.uses_in_batches), None, "2026-11-25"
    )
    assert [(one["batch"], one["corrected"]) for one in found["forward"]] == [("test-0001", True)]
    assert trace("A", journal.uses_of_lots, journal.uses_in_batches).forward == []
    assert set(journal.drawn()) == {"B"}
    # A station that starts on this journal stands where this one does.
    other = Hand(journal=list(hand.journal))
    for code in ("A", "B"):
        assert lot_of(other, code) == lot_of(hand, code)


def test_a_part_of_a_split_is_put_right() -> None:
    hand = Hand()
    first, second = split(hand)
    third = receive(hand, quantity="1 kg")
    n = accepted(hand)
    correct(hand, n, "lot 1", first, third)
    assert batch_of(hand).accepted[0].lot == second
    assert (lot_of(hand, first).used_g, lot_of(hand, third).used_g) == (0, 200)
    correct(hand, n, "lot 2", second, third)
    assert batch_of(hand).accepted[0].lot == third
    assert lot_of(hand, third).used_g == 500
    uses = list(drawn_by(hand.journal))
    assert [(one.lot, one.g, one.corrected) for one in uses] == [
        (third, 200, True),
        (third, 300, True),
    ]
    verified(hand.journal)
    assert hand.station.batch is not None
    assert hand.station.batch.status == "open"  # while it is weighed, and it goes on
    hand.pour("932.4")
    hand.do("accept")
    assert hand.kinds()[-1] == Kind.ACCEPTED


WORDS = st.text(st.characters(categories=["L", "Nd"]), min_size=1, max_size=8)


@settings(max_examples=25, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 2), WORDS), max_size=12))
def test_any_corrections_fold_to_the_last_words_and_keep_all(made: list[tuple[int, str]]) -> None:
    hand = weighed_once()
    places = [(accepted(hand), "lot"), (accepted(hand, 2), "reason"), (1, "operator")]
    stands = ["A", "it pours so", "Tester"]
    kept: list[tuple[int, str, str]] = []
    for which, word in made:
        n, field = places[which]
        if word == stands[which] or word.casefold() in ("a", "b"):
            continue
        correct(hand, n, field, stands[which], word)
        kept.append((n, stands[which], word))
        stands[which] = word
    batch = batch_of(hand)
    assert [batch.accepted[0].lot, batch.accepted[1].reason, batch.operator] == stands
    told = sorted((it.n, one.n, it) for one in batch.written for it in one.made)
    assert [(n, it.old, it.new) for _, n, it in told] == kept
    verified(hand.journal)
    sums: dict[str, Any] = {}
    for use in drawn_by(hand.journal):
        if use.lot:
            sums[use.lot] = sums.get(use.lot, 0) + use.g
    assert sums == {stands[0]: 500}


_ONCE: list[Entry] = []


def weighed_once() -> Hand:
    if not _ONCE:
        _ONCE.extend(weigh(Hand()).journal)
    hand = Hand(journal=list(_ONCE))
    hand.keys = 1000  # those before are used
    hand.take(Recalled(hand.t, tuple(one.as_json() for one in of(hand))))
    return hand


@pytest.mark.parametrize(
    ("given_", "code"),
    [
        ({"entry": 999}, "unknown-entry"),
        ({"entry": None}, "unknown-entry"),
        ({"field": "net_g"}, "not-correctable"),
        ({"field": "verdict"}, "not-correctable"),
        ({"field": "note"}, "not-correctable"),
        ({"old": "C"}, "changed-meanwhile"),
        ({"old": None}, "needs-old"),
        ({"new": "A"}, "nothing-changed"),
        ({"reason": " "}, "needs-reason"),
        ({"by": ""}, "no-operator"),
        ({"new": "x" * 81}, "bad-correction"),
        ({"new": "a\nb"}, "bad-text"),
        ({"new": "S"}, "other-ingredient"),
        ({"new": "X"}, "lot-blocked"),
        ({"new": "E"}, "lot-expired"),
        ({"field": "operator", "old": "Tester", "new": ""}, "bad-correction"),
    ],
)
def test_what_cannot_be_put_right_is_refused(hand: Hand, given_: dict[str, Any], code: str) -> None:
    receive(hand, "sugar", lot="S")
    receive(hand, lot="X")
    hand.do("block lot", lot="X", by="Ada", reason="smells")
    receive(hand, lot="E", use_by="2026-11-01")
    before = list(hand.journal)
    asked = {"entry": accepted(hand), "field": "lot", "old": "A", "new": "B", **given_}
    asked = {"reason": "wrong label", "by": "Bo", **asked}
    with pytest.raises(OperatorError) as caught:
        hand.do("correct", batch="test-0001", **asked)
    assert (caught.value.code, hand.journal) == (code, before)


def test_a_blocked_lot_that_did_go_in_is_told_once_it_is_confirmed(hand: Hand) -> None:
    receive(hand, lot="X")
    hand.do("block lot", lot="X", by="Ada", reason="recalled")
    body = correct(hand, accepted(hand), "lot", "A", "X", confirm=True)
    assert body["although"] == "lot-blocked"
    verified(hand.journal)
    body = correct(hand, accepted(hand), "lot", "X", "B", confirm=True)
    assert "although" not in body
    verified(hand.journal)


def test_sent_twice_it_acts_once_and_a_restart_keeps_it(hand: Hand) -> None:
    n = accepted(hand)
    correct(hand, n, "operator", "Tester", "Cleo", key="same")
    before = len(hand.journal)
    asked = {"entry": n, "field": "operator", "old": "Tester", "new": "Cleo"}
    answer = hand.do("correct", batch="test-0001", **asked, reason="x", by="Bo", key="same")
    assert answer is not None
    assert (answer.again, len(hand.journal)) == (True, before)


def test_a_recorded_correction_replays() -> None:
    hand = RecordingHand()
    weigh(hand)
    correct(hand, accepted(hand), "lot", "A", "")
    correct(hand, accepted(hand), "lot", "", "B")
    assert [one.hash for one in again(hand.lines)] == [one.hash for one in hand.journal]


def resealed(entries: list[Entry], change: Callable[[dict[str, Any]], None]) -> list[Entry]:
    """The same entries with the body of the last correction changed and all of it sealed anew."""
    last = entries[-1]
    body = {**last.body, "of": dict(last.body["of"])}
    if "drew" in body:
        body["drew"] = dict(body["drew"])
    change(body)
    return [
        *entries[:-1],
        seal(last.station, last.kind, last.at, body, Tail(last.seq - 1, last.prev)),
    ]


@pytest.mark.parametrize(
    "change",
    [
        lambda body: body["of"].update(n=1),
        lambda body: body["of"].update(n=True),
        lambda body: body["of"].update(n=body["n"]),
        lambda body: body["of"].update(hash="0" * 64),
        lambda body: body.update(old="C"),
        lambda body: body.update(new="A"),
        lambda body: body.update(field="net_g"),
        lambda body: body.update(reason=""),
        lambda body: body.update(by=""),
        lambda body: body.update(by=7),
        lambda body: body.update(although="lot-blocked"),
        lambda body: body.update(more="x"),
        lambda body: body["drew"].update(g="1"),
        lambda body: body["drew"].update(part=2),
        lambda body: body.pop("drew"),
    ],
)
def test_a_correction_that_does_not_follow_is_found(
    hand: Hand, change: Callable[[dict[str, Any]], None]
) -> None:
    correct(hand, accepted(hand), "lot", "A", "B")
    entries = resealed(hand.journal, change)
    last = entries[-1]
    with pytest.raises(RecordError) as caught:
        verified(entries)
    assert f"entry {last.seq}" in caught.value.where


def test_an_export_shows_a_forged_correction_alone(hand: Hand) -> None:
    correct(hand, 1, "operator", "Tester", "Cleo")
    forged = resealed(of(hand), lambda body: body.update(old="Tested"))
    with pytest.raises(RecordError) as caught:
        verify_export(export("test", "test-0001", forged), None)
    assert caught.value.code == "does-not-follow"
    edited = [*of(hand)[:-1], replace(of(hand)[-1], body={**of(hand)[-1].body, "new": "Eve"})]
    with pytest.raises(RecordError) as caught:
        verify_export(export("test", "test-0001", edited), None)
    assert caught.value.code == "hash-mismatch"
