"""What is asked of a station by hand: shared by the tests of moved zeros."""

from __future__ import annotations

from typing import Any

import pytest

from tests.station.scripted import Hand, LineDecoder
from weighd.domain.errors import OperatorError
from weighd.domain.verify import Verifier
from weighd.station.picture import Picture


def tared() -> Hand:
    """The vessel is tared at 312.4 g; 500 g of milk are to go in."""
    hand = Hand()
    hand.start()
    hand.show("312.4")
    hand.do("tare")
    return hand


def live(hand: Hand) -> dict[str, Any]:
    shown: dict[str, Any] = Picture(hand.station).state()["live"]
    return shown


def body(hand: Hand, kind: str) -> dict[str, Any]:
    found = [one for one in hand.journal if one.kind == kind]
    assert found, hand.kinds()
    return dict(found[-1].body)


def verified(hand: Hand) -> int:
    verifier = Verifier(whole=True, reread=lambda _spec: LineDecoder())
    for entry in hand.journal:
        verifier.take(entry)
    return verifier.finish().weighings


def refused(hand: Hand, do: str, **given: object) -> str:
    with pytest.raises(OperatorError) as caught:
        hand.do(do, **given)
    return caught.value.code


def press_key(hand: Hand, seconds: float = 2.0) -> None:
    """The scale's own tare key: its display stands at zero from the next reading on."""
    hand.show("0.0", seconds)


def sleep(hand: Hand, seconds: float, to: str = "0.0") -> None:
    """Off by itself, and on again with ``to`` on its display."""
    hand.tick(seconds)
    hand.show(to)


def accepted(hand: Hand) -> str:
    """Accept what stands there: its net as recorded, in a record that holds."""
    hand.do("accept")
    assert verified(hand) == 1
    return str(body(hand, "addition accepted")["net_g"])
