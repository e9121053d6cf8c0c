"""Lots of several stations: learned, named, blocked, drawn by two at once, cut off or not."""

from __future__ import annotations

import json
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.dose import dose
from tests.station.scripted import Hand
from tests.station.shared_world import Bench, World, verified
from tests.station.test_session import again
from weighd.domain.errors import OperatorError, RecordError
from weighd.domain.lot_record import OVERDRAWN, SHARED
from weighd.domain.lots import Fit
from weighd.domain.record import Entry, Tail, seal
from weighd.domain.verify import Verifier
from weighd.station.inputs import CameDown
from weighd.station.lot_history import book_in, shared_in
from weighd.station.session import header_line, line, read
from weighd.storage.memory import MemoryJournal

DAY = "2026-11-26"


def two() -> tuple[World, Bench, Bench]:
    world = World("cold", "hot")
    return world, world["cold"], world["hot"]


def test_a_lot_received_at_one_station_can_be_used_at_another() -> None:
    world, cold, hot = two()
    assert cold.receive("", "1000") == ""
    code = str(cold.journal[-1].body["lot"])
    assert code == "cold-R0001"  # a made code names its station: no other makes it too
    assert hot.station.stock.book.find(code) is None
    world.settle()
    assert hot.station.stock.book.name(code.lower(), "milk", "Milk", DAY, "") == (code, "")
    suggested = hot.station.stock.book.suggest("milk", DAY)
    assert suggested is not None
    assert (suggested.code, suggested.station, suggested.left_g) == (code, "cold", 1000)
    hot.draw(code, "300")
    world.settle()
    assert cold.lot("cold", code).left_g == hot.lot("cold", code).left_g == 700
    assert cold.lot("cold", code).elsewhere_g == 300
    entry = hot.of_kind(SHARED)[0]
    assert entry.body["entry"] == cold.journal[0].as_json()
    assert (cold.verified(), hot.verified()) == (1, 1)


def test_a_block_made_anywhere_refuses_everywhere_and_is_told() -> None:
    world, cold, hot = two()
    cold.receive("M-1", "1000")
    world.settle()
    assert hot.do("block lot", "M-1", reason="a stone in it") == ""
    assert hot.journal[-1].body["of"] == {"station": "cold", "lot": "M-1"}
    world.settle()
    with pytest.raises(OperatorError, match="a stone in it"):
        cold.station.stock.book.name("M-1", "milk", "Milk", DAY, "I know better")
    assert ("lot-blocked-at", "M-1 hot: a stone in it") in cold.notices()
    # Blocked at both while cut off; what one of them releases is only what it knew of.
    hot.do("release lot", "M-1", reason="it was a nut")
    cold.do("release lot", "M-1", reason="it was a nut")
    world.settle()
    assert cold.lot("cold", "M-1").fit(DAY) is Fit.GOOD
    cold.do("block lot", "M-1", reason="recalled")
    hot.do("block lot", "M-1", reason="smells")
    hot.do("release lot", "M-1", reason="it was me")
    world.settle()
    for one in (cold, hot):
        assert one.lot("cold", "M-1").blocked == "recalled"
        assert one.verified() == 1


def test_a_block_is_told_before_the_pour_of_a_lot_that_is_named() -> None:
    world, cold, _ = two()
    cold.receive("M-1", "5000")
    cold.send()
    hand = Hand()
    hand.take(down(world))
    begin(hand)
    hand.do("name lot", lot="m-1")
    cold.do("block lot", "M-1", reason="a stone in it")
    cold.send()
    hand.take(down(world))
    assert ("lot-blocked-now", "M-1 cold: a stone in it") in [
        (one.code, one.text) for one in hand.station.notices
    ]
    with pytest.raises(OperatorError, match="a stone in it"):
        hand.do("name lot", lot="M-1")
    # What did go in is recorded as it was: the record says what happened.
    hand.pour("812.4")
    hand.do("accept")
    assert hand.station.stock.book.find("M-1").left_g == 4500  # type: ignore[union-attr]
    verifier = Verifier(whole=True)
    for entry in hand.journal:
        verifier.take(entry)
    assert verifier.finish().lots == 1
    after = Hand(list(hand.journal), t=hand.t + 10)
    assert list(after.station.stock.book) == list(hand.station.stock.book)


