"""The scale's own key pressed with the load on: the sum is kept, on any scale."""

from __future__ import annotations

from decimal import Decimal

import pytest

from tests.station.scripted import Hand
from tests.station.zeros import accepted, body, live, press_key, refused, tared, verified
from weighd.domain.errors import JournalError


@pytest.fixture
def hand() -> Hand:
    return tared()


def test_the_tare_key_in_mid_addition_keeps_the_sum(hand: Hand) -> None:
    hand.pour("600")
    press_key(hand)
    assert hand.phase == "judged"
    assert live(hand)["net_g"] == "287.6"
    hand.pour("212.4")
    assert (hand.phase, live(hand)["net_g"]) == ("judged", "500.0")
    hand.do("accept")
    assert hand.kinds()[2:] == ["zero moved", "addition accepted"]
    moved = body(hand, "zero moved")
    assert (moved["cause"], moved["by"]) == ("tare key", "")
    assert (moved["before_g"], moved["after_g"], moved["shift_g"]) == ("600", "0.0", "-600.0")
    assert (moved["sum_g"], moved["tare_g"]) == ("287.6", "-287.6")
    assert len(moved["evidence"]["before"]["readings"]) >= 4
    assert len(moved["evidence"]["after"]["readings"]) >= 4
    accepted = body(hand, "addition accepted")
    assert accepted["zero_moves"] == [moved["n"]]
    assert verified(hand) == 1


def test_a_moved_zero_costs_one_more_pair_of_roundings(hand: Hand) -> None:
    """d / sqrt(12) for each of four displays (GUM, JCGM 100:2008, 5.1.2): 0.0577 g for 0.1 g."""
    hand.pour("600")
    press_key(hand)
    hand.pour("212.4")
    hand.do("accept")
    u = Decimal(body(hand, "addition accepted")["u_g"])
    assert abs(u - Decimal("0.05774")) < Decimal("0.0002")
    hand.pour("332.4")
    hand.do("accept")
    u = Decimal(body(hand, "addition accepted")["u_g"])
    assert abs(u - Decimal("0.04082")) < Decimal("0.0002"), "the next addition is on one zero"
    assert "zero_moves" not in body(hand, "addition accepted")


def test_nothing_like_a_vessel_that_is_gone_is_shown_meanwhile(hand: Hand) -> None:
    hand.pour("600")
    seen = set()
    for _ in range(20):
        hand.raw(b"0.0\n")
        now = live(hand)
        seen.add(now["phase"])
        assert now["net_g"] is None or Decimal(now["net_g"]) == Decimal("287.6")
    assert "awaiting vessel" not in seen


@pytest.mark.parametrize("poured", ["312.4", "600", "812.4", "830"])
def test_the_key_can_be_pressed_in_every_phase(hand: Hand, poured: str) -> None:
    hand.pour(poured)
    before = hand.phase
    press_key(hand)
    assert hand.phase == before
    hand.pour("95.0", "5")
    assert live(hand)["net_g"] == str(Decimal(poured) - Decimal("312.4") + 95)
    assert hand.kinds().count("zero moved") == 1
    verified(hand)


def test_pressed_twice_it_counts_twice(hand: Hand) -> None:
    hand.pour("600")
    press_key(hand)
    hand.pour("100", "5")
    press_key(hand)
    hand.pour("112.4", "5")
    assert live(hand)["net_g"] == "500.0"
    hand.do("accept")
    assert hand.kinds()[2:] == ["zero moved", "zero moved", "addition accepted"]
    assert len(body(hand, "addition accepted")["zero_moves"]) == 2
    assert verified(hand) == 1


@pytest.mark.parametrize("put_back", [True, False])
def test_after_the_key_a_jump_up_to_zero_may_be_a_spoon_put_back(
    hand: Hand, put_back: bool
) -> None:
    """What was taken out since the key comes back at once, or the key is pressed again: no display
    can tell, so the cook is asked, and the answer counts."""
    hand.pour("819.6")
    press_key(hand)
    hand.do("take out")
    hand.pour("-6.8")
    hand.show("0.0", 1.5)
    assert (hand.phase, live(hand)["held"]["cause"]) == ("held", "scale at zero")
    if put_back:
        # The vessel off, the empty scale zeroed, the vessel on again: it shows all that is in.
        hand.lift("0.0", 1.5)
        hand.lift("819.6", 1.5)
        assert live(hand)["net_g"] == "507.2"
    else:
        hand.do("resume")
        hand.show("0.0", 1.5)
        assert live(hand)["net_g"] == "500.4"
    assert verified(hand) == 0


def test_a_pour_right_after_the_key_loses_nothing(hand: Hand) -> None:
    hand.pour("600")
    press_key(hand, 0.2)
    hand.pour("212.4")
    assert live(hand)["net_g"] == "500.0"
    hand.do("accept")
    assert verified(hand) == 1


def test_a_vessel_lifted_after_the_key_and_set_back(hand: Hand) -> None:
    hand.pour("600")
    press_key(hand)
    hand.lift("-600")
    assert hand.phase == "awaiting vessel"
    hand.lift("0.0")
    assert live(hand)["net_g"] == "287.6"
    hand.pour("212.4")
    hand.do("accept")
    assert verified(hand) == 1


