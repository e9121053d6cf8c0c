"""A record of which much was put right."""

from __future__ import annotations

import json
from typing import Any

from tests.station.scripted import Hand
from tests.station.test_corrections import accepted, correct
from tests.station.test_lots import split
from weighd.domain.verify import export


def put_right() -> dict[str, Any]:
    """A batch of which much was put right: a lot of two, twice, a reason, names; and one not."""
    hand = Hand()
    first, second = split(hand)
    third = 'L"3\\é'
    n = accepted(hand)
    hand.pour("935.4")
    hand.do("accept", reason="it pours so")
    hand.pour("937.4")
    hand.do("accept")
    for field, old, new in (
        ("lot 2", second, third),
        ("operator", "Tester", "Cleo"),
        ("lot 1", first, second),
        ("lot 1", second, ""),
    ):
        correct(hand, n, field, old, new)
    correct(hand, accepted(hand, 2), "reason", "it pours so", "the spout drips")
    correct(hand, 1, "operator", "Tester", "Dora")
    document = export("test", "test-0001", [one for one in hand.journal if "batch" in one.body])
    found: dict[str, Any] = json.loads(json.dumps(document))
    return found