def down(world: World) -> CameDown:
    """What comes down to a station that is none of the world's."""
    entries = tuple(one.as_json() for one in world.store.entries_for("test", {}))
    return CameDown(0.0, "2026-11-26T12:00:00.000Z", entries)


def begin(hand: Hand) -> None:
    hand.start()
    hand.show("312.4")
    hand.do("tare")


def test_both_drew_while_cut_off_and_both_are_told() -> None:
    """Worked by hand: of 1000 g, 700 g and 400 g are drawn: 100 g more than there was."""
    world, cold, hot = two()
    cold.receive("M-1", "1000")
    world.settle()
    cold.draw("M-1", "700")
    hot.draw("M-1", "400")
    assert (cold.lot("cold", "M-1").left_g, hot.lot("cold", "M-1").left_g) == (300, 600)
    world.settle()
    for one in (cold, hot):
        (entry,) = one.of_kind(OVERDRAWN)
        assert entry.body["over_g"] == "100"
        assert {name: row["g"] for name, row in entry.body["drawn"].items()} == {
            "cold": "700",
            "hot": "400",
        }
        assert ("lot-overdrawn", "M-1 100") in one.notices()
        assert one.verified() == 1
    world.settle()
    assert len(cold.of_kind(OVERDRAWN)) == 1  # once, until it grows
    hot.draw("M-1", "50")
    world.settle()
    assert [one.body["over_g"] for one in cold.of_kind(OVERDRAWN)] == ["100", "150"]


def test_what_the_weighings_cannot_tell_is_not_overdrawn() -> None:
    world, cold, hot = two()
    cold.receive("M-1", "1000")
    world.settle()
    cold.draw("M-1", "700", u_g="3")
    hot.draw("M-1", "308", u_g="4")  # 8 g more, known to 2 u = 10 g
    world.settle()
    assert not cold.of_kind(OVERDRAWN)
    hot.draw("M-1", "3", u_g="0.1")
    world.settle()
    assert cold.of_kind(OVERDRAWN)[0].body["u_g"] == "5.0010"  # sqrt(3² + 4² + 0.1²)


def test_the_same_code_at_two_stations_is_told_and_kept_apart() -> None:
    world, cold, hot = two()
    cold.receive("M-1", "1000")
    hot.receive("M-1", "500")
    cold.draw("M-1", "100")
    hot.draw("M-1", "200")
    world.settle()
    assert hot.lot("cold", "M-1").code == "M-1@cold"
    assert cold.lot("hot", "M-1").code == "M-1@hot"
    assert ("lot-code-twice", "M-1 cold M-1@cold") in hot.notices()
    hot.draw("M-1@cold", "50")
    world.settle()
    for one in (cold, hot):
        assert one.lot("cold", "M-1").left_g == 850
        assert one.lot("hot", "M-1").left_g == 300
    assert hot.receive("M-1@hot", "1") == "bad-lot"  # no code can look like that
    third = Bench("third", world.store, lambda: world.minute)
    third.pull()
    assert sorted(one.code for one in third.station.stock.book) == ["M-1", "M-1@hot"]
    assert third.receive("M-1", "1") == "lot-exists"


def test_what_was_weighed_before_a_lot_was_known_counts() -> None:
    world, cold, hot = two()
    cold.receive("M-1", "1000")
    hot.draw("M-1", "250")  # cut off: typed off the label
    world.settle()
    assert cold.lot("cold", "M-1").left_g == hot.lot("cold", "M-1").left_g == 750
    cold.draw("S-1", "40")
    cold.receive("S-1", "100")
    assert cold.journal[-1].body["drawn_before"] == {
        "g": "40",
        "u2": "0.010000000000",
        "uses": 1,
    }
    world.settle()
    assert cold.lot("cold", "S-1").left_g == hot.lot("cold", "S-1").left_g == 60
    assert cold.verified() == hot.verified() == 2


