"""A station started again with a vessel at zero, and what flows in before it is at rest."""

from __future__ import annotations

from decimal import Decimal

import pytest

from tests.station.scripted import Hand
from tests.station.zeros import live, sleep, tared, verified


@pytest.fixture
def hand() -> Hand:
    return tared()


@pytest.mark.parametrize("shown", ["0.0", "0.4"])
def test_poured_into_right_after_a_restart_at_zero_it_is_asked_what_was_in(
    hand: Hand, shown: str
) -> None:
    hand.show("0.0", 2.0)  # tared once more, with its own key
    hand.pour("140")
    again = Hand(hand.journal, t=hand.t)
    again.show(shown, 0.2)
    again.pour("139.6", "20")  # never at rest before; in truth 279.6 g are in
    held = live(again)["held"]
    assert (again.phase, held["cause"], held["sum_g"]) == ("held", "scale at zero", "0.0")
    again.do("resume")
    again.show("139.6", 1.0)
    told = Decimal("139.6") - Decimal(shown)
    assert live(again)["net_g"] == str(told)
    verified(again)


@pytest.mark.parametrize("more", [("0.0",), ("139.6", "20")])
def test_a_key_pressed_before_the_first_rest_after_a_restart_is_asked_about(
    hand: Hand, more: tuple[str, ...]
) -> None:
    hand.show("0.0", 2.0)  # tared once more, with its own key
    hand.pour("140")
    again = Hand(hand.journal, t=hand.t)
    again.show("140", 0.7)
    assert again.phase != "judged"  # nobody has said yet where its zero is
    again.show("0.0", 0.7)
    again.pour(*more)
    held = live(again)["held"]
    assert (again.phase, held["cause"]) == ("held", "scale at zero")
    again.do("resume")
    again.show(more[0], 1.0)
    assert live(again)["net_g"] == more[0]
    verified(again)


def test_what_is_in_is_seen_after_a_restart_where_it_was_not_at_zero(hand: Hand) -> None:
    hand.show("0.0", 2.0)
    hand.pour("140")
    again = Hand(hand.journal, t=hand.t)
    again.show("140", 0.2)
    again.pour("200", "10")
    assert (again.phase, live(again)["held"], live(again)["net_g"]) == ("judged", None, "200.0")


def test_a_vessel_with_a_weight_of_its_own_comes_at_once_and_a_pour_does_not(hand: Hand) -> None:
    """The scale, too, was off meanwhile, and shows nothing with the vessel on."""
    again = Hand(hand.journal, t=hand.t)
    again.show("0.0", 0.5)  # never at rest before it is poured into
    again.pour("1700", "56")
    held = live(again)["held"]
    assert (again.phase, held["cause"], held["sum_g"]) == ("held", "scale at zero", None)
    again.lift("-500.0")
    again.show("0.0", 2.0)  # zeroed empty
    again.lift("2012.4")
    again.show("2012.4")
    assert live(again)["net_g"] == "1700.0"
    verified(again)


def test_a_vessel_with_a_weight_of_its_own_may_be_off_at_a_restart(hand: Hand) -> None:
    hand.pour("600")
    hand.lift("0.0")
    again = Hand(hand.journal, t=hand.t)
    again.show("0.0", 0.1)
    again.pour("600", "200")
    assert (live(again)["held"], live(again)["net_g"]) == (None, "287.6")


@pytest.mark.parametrize(("step", "cause"), [("120", "scale at zero"), ("600", "over")])
def test_what_flows_on_for_longer_is_no_vessel_either(hand: Hand, step: str, cause: str) -> None:
    sleep(hand, 30.0)  # with nothing in it
    hand.pour("2000", step)
    assert live(hand)["held"]["cause"] == cause
    verified(hand)


@pytest.mark.parametrize(("first", "cause"), [("1.9", "scale at zero"), ("3000.0", None)])
def test_a_scale_poured_into_as_it_wakes_is_asked_about(
    hand: Hand, first: str, cause: str | None
) -> None:
    """One reading at zero is not held to; one more that is far from what stood there is enough."""
    hand.pour("3000", "100")
    hand.tick(1.8)  # it slept, and nobody calls that silent yet
    hand.show(first, 0.1)
    hand.pour(str(Decimal(first) + 1000), "50")
    held = live(hand)["held"]
    assert (held and held["cause"]) == (cause or "over")
    verified(hand)
