"""Times on a record sheet that are by a clock in doubt."""

from __future__ import annotations

import json
from typing import Any

from tests.reports.test_sheet import words
from tests.station.scripted import Hand
from weighd.domain.verify import export
from weighd.main.outputs import checked, sheet
from weighd.reports.sheet_data import sheet_data
from weighd.station.inputs import ClockSet


def weighed(to: str) -> dict[str, Any]:
    """A batch whose clock is set in mid-batch; as it is where ``to`` is empty."""
    hand = Hand()
    hand.start()
    hand.show("312.4")
    hand.do("tare")
    hand.pour("812.4")
    hand.do("accept")
    hand.pour("932.4")
    if to:
        hand.take(ClockSet(hand.t, to))
    hand.do("accept")
    made: dict[str, Any] = json.loads(json.dumps(export("test", "test-0001", hand.journal)))
    return made


def test_they_are_marked_and_the_mark_is_explained_once() -> None:
    record = weighed("1970-01-01T00:01:40.000Z")
    data = sheet_data(record, checked(record))
    first, second = data["weighings"]
    assert not any("?" in str(one) for one in first["details"])
    assert "1970-01-01 00:01:40 ?" in second["details"]
    made, trouble = sheet(record)
    assert trouble is None
    text = words(made)
    assert text.count("Times marked with ? are by a clock that was in doubt (unset)") == 1


def test_where_no_clock_was_in_doubt_nothing_is_said_of_it() -> None:
    record = weighed("")
    assert "?" not in json.dumps(sheet_data(record, checked(record)))
