"""What a station does when a scale goes and that cannot be written, and other things that whole
stations out of a seed brought to light (tests/simulation)."""

from __future__ import annotations

import pytest

from tests.station.scripted import Hand
from weighd.domain.errors import JournalError, OperatorError
from weighd.domain.verify import Verifier

FULL = JournalError("store-full", "The disk is full.")


def judged() -> Hand:
    """500 g of milk stand there, judged on target."""
    hand = Hand()
    hand.lift("0.0")
    hand.start()
    hand.lift("300")
    hand.do("tare")
    hand.pour("800")
    assert hand.phase == "judged"
    return hand


def verified(hand: Hand) -> None:
    verifier = Verifier(whole=True)
    for entry in hand.journal:
        verifier.take(entry)
    verifier.finish()


@pytest.mark.parametrize("silent", [False, True])
def test_nothing_is_accepted_of_a_scale_that_went_while_the_record_failed(silent: bool) -> None:
    """The hold could not be written: the amount shown last does not stand all the same."""
    hand = judged()
    hand.fail = FULL
    if silent:
        hand.tick(10.0)
    else:
        hand.lost()
    assert hand.kinds()[-1] == "tared"
    assert "accept" not in hand.station.can()
    hand.fail = None
    with pytest.raises(OperatorError) as refused:
        hand.do("accept")
    assert refused.value.code == "not-settled"
    assert "addition accepted" not in hand.kinds()


def test_that_a_scale_went_is_written_once_the_record_can_be() -> None:
    hand = judged()
    hand.fail = FULL
    hand.lost()
    hand.fail = None
    hand.tick(2.0)
    assert hand.journal[-1].kind == "held"
    assert hand.journal[-1].body["cause"] == "scale lost"
    assert hand.journal[-1].body["sum_g"] == "500"
    assert hand.phase == "held"
    hand.found()
    hand.show("800")
    hand.do("accept")
    verified(hand)
    assert hand.kinds()[-3:] == ["held", "resumed", "addition accepted"]


def test_it_is_not_written_of_the_next_addition() -> None:
    """The scale is back and the addition accepted before it could be: nothing is to be held."""
    hand = judged()
    hand.fail = FULL
    hand.lost()
    hand.fail = None
    hand.found()
    hand.station.seeing._retry_at = hand.t + 60.0
    hand.show("800")
    assert hand.phase == "judged"
    hand.do("accept")
    hand.tick(100.0)
    hand.found()
    hand.show("800")
    assert [one for one in hand.journal if one.body.get("cause") == "scale lost"] == []
    verified(hand)


def test_an_overpour_that_cannot_be_written_is_not_accepted_as_it_was() -> None:
    """The claim before it is gone, though the hold for it could not be written."""
    hand = judged()
    hand.fail = FULL
    hand.show("812", 1.6)
    hand.fail = None
    assert hand.station.now.claim is None
    with pytest.raises(OperatorError):
        hand.do("accept")
    hand.show("812", 2.0)
    assert hand.phase == "held"


def test_the_vessel_set_back_after_a_start_goes_on_by_its_own_weight() -> None:
    """A jug stood there at the start; the vessel that was tared comes back as it was."""
    hand = judged()
    hand.do("accept")  # 500 g are in, and the vessel weighs 800 g with them
    hand.lift("650", 2.0)
    again = Hand(hand.journal, t=hand.t)
    again.display = hand.display
    again.show("350", 2.0)  # the jug
    assert again.phase == "held"
    assert again.journal[-1].body["cause"] == "scale at zero"
    again.lift("0.0", 1.5)
    again.lift("800", 2.5)
    assert again.journal[-1].kind == "resumed"
    assert again.phase != "held"
    again.pour("920")
    again.do("accept")
    assert again.journal[-1].body["net_g"] == "120"
    verified(again)


def test_a_vessel_that_was_just_set_down_is_looked_at_before_a_word_is_taken() -> None:
    """Held at zero, taken off, zeroed and set back: nobody can say at once that nothing came."""
    hand = judged()
    hand.tick(20.0)
    hand.show("0.0", 1.4)  # it slept, and woke with the full vessel as its zero
    assert hand.journal[-1].body["cause"] == "scale at zero"
    hand.lift("-800", 1.5)
    hand.show("0.0", 1.5)  # zeroed empty
    hand.lift("800", 0.2)  # and set back: not at rest yet
    assert hand.station.now.set_down
    assert "resume" not in hand.station.can()
    with pytest.raises(OperatorError) as refused:
        hand.do("resume")
    assert refused.value.code == "not-settled"
    hand.show("800", 2.5)
    hand.do("accept")
    assert hand.journal[-1].body["net_g"] == "500"
    verified(hand)
