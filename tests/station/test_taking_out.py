"""Taking some out, pressed at a bad moment."""

from __future__ import annotations

import pytest

from tests.station.scripted import Hand
from weighd.domain.errors import OperatorError


def test_take_out_pressed_while_the_display_wavers_is_not_held_again_at_once() -> None:
    hand = Hand()
    hand.start()
    hand.show("250")
    hand.do("tare")
    hand.pour("820.0")
    assert hand.phase == "held"
    hand.raw(b"820.4\n")  # a draught, in the moment of the press
    assert hand.station.now.claim is None
    hand.do("take out")
    hand.show("820.0", 5)
    assert (hand.phase, hand.kinds()[2:]) == ("settling", ["held", "decided"])
    hand.pour("752.0", "4")
    assert hand.phase == "judged"


def test_what_cannot_be_taken_out_after_all_is_kept_with_a_reason() -> None:
    hand = Hand()
    hand.start()
    hand.show("250")
    hand.do("tare")
    hand.pour("820.0")
    hand.do("take out")
    hand.show("820.0", 3)
    assert hand.station.can()[0] == "accept with reason"
    with pytest.raises(OperatorError) as caught:
        hand.do("accept")
    assert (caught.value.code, hand.phase) == ("needs-reason", "held")
    hand.do("take out")
    hand.show("820.0", 1)
    hand.do("accept", reason="it is stirred in already")
    assert hand.journal[-1].body["verdict"] == "over"