def test_counts_waste_and_the_end_of_a_lot_come_down() -> None:
    world, cold, hot = two()
    cold.receive("M-1", "1000")
    world.settle()
    cold.draw("M-1", "100")
    world.settle()
    hot.do("adjust lot", "M-1", reason="counted", goods={"count_g": "880"})
    assert hot.journal[-1].body["elsewhere_g"] == "100"
    assert hot.journal[-1].body["change_g"] == "-20"
    world.settle()
    assert cold.lot("cold", "M-1").left_g == hot.lot("cold", "M-1").left_g == 880
    world.minute += 1
    cold.do("use up lot", "M-1")
    world.minute += 1
    world.settle()
    assert hot.lot("cold", "M-1").fit(DAY) is Fit.USED_UP
    assert hot.lot("cold", "M-1").left_g == 0
    assert cold.do("adjust lot", "M-1", reason="found", goods={"count_g": "5"}) == ""
    world.settle()
    assert hot.lot("cold", "M-1").fit(DAY) is Fit.GOOD
    assert (
        hot.do(
            "receive lot",
            "",
            reason="typo",
            goods={
                "ingredient": "milk",
                "quantity_g": "9",
                "corrects": "M-1",
            },
        )
        == "not-now"
    )  # where it was received is where its receipt is put right
    assert cold.verified() == hot.verified() == 1


def test_what_does_not_hold_is_not_taken_and_told() -> None:
    world, cold, hot = two()
    cold.receive("M-1", "1000")
    cold.receive("M-2", "1000")
    cold.send()
    world.store.sent["cold"][0] = replace(
        cold.journal[0], body={**cold.journal[0].body, "quantity_g": "9000"}
    )
    hot.pull()
    assert not len(hot.station.stock.book)  # nor what comes after it
    assert ("not-shared", "cold 1") in hot.notices()
    cold.send()
    hot.pull()
    assert len(hot.station.stock.book) == 2
    hot.take(CameDown(0.0, hot.at(), ({"nonsense": 1}, *(one.as_json() for one in cold.journal))))
    assert len(hot.of_kind(SHARED)) == 2  # what came before is not taken twice


def test_a_restart_and_a_replay_stand_where_the_station_stood() -> None:
    world, cold, hot = two()
    cold.receive("M-1", "1000")
    hot.receive("M-1", "70")
    world.settle()
    cold.draw("M-1", "700")
    hot.draw("M-1@cold", "400")
    hot.draw("nobody's", "1")
    hot.do("block lot", "M-1@cold", reason="a stone in it")
    world.settle()
    book = list(hot.station.stock.book)
    hot.begin()
    assert list(hot.station.stock.book) == book
    assert hot.station.stock.book.known == {"cold": 1}
    hot.pull()
    assert len(hot.of_kind(SHARED)) == 1
    drawn = [one for one in hot.journal if one.kind == "addition accepted"]
    assert len(drawn) == 2
    # A recording of the pulls makes the same entries (its weighings were told, not weighed).
    only = Bench("only", world.store, lambda: world.minute)
    only.pull()
    only.do("block lot", "M-1", reason="recalled")
    only.pull()
    rows = [header_line(only.header), *(text for one in only.inputs if (text := line(one)))]
    assert [one.hash for one in again(rows)] == [one.hash for one in only.journal]
    assert only.of_kind(OVERDRAWN)


def test_a_session_header_keeps_what_was_known() -> None:
    world, cold, hot = two()
    cold.receive("M-1", "100")
    hot.draw("x", "3")
    world.settle()
    cold.draw("M-1", "700")
    world.settle()
    kept = MemoryJournal("hot")
    kept.append(hot.journal)
    book = book_in(kept)
    shared = shared_in(book, hot.sums, hot.heard)
    header = replace(hot.header, lots=tuple(book), shared=shared)
    assert read([header_line(header)])[0] == header