def test_a_lift_that_looks_like_the_key_is_taken_back_when_the_vessel_is(hand: Hand) -> None:
    """A slow scale may show nothing of the way up: the next reading is that of the empty pan."""
    hand.pour("600")
    hand.show("0.0", 0.2)
    hand.show("600")
    assert "zero moved" not in hand.kinds()
    hand.pour("812.4")
    hand.do("accept")
    assert body(hand, "addition accepted")["net_g"] == "500.0"


def test_a_lift_taken_for_the_key_is_put_right_by_a_person(hand: Hand) -> None:
    hand.pour("600")
    hand.show("0.0")  # off, and nothing of the way up was seen
    assert hand.kinds()[-1] == "zero moved"
    hand.show("600")
    assert hand.phase == "held"
    assert "weigh again" in hand.station.can()
    hand.do("weigh again", by="Second Tester")
    assert hand.kinds()[-2:] == ["zero moved", "decided"]
    hand.pour("812.4")
    assert (hand.phase, live(hand)["net_g"]) == ("judged", "500.0")
    hand.do("accept")
    assert verified(hand) == 1


def test_what_was_poured_and_not_taken_off_is_not_weighed_again(hand: Hand) -> None:
    """The wrong button: the net would be short by the vessel."""
    hand.pour("600")
    press_key(hand)
    hand.pour("900")
    assert hand.phase == "held"
    assert "weigh again" not in hand.station.can()
    assert refused(hand, "weigh again") == "not-now"
    hand.show("-600.0", 1.0)  # off, zeroed, and set back
    hand.show("0.0", 1.0)
    hand.show("1500.0")
    assert "weigh again" in hand.station.can()
    hand.do("weigh again")
    assert live(hand)["net_g"] == "1187.6"


def test_where_nobody_saw_how_it_came_there_a_person_knows(hand: Hand) -> None:
    """It may have been set down while the station was away."""
    hand.pour("600")
    press_key(hand)
    again = Hand(hand.journal, t=hand.t)
    again.show("900")
    assert again.phase == "held"
    assert "weigh again" in again.station.can()


def test_the_move_survives_a_stop(hand: Hand) -> None:
    hand.pour("600")
    press_key(hand)
    again = Hand(hand.journal, t=hand.t)
    again.show("50")  # poured before the stop, on the new zero
    assert live(again)["net_g"] == "337.6"
    again.pour("212.4")
    assert accepted(again) == "500.0"


def test_after_a_stop_a_display_at_zero_is_asked_about(hand: Hand) -> None:
    """Nothing came since the key, or the scale was off too: only a person knows."""
    hand.pour("600")
    press_key(hand)
    again = Hand(hand.journal, t=hand.t)
    again.show("0.0")
    assert live(again)["held"] | {"since": ""} == {
        "cause": "scale at zero",
        "since": "",
        "sum_g": "287.6",
    }
    again.do("resume")
    again.pour("212.4")
    assert accepted(again) == "500.0"


def test_a_move_that_cannot_be_written_is_tried_again(hand: Hand) -> None:
    hand.pour("600")
    hand.fail = JournalError("store-full", "The disk is full.")
    press_key(hand)
    assert "zero moved" not in hand.kinds()
    hand.fail = None
    hand.show("0.0")
    assert live(hand)["net_g"] == "287.6"
    hand.pour("212.4")
    hand.do("accept")
    assert verified(hand) == 1


# --- a scale too slow to tell its key from a lift ----------------------------------------------


def slow(hand: Hand, grams: str, seconds: float = 3.0) -> None:
    """The display at four readings a second."""
    hand.display = Decimal(grams)
    for _ in range(round(seconds * 4)):
        hand.raw(b"%s\n" % grams.encode(), 0.25)


@pytest.fixture
def slow_hand() -> Hand:
    hand = Hand()
    hand.start()
    slow(hand, "312.4")
    hand.do("tare")
    for grams in ("400", "500", "600"):
        slow(hand, grams, 0.25)
    slow(hand, "600")
    return hand


def test_a_slow_scale_asks_which_it_was_and_goes_on_with_the_key(slow_hand: Hand) -> None:
    slow(slow_hand, "0.0")
    assert live(slow_hand)["held"]["cause"] == "scale at zero"
    slow_hand.do("resume")
    slow(slow_hand, "212.4")
    assert live(slow_hand)["net_g"] == "500.0"
    slow_hand.do("accept")
    assert verified(slow_hand) == 1


def test_a_slow_scale_asks_which_it_was_and_goes_on_with_the_vessel_set_back(
    slow_hand: Hand,
) -> None:
    slow(slow_hand, "0.0")
    slow(slow_hand, "600")
    assert (slow_hand.phase, live(slow_hand)["net_g"]) == ("judged", "287.6")
    assert "zero moved" not in slow_hand.kinds()
    verified(slow_hand)


def test_another_vessel_can_be_tared_while_nothing_is_in() -> None:
    hand = Hand()
    hand.start()
    slow(hand, "312.4")
    hand.do("tare")
    slow(hand, "312.4")
    slow(hand, "0.0")
    assert hand.phase == "held"
    slow(hand, "250.0")
    assert "tare" in hand.station.can()
    hand.do("tare")
    assert (hand.phase, hand.kinds()[2:]) == ("ready", ["held", "tared"])
    slow(hand, "750.0")
    hand.do("accept")
    assert verified(hand) == 1


def test_no_other_vessel_can_be_tared_while_something_is_in(slow_hand: Hand) -> None:
    slow(slow_hand, "0.0")
    slow(slow_hand, "250.0")
    assert "tare" not in slow_hand.station.can()
    assert refused(slow_hand, "tare") == "vessel-holds-some"
