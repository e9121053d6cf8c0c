"""The wall clock set back, across the change of summer time, to 1970 and far ahead.

Order comes from the entries' numbers, a pour's timing from a clock that never falls; the wall clock
gives the times that people read, and the day that dates of lots are held against.
"""

from __future__ import annotations

import time
from decimal import Decimal

import pytest

from tests.station.scripted import Hand, LineDecoder
from tests.station.test_lots import receive
from tests.station.test_session import RecordingHand, again
from weighd.cli.verify import in_words
from weighd.clock import SystemClock
from weighd.domain.clock_said import Wall
from weighd.domain.errors import OperatorError
from weighd.domain.record import Entry
from weighd.domain.verify import Report, Verifier
from weighd.station.clock_doubt import doubt
from weighd.station.inputs import ClockSet
from weighd.station.on_hand import OnHand, on_hand
from weighd.station.stock import Stock
from weighd.station.trends import points
from weighd.storage.memory import MemoryJournal


def verified(entries: list[Entry]) -> Report:
    verifier = Verifier(whole=True, reread=lambda _: LineDecoder())
    for one in entries:
        verifier.take(one)
    return verifier.finish()


def told(hand: Hand) -> list[str]:
    return [one.text for one in hand.station.notices if one.code == "clock-wrong"]


def set_to(hand: Hand, utc: str) -> None:
    hand.take(ClockSet(hand.t, utc))


@pytest.mark.parametrize(
    ("to", "how", "says"),
    [
        ("2026-11-25T08:00:20.000Z", "behind", ["behind"] * 2),
        ("1970-01-01T00:00:03.000Z", "behind", ["unset"] * 2),
        ("2099-06-01T00:00:00.000Z", "ahead", ["ahead"] * 2),
        ("2026-11-25T09:00:20.000Z", "", []),
    ],
)
def test_a_clock_that_is_set_in_mid_batch_changes_times_and_nothing_else(
    to: str, how: str, says: list[str]
) -> None:
    plain, hand = Hand(), Hand()
    for one in (plain, hand):
        one.start()
        one.show("312.4")
        one.do("tare")
        one.pour("812.4")
        if one is hand:
            set_to(hand, to)
        one.do("accept")
        one.pour("932.4")
        one.do("accept")
    assert [text.split()[0] for text in told(hand)] == [how][: bool(how)]
    assert [one.seq for one in hand.journal] == list(range(1, len(hand.journal) + 1))
    report = verified(hand.journal)
    assert report.weighings == 2
    assert report.set_back == (how == "behind")
    assert ("set back 1 time" in in_words(report)) == (how == "behind")
    assert [one.body["clock"]["is"] for one in hand.journal if "clock" in one.body] == says
    assert report.clock_doubted == len(says)
    assert ("was in doubt" in in_words(report)) == bool(says)
    assert not any("clock" in one.body for one in plain.journal)
    for mine, other in zip(hand.journal, plain.journal, strict=True):
        assert mine.kind == other.kind
        for key in ("net_g", "verdict", "evidence"):
            assert mine.body.get(key) == other.body.get(key)


def test_a_clock_in_1970_makes_no_expired_lot_good() -> None:
    hand = Hand()
    lot = receive(hand, use_by="2026-11-26")
    hand.start()
    hand.show("312.4")
    hand.do("tare")
    set_to(hand, "2026-11-27T09:00:00.000Z")
    with pytest.raises(OperatorError) as caught:
        hand.do("name lot", lot=lot)
    assert caught.value.code == "lot-expired"
    assert "Today is 2026-11-27" in caught.value.remedy
    hand.pour("812.4")
    hand.do("accept")  # the newest entry is of the 27th
    set_to(hand, "1970-01-01T00:00:00.000Z")
    other = receive(hand, "sugar", use_by="2026-11-26")
    with pytest.raises(OperatorError) as caught:
        hand.do("name lot", lot=other)
    assert caught.value.code == "lot-expired"
    # Nor after a restart, though the newest entry is of 1970: it says what it is behind.
    assert hand.journal[-1].at.startswith("1970")
    wall = Wall.after(hand.journal[-1])
    assert Stock((), wall=wall).today("1970-01-01T00:00:00.000Z") == "2026-11-27"
    # Nor is it there for whoever puts a pour right.
    book, day = hand.station.stock.as_known(hand.station.at())
    assert day == "2026-11-27"
    assert hand.station.batch is not None
    assert on_hand(book, hand.station.batch, day, Decimal(0))["sugar"] == OnHand(Decimal(0))


