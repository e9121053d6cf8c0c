"""A vessel that a wrong ingredient was taken out of, tared again: as it was, or by a word."""

from __future__ import annotations

from decimal import Decimal
from types import SimpleNamespace
from typing import Any

import pytest

from weighd.domain.errors import OperatorError, RecordError
from weighd.domain.metrology import Level
from weighd.domain.recovery_record import as_before, as_before_again

STOOD = "412.40"
#: 2 × √(0.03² + 0.04²) + 2 × 0.05: by k = 2 (GUM, JCGM 100:2008, 6.2.1), and two intervals.
ROOM = Decimal("0.20")


def level(grams: str | Decimal, u_g: str) -> Level:
    return Level(Decimal(grams), Decimal(u_g), Decimal(u_g), Decimal(0))


def batch(*, emptied: bool = True) -> Any:
    scales = {"bench": SimpleNamespace(interval_g=Decimal("0.05"))}
    return SimpleNamespace(
        emptied={"bench": level(STOOD, "0.03")} if emptied else {}, scales=scales
    )


def shown(off: str | Decimal) -> Level:
    return level(Decimal(STOOD) + Decimal(off), "0.04")


def entry(**body: Any) -> Any:
    return SimpleNamespace(body={"scale": "bench", **body}, seq=7, kind="tared")


@pytest.mark.parametrize("off", ["0", ROOM, -ROOM])
def test_within_what_two_readings_may_differ_it_is_the_same(off: str | Decimal) -> None:
    for confirmed in (False, True):
        told = as_before(batch(), "bench", shown(off), confirmed=confirmed)
        assert told == {"stood_g": STOOD}
    as_before_again(batch(), entry(stood_g=STOOD), shown(off))
    with pytest.raises(RecordError, match="no word of it"):
        as_before_again(batch(), entry(stood_g=STOOD, stood_confirmed=True), shown(off))


@pytest.mark.parametrize(
    ("off", "said"),
    [("0.21", "0.20 g heavier"), ("-0.21", "0.20 g lighter"), ("-12.32", "12.30 g lighter")],
)
def test_beyond_it_somebody_has_to_say_so(off: str, said: str) -> None:
    with pytest.raises(OperatorError, match=f"The vessel is {said} than it was") as refused:
        as_before(batch(), "bench", shown(off), confirmed=False)
    assert refused.value.code == "not-as-before"
    assert "press again" in refused.value.remedy
    told = as_before(batch(), "bench", shown(off), confirmed=True)
    assert told == {"stood_g": STOOD, "stood_confirmed": True}
    as_before_again(batch(), entry(**told), shown(off))
    with pytest.raises(RecordError, match="a word of whoever tared it all the same"):
        as_before_again(batch(), entry(stood_g=STOOD), shown(off))


def test_of_a_vessel_that_nothing_was_taken_out_of_nothing_is_said() -> None:
    assert as_before(batch(emptied=False), "bench", shown("50"), confirmed=False) == {}
    as_before_again(batch(emptied=False), entry(), shown("50"))
    with pytest.raises(RecordError, match="nothing to compare with") as found:
        as_before_again(batch(emptied=False), entry(stood_g=STOOD), shown("0"))
    assert "stood_g" in str(found.value)


def test_what_it_weighed_is_what_it_weighed() -> None:
    with pytest.raises(RecordError, match="stood_g"):
        as_before_again(batch(), entry(stood_g="412.45"), shown("0"))
