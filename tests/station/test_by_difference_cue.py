"""The cue by difference: it follows what leaves a vessel that stands there; lifting is no pour."""

from __future__ import annotations

import pytest

from tests.station.scripted import Hand
from tests.station.test_by_difference import source_tared


@pytest.fixture
def hand() -> Hand:
    return source_tared()


def cues(hand: Hand) -> list[str]:
    """What is told from here on, reading by reading."""
    told: list[str] = []
    station = hand.station

    def look(*_: object) -> None:
        guidance = station.batch and station.guiding.told(station.batch, station.now)
        told.append(str(guidance.cue) if guidance else "")

    station.onlooker = look
    return told


def test_the_cue_follows_what_leaves_a_vessel_that_stands_there(hand: Hand) -> None:
    told = cues(hand)
    hand.pour("905.0", "4", settle=0)
    first_stop = told.index("stop")
    assert set(told[:first_stop]) <= {"pour", "slow", ""}
    assert 90 < first_stop < 125  # at 400 g poured out at the earliest, of 500 g at 40 g/s
    assert told[-1] == "stop"


def test_lifting_it_is_no_pour_to_be_stopped_and_teaches_nothing(hand: Hand) -> None:
    hand.show("1400.0", 0.5)
    guide = hand.station.guiding._guides["bench"]
    lead = guide.lead
    told = cues(hand)
    for shown in ("1390", "1300", "1050", "700", "350", "80"):
        hand.raw(b"%s\n" % shown.encode())
    hand.show("0.0", 1.5)
    hand.lift("1200.0")
    hand.lift("0.0")
    hand.lift("900.0")
    assert "stop" not in told
    assert told[-1] in ("", "pour", "slow")
    hand.do("accept")
    hand.show("900.0")
    assert guide.lead == lead
