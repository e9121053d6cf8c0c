"""A scale's own key pressed while something is poured: the amount is never silently short."""

from __future__ import annotations

from decimal import Decimal

import pytest

from tests.station.scripted import Hand
from tests.station.zeros import body, live, refused, tared, verified


def keyed_before() -> Hand:
    """The vessel (312.4 g) was tared here, and once more with the scale's own key."""
    hand = tared()
    hand.show("0.0", 2.0)
    assert body(hand, "zero moved")["cause"] == "tare key"
    return hand


def grows(hand: Hand, first: str, last: str, step: str) -> None:
    """A stream on the display, a reading each tenth of a second."""
    at = Decimal(first)
    while at <= Decimal(last):
        hand.show(str(at), 0.1)
        at += Decimal(step)


def test_on_a_vessel_near_zero_it_is_asked_about_with_what_was_in() -> None:
    hand = keyed_before()
    grows(hand, "5", "200", "5")
    grows(hand, "2", "52", "5")
    held = live(hand)["held"]
    assert (hand.phase, held["cause"], held["sum_g"]) == ("held", "scale at zero", "200.0")
    # What it moved in its last half second, 25 g, over the root of three, twice.
    assert Decimal(held["sum_within_g"]) == pytest.approx(Decimal("28.9"), abs=Decimal("0.1"))
    assert refused(hand, "accept") in ("not-now", "not-settled")
    hand.show("52", 1.5)
    hand.do("resume")
    hand.show("52", 1.5)
    # What flowed between the two readings around the key is within what is told of it.
    assert Decimal(live(hand)["net_g"]) == pytest.approx(Decimal(252), abs=6)
    assert Decimal(live(hand)["u_g"]) > 14
    moved = body(hand, "zero moved")
    assert (moved["cause"], moved["settled"]) == ("scale at zero", False)
    verified(hand)


def test_weighed_again_on_the_empty_zero_all_of_it_is_known() -> None:
    hand = keyed_before()
    grows(hand, "5", "200", "5")
    grows(hand, "2", "52", "5")
    assert hand.phase == "held"
    hand.show("-517.4", 1.0)
    hand.show("0.0", 2.0)  # the empty scale, zeroed
    hand.show("567.4", 2.5)
    assert live(hand)["net_g"] == "255.0"
    hand.pour("812.4")
    hand.do("accept")
    assert body(hand, "addition accepted")["net_g"] == "500.0"
    assert Decimal(body(hand, "addition accepted")["u_g"]) < 1
    assert verified(hand) == 1


def test_on_a_tare_far_above_zero_the_stream_that_grows_on_tells_it_from_a_lift() -> None:
    hand = tared()
    grows(hand, "315", "600", "5")
    grows(hand, "3", "480", "5")  # grown on past what the vessel weighs
    held = live(hand)["held"]
    assert (held["cause"], held["sum_g"]) == ("scale at zero", "287.6")


def test_a_vessel_lifted_in_mid_pour_is_none() -> None:
    hand = tared()
    grows(hand, "315", "600", "5")
    hand.show("0.0", 2.0)
    assert (hand.phase, live(hand)["held"]) == ("awaiting vessel", None)
    hand.show("600", 2.0)
    assert live(hand)["net_g"] == "287.6"


def test_a_vessel_lifted_from_a_zero_of_its_own_is_none() -> None:
    hand = keyed_before()
    grows(hand, "5", "200", "5")
    for shown in ("0.1", "-90", "-300", "-312.4"):
        hand.show(shown, 0.1)
    hand.show("-312.4", 1.0)
    assert (hand.phase, live(hand)["held"]) == ("awaiting vessel", None)


def test_one_reading_misread_is_none() -> None:
    hand = keyed_before()
    grows(hand, "5", "200", "5")
    hand.show("0.3", 0.1)
    grows(hand, "210", "250", "5")
    hand.show("250", 1.5)
    assert live(hand)["held"] is None
    assert live(hand)["net_g"] == "250.0"


def test_a_hand_that_trembles_on_the_pan_is_none() -> None:
    hand = keyed_before()
    for shown in ("20", "60", "110", "104", "112", "101", "0.0", "0.0", "0.0", "0.0", "0.0"):
        hand.show(shown, 0.1)
    hand.show("0.0", 1.5)
    assert (hand.phase, live(hand)["held"]) == ("ready", None)


def test_pressed_once_more_while_it_is_asked_about_no_more_is_claimed_to_be_in() -> None:
    hand = keyed_before()
    grows(hand, "5", "200", "5")
    grows(hand, "2", "52", "5")
    grows(hand, "1", "31", "5")
    hand.show("31", 1.5)
    held = live(hand)["held"]
    assert (held["cause"], held["sum_g"]) == ("scale at zero", "200.0")
    hand.do("resume")
    verified(hand)


def test_between_pours_the_zero_just_moves() -> None:
    hand = keyed_before()
    hand.pour("200")
    hand.show("0.0", 1.0)
    assert live(hand)["held"] is None
    assert live(hand)["net_g"] == "200.0"


def test_poured_from_a_vessel_on_the_scale_its_display_rises_to_zero() -> None:
    hand = Hand()
    hand.start(method="by difference")
    hand.show("1400.0")
    hand.do("tare")
    hand.show("0.0", 2.0)
    assert body(hand, "zero moved")["cause"] == "tare key"
    for shown in range(-5, -205, -5):
        hand.show(shown, 0.1)
    for shown in range(-2, -62, -5):
        hand.show(shown, 0.1)
    held = live(hand)["held"]
    assert (hand.phase, held["cause"], held["sum_g"]) == ("held", "scale at zero", "200.0")
    hand.show("-57", 1.5)
    hand.do("resume")
    hand.show("-57", 1.5)
    assert Decimal(live(hand)["net_g"]) == pytest.approx(Decimal(257), abs=8)
    verified(hand)