@pytest.mark.parametrize(
    ("kind", "changes"),
    [
        (SHARED, {"lot": "M-9"}),
        (SHARED, {"entry": {}}),
        (OVERDRAWN, {"over_g": "99"}),
        (OVERDRAWN, {"had_g": "900"}),
        (OVERDRAWN, {"drawn": {"cold": {"g": "700", "u2": "0.01", "uses": 1}}}),
        ("lot adjusted", {"elsewhere_g": "0"}),
        ("lot adjusted", {"of": {"station": "third", "lot": "M-1"}}),
    ],
)
def test_what_does_not_follow_is_found(kind: str, changes: dict[str, object]) -> None:
    world, cold, hot = two()
    cold.receive("M-1", "1000")
    world.settle()
    cold.draw("M-1", "700")
    hot.draw("M-1", "400")
    world.settle()
    hot.do("adjust lot", "M-1", reason="counted", goods={"count_g": "5"})
    hot.verified()
    out, tail = list[Entry](), Tail()
    for one in hot.journal:
        body = {**one.body, **(changes if one.kind == kind else {})}
        out.append(seal(one.station, one.kind, one.at, json.loads(json.dumps(body)), tail))
        tail = Tail(out[-1].seq, out[-1].hash)
    with pytest.raises((RecordError, KeyError)):
        verified(out)


def test_an_entry_that_its_station_does_not_have_is_found_where_both_are_there() -> None:
    world, cold, hot = two()
    cold.receive("M-1", "1000")
    world.settle()
    again_ = Bench("cold", world.store, lambda: world.minute)
    again_.receive("M-1", "9999")
    again_.send()
    assert verified(hot.journal) == 1  # it holds by itself
    with pytest.raises(RecordError, match="journal of cold"):
        hot.verified()


NAMES = ("cold", "hot", "third")
CODES = ("A", "B")
ACTS = st.one_of(
    st.tuples(st.just("receive"), st.sampled_from(NAMES), st.sampled_from(CODES)),
    st.tuples(st.just("draw"), st.sampled_from(NAMES), st.sampled_from(CODES)),
    st.tuples(st.just("draw"), st.sampled_from(NAMES), st.sampled_from(CODES)),
    st.tuples(
        st.sampled_from(("block", "release", "count", "waste", "open", "use up")),
        st.sampled_from(NAMES),
        st.sampled_from(CODES),
    ),
    st.tuples(st.sampled_from(("send", "pull", "restart")), st.sampled_from(NAMES), st.none()),
)


@settings(max_examples=dose(40, 120), deadline=None)
@given(st.lists(st.tuples(ACTS, st.integers(1, 40)), max_size=40))
def test_any_schedule_of_cuts_ends_with_the_same_stock_everywhere(
    schedule: list[tuple[tuple[str, str, str | None], int]],
) -> None:
    world = World(*NAMES)
    for (act, name, code), amount in schedule:
        bench = world[name]
        world.minute += 1
        match act:
            case "receive":
                bench.receive(str(code), str(amount * 10))
            case "draw":
                bench.draw(str(code), str(amount * 5))
            case "count":
                goods = {"count_g": str(amount)}
                bench.do("adjust lot", str(code), reason="counted", goods=goods)
            case "waste":
                goods = {"waste_g": str(amount)}
                bench.do("adjust lot", str(code), reason="spilt", goods=goods)
            case "send":
                bench.send(len(bench.journal) - amount % 2 or None)
            case "pull":
                bench.pull()
            case "restart":
                bench.begin()
            case _:
                bench.do(f"{act} lot", str(code), reason="so")
    world.minute += 1
    world.settle()
    received = {
        (name, str(one.body["lot"]))
        for name in NAMES
        for one in world[name].of_kind("lot received")
    }
    for origin in received:
        lots = [world[name].lot(*origin) for name in NAMES]
        assert len({one.left_g for one in lots}) == 1, origin
        assert len({one.had_g for one in lots}) == 1
        assert len({one.blocked for one in lots}) == 1
        assert len({one.opened for one in lots}) == 1
        assert len({(one.used_up, one.count_g) for one in lots}) == 1
        drawn = [one.used_g + one.elsewhere_g for one in lots]
        two_stations = len({name for name, one in zip(NAMES, lots, strict=True) if one.uses}) > 1
        if two_stations and lots[0].had_g - drawn[0] < -2 * lots[0].u_used_g - Decimal("0.01"):
            for name, one in zip(NAMES, lots, strict=True):
                told = [it for it in world[name].of_kind(OVERDRAWN) if it.body["lot"] == one.code]
                assert told, (name, origin)
    for name in NAMES:
        assert world[name].verified() >= len(received)
