"""The cue in the live picture: it comes with the vessel, goes with the scale, alters no entry."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from tests.station.scripted import Hand
from weighd.station.picture import draw_live


def cue(hand: Hand) -> dict[str, Any] | None:
    live = draw_live(hand.station)
    assert live is not None
    told: dict[str, Any] | None = live["cue"]
    return told


def cues(hand: Hand, to: str, step: str) -> list[str | None]:
    """What is told at each display on the way there."""
    goal, by, seen = Decimal(to), Decimal(step), list[str | None]()
    while hand.display != goal:
        hand.display += max(-by, min(by, goal - hand.display))
        hand.raw(b"%s\n" % str(hand.display).encode())
        told = cue(hand)
        seen.append(told and str(told["cue"]))
    return seen


@pytest.fixture
def hand() -> Hand:
    """A batch with its vessel tared; 500 g of milk come first, 495 to 505."""
    hand = Hand()
    hand.start()
    hand.show("312.4")
    hand.do("tare")
    return hand


def test_no_cue_before_there_is_a_vessel() -> None:
    hand = Hand()
    assert draw_live(hand.station) is None
    hand.start()
    assert cue(hand) is None
    hand.show("312.4")
    assert (hand.phase, cue(hand)) == ("awaiting vessel", None)


def test_the_cue_goes_from_pour_to_slow_to_stop_before_the_target_shows(hand: Hand) -> None:
    hand.show("312.4", 0.5)
    told = cue(hand)
    assert told is not None
    assert told["cue"] == "pour"
    assert abs(Decimal(told["landing_g"])) < 1
    assert 0 < Decimal(told["sigma_g"]) < 1
    # 80 g/s: what is under way at a stop is about half a second of that.
    seen = cues(hand, "782.4", "8")
    order = [one for k, one in enumerate(seen) if k == 0 or seen[k - 1] != one]
    assert order == ["pour", "slow", "stop"]
    told = cue(hand)
    assert told is not None
    assert 475 < Decimal(told["landing_g"]) < 530


def test_nothing_is_told_of_an_addition_that_is_judged_and_enough(hand: Hand) -> None:
    hand.pour("812.4", "8")
    assert (hand.phase, cue(hand)) == ("judged", None)
    hand.do("accept", addition=1)
    assert cue(hand) is None  # nothing was seen of the next addition yet
    hand.show("812.4", 0.3)
    told = cue(hand)
    assert told is not None
    assert told["cue"] == "pour"


def test_one_that_landed_far_too_short_is_poured_on(hand: Hand) -> None:
    hand.pour("612.4", "8", settle=4)
    told = cue(hand)
    assert hand.phase == "judged"
    assert told is not None
    assert told["cue"] in ("pour", "slow")


def test_no_cue_while_the_vessel_is_off_or_the_scale_is_gone(hand: Hand) -> None:
    cues(hand, "500.4", "8")
    assert cue(hand) is not None
    hand.pour("0.0", "200", settle=1)
    assert (hand.phase, cue(hand)) == ("awaiting vessel", None)
    hand.pour("500.4", "200", settle=1)
    assert cue(hand) is not None
    hand.lost()
    assert (hand.phase, cue(hand)) == ("held", None)


def test_no_cue_when_the_scale_falls_silent_or_shows_no_number(hand: Hand) -> None:
    cues(hand, "500.4", "8")
    hand.raw(b"OVER\n")
    assert cue(hand) is None
    cues(hand, "540.4", "8")
    assert cue(hand) is not None
    hand.tick(5)
    assert cue(hand) is None


def test_no_cue_while_an_over_pour_is_held(hand: Hand) -> None:
    hand.pour("900.4", "8")
    assert (hand.phase, cue(hand)) == ("held", None)