def test_a_clock_far_ahead_says_which_day_it_refuses_a_lot_for() -> None:
    hand = Hand()
    lot = receive(hand, use_by="2026-12-24")
    hand.start()
    set_to(hand, "2099-01-01T00:00:00.000Z")
    with pytest.raises(OperatorError) as caught:
        hand.do("name lot", lot=lot)
    assert "Today is 2099-01-01 by the clock of this computer" in str(caught.value)
    assert told(hand) == ["ahead 2099-01-01T00:00:00.000Z 2026-11-25T09:00:00.000Z"]
    set_to(hand, "2026-11-25T10:00:00.000Z")
    hand.do("name lot", lot=lot)  # nothing was recorded in 2099


def test_an_entry_of_2099_does_not_spoil_every_lot() -> None:
    hand = Hand()
    set_to(hand, "2099-01-01T00:00:00.000Z")  # no entry before: nothing to doubt it by
    set_to(hand, "2026-11-25T09:00:00.000Z")
    lot = receive(hand, use_by="2026-12-24")
    set_to(hand, "2099-01-01T00:00:00.000Z")
    hand.start()  # recorded in 2099, and says so
    set_to(hand, "2026-11-25T10:00:00.000Z")
    hand.do("name lot", lot=lot)
    said = [one.body["clock"]["is"] for one in hand.journal if "clock" in one.body]
    assert said == ["ahead"]
    assert verified(hand.journal).set_back == 1


def test_an_hour_in_1970_hides_no_weighing_before_it_from_trends() -> None:
    hand = Hand()
    hand.start()
    hand.show("312.4")
    hand.do("tare")
    hand.pour("812.4")
    hand.do("accept")
    set_to(hand, "1970-01-01T00:00:00.000Z")
    hand.pour("932.4")
    hand.do("accept")
    journal = MemoryJournal("test")
    journal.append(hand.journal)
    first, second = points(journal)
    assert [one.seq for one in points(journal, since="2026-11-25")] == [first.seq]
    assert points(journal, since="2026-11-26") == []
    assert second.at.startswith("1970")


def test_a_clock_in_doubt_replays_byte_for_byte() -> None:
    hand = RecordingHand()
    hand.start()
    hand.show("312.4")
    for at in ("2099-01-01T00:00:00.000Z", "1970-01-01T00:00:00.000Z", "2026-11-24T09:00:00.000Z"):
        set_to(hand, at)
        hand.do("tare") if at < "2026" else receive(hand)
    assert [one.body["clock"]["is"] for one in hand.journal[1:]] == ["ahead", "unset", "behind"]
    assert again(hand.lines) == hand.journal


def test_codes_of_batches_and_lots_do_not_come_from_a_clock() -> None:
    hand = Hand()
    codes = []
    for utc in ("2026-11-25T10:00:00.000Z", "1970-01-01T00:00:00.000Z", "2026-11-25T10:00:00.000Z"):
        set_to(hand, utc)
        codes.append(receive(hand))
        answer = hand.start()
        assert answer is not None
        codes.append(answer.batch)
        hand.do("abandon", reason="only a test")
    assert len(set(codes)) == 6
    verified(hand.journal)


@pytest.mark.parametrize(
    ("at", "newest", "seconds", "how"),
    [
        ("1970-01-01T00:00:00.000Z", "", 0, "behind"),
        ("2026-11-25T09:00:00.000Z", "", 0, ""),
        ("2026-11-25T09:00:00.000Z", "2026-11-25T09:00:59.000Z", 0, ""),
        ("2026-11-25T09:00:00.000Z", "2026-11-25T10:00:00.000Z", 0, "behind"),
        ("2026-11-25T10:00:00.000Z", "2026-11-25T09:00:00.000Z", -3600, "back"),
        ("2026-11-25T10:00:00.000Z", "2026-11-25T09:00:00.000Z", -30, ""),
        ("2027-12-25T10:00:00.000Z", "2026-11-25T09:00:00.000Z", 0, ""),
        ("2028-11-25T10:00:00.000Z", "2026-11-25T09:00:00.000Z", 0, "ahead"),
    ],
)
def test_what_is_doubted(at: str, newest: str, seconds: float, how: str) -> None:
    assert doubt(at, newest, seconds).partition(" ")[0] == how


@pytest.mark.parametrize("zone", ["Europe/Berlin", "America/New_York", "UTC"])
def test_the_change_of_summer_time_moves_no_time(
    monkeypatch: pytest.MonkeyPatch, zone: str
) -> None:
    """2026-10-25T01:00Z is 03:00, and then 02:00, in Berlin (common practice, no source)."""
    monkeypatch.setenv("TZ", zone)
    time.tzset()
    try:
        seen = []
        for second in range(1_792_886_400, 1_792_897_200, 600):
            monkeypatch.setattr(time, "time", lambda second=second: float(second))
            seen.append(SystemClock().utc())
        assert seen == sorted(set(seen))
        assert seen[0] == "2026-10-25T00:00:00.000Z"
        assert seen[-1] == "2026-10-25T02:50:00.000Z"
    finally:
        monkeypatch.undo()
        time.tzset()
