"""A check that runs out in the midst of an addition, and how it is made all the same."""

from __future__ import annotations

from tests.station.check_hand import (
    BARS,
    check,
    drawn,
    poured,
    refused,
    verified,
)
from tests.station.scripted import Hand
from weighd.station.inputs import ClockSet
from weighd.station.picture import Picture


def test_where_the_empty_pan_was_tared_it_is_checked_with_nothing_on() -> None:
    hand = Hand(check=BARS)
    hand.show("0.0")
    check(hand)
    hand.start()
    hand.show("0.0")
    hand.do("tare", confirm=True)
    hand.pour("500.0")
    hand.tick(25 * 3600)
    hand.found()
    hand.show("500.0")
    assert refused(hand, "accept") == "scale-not-checked"
    assert refused(hand, "start check", scale="bench", by="Ada") == "scale-in-use"
    hand.lift("0.0")
    assert hand.phase == "ready"
    made = check(hand)
    hand.lift("500.0")
    hand.do("accept")
    assert hand.journal[-1].body["check"]["last"]["seq"] == made.seq
    assert hand.journal[-1].body["net_g"] == "500.0"
    verified(hand.journal)


def test_an_empty_pan_that_was_zeroed_after_a_check_is_clear_of_its_weights() -> None:
    hand = Hand(check=BARS)
    hand.show("0.0")
    check(hand)
    hand.start()
    hand.show("0.0")
    hand.do("tare", confirm=True)  # the vessel stands there, tared by the scale's own key
    hand.pour("100.0")
    hand.lift("-300.0")
    hand.do("start check", scale="bench", by="Ada")
    hand.show("-300.0")
    hand.lift("200.0")
    hand.do("stop check", scale="bench")
    assert drawn(hand)["clearing"]
    hand.lift("0.0")  # everything off, and its key pressed
    assert not drawn(hand)["clearing"]
    assert "abandon" in hand.station.can()


def test_an_amount_that_is_held_is_no_hindrance_with_the_vessel_off() -> None:
    hand = poured("900.0")
    assert hand.phase == "held"
    hand.tick(25 * 3600)
    hand.found()
    hand.show("900.0")
    assert "accept with reason" not in hand.station.can()
    assert refused(hand, "start check", scale="bench", by="Ada") == "scale-in-use"
    hand.lift("0.0")
    made = check(hand)
    hand.lift("900.0")
    assert hand.phase == "held"
    hand.do("accept", reason="it will do")
    assert hand.journal[-1].body["check"]["last"]["seq"] == made.seq
    assert hand.journal[-1].body["net_g"] == "600.0"
    verified(hand.journal)


def test_a_scale_that_has_to_be_asked_about_first_is_not_checked_before() -> None:
    hand = poured("800.0")
    hand.lost()
    hand.found()
    hand.show("0.0")
    held = hand.station.batch.held if hand.station.batch else None
    assert held is not None
    assert held.cause == "scale at zero"
    assert refused(hand, "start check", scale="bench", by="Ada") == "scale-in-use"


def test_a_clock_that_is_set_makes_a_check_overdue_at_once() -> None:
    hand = poured("800.0")
    picture = Picture(hand.station)
    picture.refresh()
    assert "accept" in picture.state()["live"]["can"]
    hand.take(ClockSet(hand.t, "2027-11-25T09:00:00.000Z"))
    picture.refresh()
    shown = picture.state()
    assert "accept" not in shown["live"]["can"]
    assert shown["scales"]["bench"]["check"]["barred"]
