"""A source whose zero was moved by the scale's own key or its sleep, and the pan zeroed empty."""

from __future__ import annotations

from decimal import Decimal

import pytest

from tests.station.scripted import Hand
from tests.station.test_by_difference import live, nets, source_tared, verify


@pytest.fixture
def hand() -> Hand:
    return source_tared()


def test_a_scale_that_woke_at_zero_is_zeroed_empty_and_tells_what_is_gone(hand: Hand) -> None:
    hand.source("1150.0")
    hand.tick(20.0)
    hand.show("0.0", 1.5)
    hand.lift("-1150.0")
    hand.show("0.0", 1.5)  # its own key, on the empty pan
    hand.lift("900.0")
    if "weigh again" in hand.station.can():
        hand.do("weigh again")
    hand.show("900.0")
    assert live(hand)["net_g"] == "500.0"
    hand.do("accept")
    assert nets(hand) == ["500.0"]
    assert verify(hand) == 1


def zeroed_twice(hand: Hand) -> None:
    """By its own key: with the source on it, and with the pan empty."""
    hand.source("1150.0")
    hand.show("0.0", 1.5)
    assert live(hand)["net_g"] == "250.0"
    hand.lift("-1150.0")
    hand.show("0.0", 1.5)


@pytest.mark.parametrize("back", ["900.0", "1150.0"])
def test_off_and_zeroed_empty_after_its_key_it_tells_what_is_gone(hand: Hand, back: str) -> None:
    """It shows more than was tared on the moved zero, and came at once, as what is set down."""
    zeroed_twice(hand)
    hand.lift(back)
    assert hand.kinds()[-3:] == ["held", "zero moved", "resumed"]
    hand.show(back)
    assert (hand.phase, live(hand)["net_g"]) == ("judged", str(Decimal(1400) - Decimal(back)))
    verify(hand)


def test_off_after_its_key_and_more_than_that_slowly_a_person_is_asked(hand: Hand) -> None:
    zeroed_twice(hand)
    for shown in range(50, 900, 25):
        hand.show(str(shown), 0.1)
    hand.show("900.0")
    assert live(hand)["held"]["cause"] == "scale at zero"
    hand.do("weigh again")
    hand.show("900.0")
    assert live(hand)["net_g"] == "500.0"
    hand.do("accept")
    assert verify(hand) == 1


def test_off_after_its_key_and_set_back_nobody_is_asked(hand: Hand) -> None:
    hand.source("1150.0")
    hand.show("0.0", 1.5)
    hand.lift("-1150.0")
    hand.lift("0.0")
    assert (live(hand)["held"], live(hand)["net_g"]) == (None, "250.0")
