"""A scale's own key that looked as if the vessel had been lifted: the display was half way down."""

from __future__ import annotations

import pytest

from tests.station.scripted import Hand
from tests.station.zeros import accepted, body, live, refused, tared, verified


@pytest.fixture
def hand() -> Hand:
    """287.6 g are in, and then the key: by what it shows the vessel was lifted."""
    hand = tared()
    hand.pour("600")
    hand.lift("0.0")
    assert hand.phase == "awaiting vessel"
    return hand


#: The last two pass half of the vessel (312.4 g), or all of it, within a second.
POURS = [("100", "5"), ("330", "10"), ("450", "9"), ("450", "18"), ("900", "40")]


@pytest.mark.parametrize(("to", "step"), POURS)
def test_what_is_poured_on_is_asked_about_and_counted(hand: Hand, to: str, step: str) -> None:
    """Without asking, what was in before would be poured a second time."""
    hand.pour(to, step)
    now = live(hand)
    assert (hand.phase, now["held"]["cause"]) == ("held", "scale at zero")
    assert now["held"]["sum_g"] == "287.6"
    hand.do("resume")
    hand.show(to, 1.0)
    assert live(hand)["net_g"] == f"{287.6 + float(to):.1f}"
    assert body(hand, "zero moved")["after_g"] == "0.0"
    verified(hand)


def test_weighed_again_from_an_empty_pan_it_tells_what_is_in(hand: Hand) -> None:
    hand.pour("100", "5")
    hand.lift("-600.0")
    hand.show("0.0", 2.0)  # emptied, and zeroed
    hand.lift("700")
    assert live(hand)["net_g"] == "387.6"
    hand.pour("812.4")
    assert accepted(hand) == "500.0"


def test_lifted_then_the_pan_shows_less_than_nothing_and_it_is_asked(hand: Hand) -> None:
    hand.lift("-600.0")
    assert (hand.phase, live(hand)["held"]["cause"]) == ("held", "scale at zero")
    assert "resume" not in hand.station.can()
    assert live(hand)["off"]
    assert refused(hand, "resume") == "not-now"
    hand.lift("0.0")  # set back
    assert not live(hand)["off"]
    hand.do("resume")
    hand.show("0.0", 1.0)
    assert live(hand)["net_g"] == "287.6"
    hand.pour("212.4")
    assert accepted(hand) == "500.0"


def test_lifted_and_the_pan_zeroed_it_is_weighed_again_by_itself(hand: Hand) -> None:
    hand.lift("-600.0")
    hand.show("0.0", 2.0)
    hand.lift("700")
    assert hand.kinds()[-2:] == ["held", "resumed"]
    assert live(hand)["net_g"] == "387.6"
    verified(hand)


def test_a_thing_laid_on_the_pan_is_no_pour(hand: Hand) -> None:
    """Really off: a spoon is laid on the pan, a cup, and then the vessel is set back."""
    assert live(hand)["perhaps_on"]
    hand.show("50", 1.0)
    assert not live(hand)["perhaps_on"]
    hand.show("90", 1.0)
    hand.lift("0.0")
    hand.lift("600")
    assert live(hand)["net_g"] == "287.6"
    assert "held" not in hand.kinds()


def test_another_bowl_filled_on_the_pan_is_asked_about_until_the_vessel_is_back(hand: Hand) -> None:
    hand.pour("100", "5")
    assert hand.phase == "held"
    hand.lift("0.0")
    hand.lift("600")
    assert hand.kinds()[-1] == "resumed"
    assert (live(hand)["held"], live(hand)["net_g"]) == (None, "287.6")
    verified(hand)


def test_set_back_gently_with_what_was_in_it_nothing_is_asked(hand: Hand) -> None:
    hand.pour("600", "20")
    assert (live(hand)["held"], live(hand)["net_g"]) == (None, "287.6")


def test_set_back_as_it_was_and_poured_into_at_once_nothing_is_asked(hand: Hand) -> None:
    hand.lift("600", 0.2)
    hand.pour("812.4")
    assert "held" not in hand.kinds()
    assert accepted(hand) == "500.0"


def test_some_of_it_taken_out_and_poured_into_after_a_moment_nothing_is_asked(hand: Hand) -> None:
    hand.lift("420", 0.6)
    assert hand.phase == "awaiting vessel"
    hand.pour("812.4", settle=4.0)
    assert "held" not in hand.kinds()
    assert accepted(hand) == "500.0"


def test_poured_into_before_the_hand_is_off_it_is_asked_about_and_weighed_again(hand: Hand) -> None:
    """With some of it taken out: as a display, that is a pour onto a vessel zeroed there."""
    hand.lift("420", 0.2)
    hand.pour("812.4")
    assert live(hand)["held"]["cause"] == "scale at zero"
    hand.do("weigh again")
    hand.show("812.4", 1.0)
    assert live(hand)["net_g"] == "500.0"
    assert accepted(hand) == "500.0"
