"""A station whose scale is checked, and hands that check it."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from tests.domain.check_world import weight
from tests.station.scripted import Hand
from weighd.domain.check import Plan
from weighd.domain.check_routine import Routine
from weighd.domain.check_standing import Duty, Then
from weighd.domain.errors import OperatorError
from weighd.domain.record import Entry
from weighd.domain.verify import Verifier
from weighd.station.check_picture import draw_check
from weighd.storage.memory import MemoryJournal

TWO = weight(2000)
PLAN = Plan(masses=(TWO,), limit_g=Decimal("0.5"))
FLAGS = Routine(PLAN, Duty(Then.FLAGS))
BARS = Routine(PLAN, Duty(Then.BARS))


def put(hand: Hand, grams: str = "2000.0") -> None:
    """The weight on, and off again."""
    hand.lift(grams)
    hand.lift("0.0")


def check(hand: Hand, shows: str = "2000.0", **given: Any) -> Entry:
    """A whole check, the scale showing so much under the weight."""
    hand.do("start check", scale="bench", by="Ada", **given)
    hand.show("0.0")
    put(hand, shows)
    assert hand.kinds()[-1] == "scale checked"
    return hand.journal[-1]


def weigh(hand: Hand, *, start: bool = True) -> Entry:
    """The first addition of a batch, accepted."""
    if start:
        hand.start()
    hand.lift("300.0")
    hand.do("tare")
    hand.pour("800.0")
    hand.do("accept")
    return hand.journal[-1]


def poured(to: str) -> Hand:
    """An addition poured up to ``to`` into a vessel of 300 g, on a scale that had passed."""
    hand = Hand(check=BARS)
    hand.show("0.0")
    check(hand)
    hand.start()
    hand.lift("300.0")
    hand.do("tare")
    hand.pour(to)
    return hand


def refused(hand: Hand, do: str, **given: Any) -> str:
    with pytest.raises(OperatorError) as caught:
        hand.do(do, **given)
    assert caught.value.message and caught.value.remedy
    return caught.value.code


def drawn(hand: Hand) -> dict[str, Any]:
    told = draw_check(hand.station, "bench")
    assert told is not None
    return told


def verified(journal: list[Entry]) -> Any:
    verifier = Verifier(whole=True)
    for entry in journal:
        verifier.take(entry)
    return verifier.finish()


def kept(hand: Hand) -> MemoryJournal:
    journal = MemoryJournal("test")
    journal.append(hand.journal)
    return journal
