"""A session by hand, traced: an over-pour taken out of, a silence, a lift, an overload."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from tests.station.scripted import Hand, LineDecoder, formula
from weighd.domain.errors import OperatorError
from weighd.reports.trace import Trace
from weighd.reports.tracing import Tracer
from weighd.station.inputs import Input, Tick
from weighd.station.replay import replay
from weighd.station.session import Header

HEADER = Header(
    {"bench": {"driver": "test", "max_g": "6000", "interval_g": "0.1"}},
    "poured over, and put right",
    "test",
    version="0",
)


class KeepingHand(Hand):
    """A hand whose inputs are kept, to be replayed."""

    def take(self, event: Any) -> Any:
        self.__dict__.setdefault("inputs", []).append(replace(event, t=self.t))
        return super().take(event)

    @property
    def kept(self) -> list[Input]:
        return [one for one in self.__dict__["inputs"] if not isinstance(one, Tick)]


def weighed() -> KeepingHand:
    """Milk poured over and taken out of, with a silence; sugar with the vessel lifted and then the
    scale's own key pressed; salt with an overload, and abandoned."""
    hand = KeepingHand()
    hand.start()
    hand.show("312.4")
    hand.do("tare")
    hand.pour("600", settle=0)
    hand.tick(3)
    hand.pour("832.4")
    with pytest.raises(OperatorError, match="allowed"):
        hand.do("accept")
    hand.do("take out")
    hand.pour("812.4", "2")
    hand.do("accept")
    hand.pour("900", settle=1)
    hand.pour("0.0", "300")
    hand.pour("900.0", "300")
    hand.show("0.0", 2)
    hand.pour("32.4", "5")
    hand.do("accept")
    for _ in range(5):
        hand.raw(b"OVER\n")
    hand.show("32.4", 2)
    hand.do("abandon", reason="the salt is damp")
    return hand


def trace(hand: KeepingHand | None = None) -> Trace:
    """What a tracer makes of it."""
    hand = hand or weighed()
    tracer = Tracer("by-hand.jsonl", HEADER.note)
    entries = replay(
        HEADER,
        hand.kept,
        lambda _settings: LineDecoder(),
        lambda given: given or formula().content(),
        tracer.refused,
        tracer,
    )
    assert [one.hash for one in entries] == [one.hash for one in hand.journal]
    return tracer.finish(hand.t)
