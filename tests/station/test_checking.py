"""Checks at a station: made, broken off, and written once."""

from __future__ import annotations

from decimal import Decimal

import pytest

from tests.station.check_hand import (
    BARS,
    FLAGS,
    TWO,
    check,
    drawn,
    refused,
    verified,
)
from tests.station.scripted import Hand
from weighd.domain.check import Plan
from weighd.domain.check_routine import Routine, routine_of
from weighd.domain.check_standing import Duty, Then
from weighd.domain.errors import JournalError, OperatorError


@pytest.fixture
def hand() -> Hand:
    it = Hand(check=FLAGS)
    it.show("0.0")
    return it


def test_a_check_is_one_entry_with_the_readings_of_every_step(hand: Hand) -> None:
    entry = check(hand, "2000.1")
    body = entry.body
    assert (entry.seq, body["scale"], body["by"], body["outcome"]) == (1, "bench", "Ada", "pass")
    assert "batch" not in body
    assert body["last_good"] is None
    zero, two = body["steps"]
    assert (zero["part"], zero["error_g"], zero["loaded"]) == ("zero", "0.0", None)
    assert (two["error_g"], two["limit_g"], two["outcome"]) == ("0.1", "0.5", "pass")
    assert two["weight"]["name"] == "2000 g"
    assert len(two["empty"]["readings"]) >= 4 <= len(two["loaded"]["readings"])
    report = verified(hand.journal)
    assert (report.entries, report.checks, report.batches) == (1, 1, 0)
    assert drawn(hand)["standing"] == "good"
    assert drawn(hand)["running"] is None


def test_what_a_page_is_told_while_a_check_goes_on(hand: Hand) -> None:
    assert drawn(hand)["standing"] == "never checked"
    assert drawn(hand)["last"] is drawn(hand)["due"] is None
    hand.do("start check", scale="bench", by="Ada")
    hand.lift("300.0")
    run = drawn(hand)["running"]
    assert (run["wanted"], run["note"], run["odd_g"]) == ("empty", "odd", "300.0")
    hand.lift("0.0")
    run = drawn(hand)["running"]
    assert (run["wanted"], run["current"]["weight"], run["of"]) == ("put", "2000 g", 2)
    assert [one["outcome"] for one in run["steps"]] == ["pass"]
    hand.lift("1700.0")
    assert drawn(hand)["running"]["odd_g"] == "1700.0"
    hand.lift("2000.2")
    run = drawn(hand)["running"]
    assert (run["wanted"], run["net_g"], run["found"]["error_g"]) == ("remove", "2000.2", "0.2")
    assert hand.journal == []
    hand.lift("0.0")
    assert drawn(hand)["running"] is None
    assert drawn(hand)["last"]["outcome"] == "pass"
    assert drawn(hand)["due"] == "2026-11-26T" + hand.journal[-1].at[11:]


def test_an_odd_load_is_taken_when_somebody_says_that_it_is_the_right_one(hand: Hand) -> None:
    hand.do("start check", scale="bench", by="Ada")
    hand.show("0.0")
    assert refused(hand, "it is right", scale="bench") == "not-settled"
    hand.lift("1700.0")
    hand.do("it is right", scale="bench")
    hand.lift("0.0")
    body = hand.journal[-1].body
    assert body["outcome"] == "fail"
    assert [one["sure"] for one in body["steps"]] == [False, True]
    verified(hand.journal)


def test_one_misread_reading_takes_nothing(hand: Hand) -> None:
    hand.do("start check", scale="bench", by="Ada")
    hand.show("0.0")
    hand.raw(b"2000.0\n")
    hand.show("0.0")
    assert drawn(hand)["running"]["wanted"] == "put"
    hand.lift("2000.0", seconds=1)
    hand.raw(b"0.0\n")
    hand.show("2000.0")
    assert drawn(hand)["running"]["wanted"] == "remove"
    assert hand.journal == []


@pytest.mark.parametrize("how", ["lost", "silent", "stop", "idle", "restart"])
def test_a_check_that_is_broken_off_leaves_nothing(hand: Hand, how: str) -> None:
    hand.do("start check", scale="bench", by="Ada")
    hand.show("0.0")
    hand.lift("2000.0")
    match how:
        case "lost":
            hand.lost()
            hand.found()
        case "silent":
            hand.tick(2.5)
        case "stop":
            hand.do("stop check", scale="bench")
        case "idle":
            hand.show("2000.0", seconds=901)
        case "restart":
            hand = Hand(hand.journal, check=FLAGS)
    assert drawn(hand)["running"] is None
    hand.show("2000.0")
    hand.lift("0.0")
    assert hand.journal == []
    assert drawn(hand)["standing"] == "never checked"
    check(hand)


def test_a_check_is_asked_for_by_somebody_on_a_scale_that_has_one(hand: Hand) -> None:
    assert refused(hand, "start check", scale="bench") == "no-operator"
    with pytest.raises(OperatorError, match='No scale is called "other"'):
        hand.do("start check", scale="other", by="Ada")
    assert refused(hand, "stop check", scale="bench") == "no-check"
    hand.do("start check", scale="bench", by="Ada")
    assert refused(hand, "start check", scale="bench", by="Bo") == "scale-being-checked"
    assert refused(hand, "start", by="Bo", formula=None) == "no-formula"
    plain = Hand()
    plain.show("0.0")
    assert refused(plain, "start check", scale="bench", by="Ada") == "no-check"
    plain.lost()
    silent = Hand(check=FLAGS)
    assert refused(silent, "start check", scale="bench", by="Ada") == "scale-not-heard"


def test_the_same_key_starts_one_check(hand: Hand) -> None:
    first = check(hand, key="once")
    again = hand.do("start check", scale="bench", by="Ada", key="once")
    assert again is not None and again.again
    assert drawn(hand)["running"] is None
    assert first.body["key"] == "once"


def test_a_result_that_cannot_be_written_is_written_when_it_can(hand: Hand) -> None:
    hand.do("start check", scale="bench", by="Ada")
    hand.show("0.0")
    hand.lift("2000.0")
    hand.fail = JournalError("store-full", "The disk is full.")
    hand.lift("0.0")
    assert hand.journal == []
    assert drawn(hand)["running"]["wanted"] == "nothing"
    assert hand.station.store_error is not None
    hand.fail = None
    hand.show("0.0")
    assert hand.kinds() == ["scale checked"]
    assert hand.station.store_error is None
    verified(hand.journal)


def test_a_routine_comes_back_from_the_header_of_a_session() -> None:
    full = Routine(
        Plan(masses=(TWO,), corners=TWO, repeat=TWO, repeat_n=3, limit_g=Decimal("0.5")),
        Duty(Then.BARS, None, "03:00"),
    )
    for one in (full, FLAGS, BARS):
        assert routine_of(one.as_json()) == one
