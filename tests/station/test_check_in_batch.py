"""Checks in the middle of a batch: the addition is left as it was, whatever happens meanwhile."""

from __future__ import annotations

from decimal import Decimal

import pytest

from tests.station.check_hand import BARS, FLAGS, check, drawn, refused, verified
from tests.station.scripted import FORMULA, Hand
from weighd.domain.check_routine import Routine
from weighd.station.picture import Picture


def poured(
    text: str = FORMULA, stands: str = "300.0", to: str = "500.0", routine: Routine = FLAGS
) -> Hand:
    """A checked scale, a vessel tared on it, and some of the first addition in (or out)."""
    hand = Hand(check=routine)
    hand.show("0.0")
    check(hand)
    hand.start(text)
    hand.lift(stands)
    hand.do("tare")
    hand.pour(to)
    return hand


def begun(hand: Hand) -> None:
    """The vessel off, and a weight on: in the middle of a check."""
    hand.lift("0.0")
    hand.do("start check", scale="bench", by="Ada")
    hand.show("0.0")
    hand.lift("2000.0")
    assert drawn(hand)["running"]["wanted"] == "remove"


def accepted(hand: Hand, to: str, net: str) -> None:
    """The pour goes on to its end and is accepted."""
    hand.pour(to)
    hand.do("accept")
    assert hand.journal[-1].kind == "addition accepted"
    assert hand.journal[-1].body["net_g"] == net
    verified(hand.journal)


def live(hand: Hand) -> dict[str, object]:
    shown = Picture(hand.station).state()["live"]
    assert isinstance(shown, dict)
    return shown


def test_the_board_shows_nothing_of_what_a_check_puts_on() -> None:
    hand = poured()
    begun(hand)
    shown = live(hand)
    assert (shown["checking"], shown["gross_g"], shown["phase"]) == (True, None, "awaiting vessel")
    assert shown["cue"] is None
    hand.lift("0.0")
    assert live(hand)["checking"] is False
    hand.lift("500.0")
    accepted(hand, "800.0", "500.0")


@pytest.mark.parametrize("how", ["stop", "unplug", "silent"])
def test_broken_off_with_a_weight_on(how: str) -> None:
    hand = poured()
    begun(hand)
    if how == "stop":
        hand.do("stop check", scale="bench")
    elif how == "unplug":
        hand.lost()
        hand.found()
    else:
        hand.tick(3)
    hand.show("2000.0", 3)
    assert drawn(hand)["clearing"]
    assert refused(hand, "accept") == "scale-being-checked"
    hand.lift("0.0")
    assert not drawn(hand)["clearing"]
    hand.lift("500.0")
    accepted(hand, "800.0", "500.0")


def test_a_restart_with_a_weight_on_decides_nothing() -> None:
    hand = poured()
    begun(hand)
    hand = Hand(hand.journal, t=hand.t, check=FLAGS)
    hand.show("2000.0", 3)
    assert "addition accepted" not in hand.kinds()
    hand.lift("0.0")
    hand.lift("500.0")
    if hand.phase == "held":  # the weight was taken for far too much: somebody has to look at it
        hand.do("top up")
    accepted(hand, "800.0", "500.0")


def test_while_a_vessel_is_poured_from() -> None:
    text = FORMULA.replace('tolerance = "1 %"', 'tolerance = "1 %"\nmethod = "by difference"')
    hand = poured(text, "1400.0", "1200.0")
    begun(hand)
    hand.lift("0.0")
    hand.lift("1200.0")
    accepted(hand, "900.0", "500.0")


def test_another_scale_than_the_current_one_may_be_checked_at_any_time() -> None:
    hand = Hand(check=FLAGS, more={"fine": ("0.01", "500")})
    hand.show("0.0")
    hand.on = "fine"
    hand.show("0.00")
    hand.start(scale="fine", batch_g="311")
    hand.lift("20.00")
    hand.do("tare")
    hand.on = "bench"
    made = check(hand)
    assert made.body["scale"] == "bench"
    hand.on = "fine"
    hand.pour("270.00")
    hand.do("accept")
    entry = hand.journal[-1]
    assert (entry.kind, entry.body["net_g"]) == ("addition accepted", "250.00")
    assert "check" not in entry.body  # no check is asked of that scale
    verified(hand.journal)


def test_what_is_barred_is_not_offered_and_a_check_in_the_middle_offers_it_again() -> None:
    hand = poured(routine=BARS, to="800.0")
    assert "accept" in hand.station.can()
    hand.tick(25 * 3600)
    hand.found()
    hand.show("800.0")
    assert "accept" not in hand.station.can()
    hand.lift("0.0")
    hand.do("start check", scale="bench", by="Ada")
    assert set(hand.station.can()) == {"abandon", "name lot"}
    hand.show("0.0")
    hand.lift("2000.0")
    hand.lift("0.0")
    hand.lift("800.0")
    assert "accept" in hand.station.can()


def test_a_check_in_the_middle_is_the_one_that_the_next_acceptance_names() -> None:
    hand = poured()
    begun(hand)
    hand.lift("0.0")
    second = hand.journal[-1]
    hand.lift("500.0")
    accepted(hand, "800.0", "500.0")
    assert hand.journal[-1].body["check"]["last"]["seq"] == second.seq
    assert Decimal(second.body["steps"][1]["error_g"]) == 0
