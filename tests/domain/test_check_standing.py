"""How long a check holds, and what follows where it does not."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from weighd.domain.check_standing import (
    Duty,
    Last,
    Outcome,
    Standing,
    Then,
    barred,
    duty_of,
    last_of_json,
    past_of,
    past_of_json,
    standing,
    with_acceptance,
)
from weighd.domain.moments import milliseconds
from weighd.domain.record import Entry

MORNING = "2026-11-26T08:00:00.000Z"
DAILY = Duty(every_h=None, new_day="03:00")


def last(outcome: Outcome = Outcome.PASS, at: str = MORNING) -> Last:
    return Last(7, "ab" * 32, at, outcome)


@pytest.mark.parametrize(
    ("duty", "at", "expected"),
    [
        (Duty(), "2026-11-26T08:00:00.000Z", Standing.GOOD),
        (Duty(), "2026-11-27T07:59:59.999Z", Standing.GOOD),
        (Duty(), "2026-11-27T08:00:00.000Z", Standing.OVERDUE),
        (Duty(every_h=Decimal("0.5")), "2026-11-26T08:30:00.000Z", Standing.OVERDUE),
        (DAILY, "2026-11-26T23:59:59.000Z", Standing.GOOD),
        (DAILY, "2026-11-27T02:59:59.999Z", Standing.GOOD),
        (DAILY, "2026-11-27T03:00:00.000Z", Standing.OVERDUE),
        (DAILY, "2026-11-25T08:00:00.000Z", Standing.GOOD),  # a clock set back
    ],
)
def test_until_when_a_check_holds(duty: Duty, at: str, expected: Standing) -> None:
    assert standing(last(), duty, at) is expected


def test_a_check_just_before_and_just_after_a_new_day() -> None:
    before, after = last(at="2026-11-26T02:59:59.000Z"), last(at="2026-11-26T03:00:00.000Z")
    assert standing(before, DAILY, "2026-11-26T03:00:00.000Z") is Standing.OVERDUE
    assert standing(after, DAILY, "2026-11-27T02:59:59.000Z") is Standing.GOOD


@given(
    st.integers(0, 20 * 366 * 24 * 3600),
    st.integers(0, 23),
    st.integers(0, 59),
)
def test_a_new_day_begins_as_the_calendar_of_the_library_says(
    second: int, hour: int, minute: int
) -> None:
    moment = datetime(2020, 1, 1, tzinfo=UTC) + timedelta(seconds=second)
    begins = moment.replace(hour=hour, minute=minute, second=0)
    if begins <= moment:
        begins += timedelta(days=1)
    at = moment.isoformat().replace("+00:00", "Z")
    due = Duty(every_h=None, new_day=f"{hour:02}:{minute:02}").due_ms(at)
    assert due - milliseconds(at) == (begins - moment).total_seconds() * 1000


def test_only_a_check_that_passed_is_a_good_one() -> None:
    assert standing(last(Outcome.FAIL), Duty(), MORNING) is Standing.FAILED
    assert standing(last(Outcome.TOO_CLOSE), Duty(), MORNING) is Standing.TOO_CLOSE
    assert standing(None, Duty(), MORNING) is Standing.NEVER


@pytest.mark.parametrize("stands", Standing)
def test_what_is_barred_and_what_is_not(stands: Standing) -> None:
    assert barred("bench", stands, Duty(Then.FLAGS)) is None
    error = barred("bench", stands, Duty(Then.BARS))
    if stands is Standing.GOOD:
        assert error is None
    else:
        assert error is not None
        assert error.code == "scale-not-checked"
        assert "Take the vessel off" in error.remedy


def test_what_an_acceptance_keeps() -> None:
    told = with_acceptance(last(), Duty(), MORNING)
    assert told["standing"] == "good"
    assert last_of_json(told["last"]) == last()
    never = with_acceptance(None, Duty(), MORNING)
    assert never == {"standing": "never checked", "last": None}


def test_a_duty_comes_back_from_a_record() -> None:
    for one in (Duty(), DAILY, Duty(Then.BARS, Decimal("12.5"))):
        assert duty_of(one.as_json()) == one
    with pytest.raises(ValueError, match="time of day"):
        duty_of({**DAILY.as_json(), "new_day_utc": "25:00"})


def entry(seq: int, scale: str, outcome: Outcome) -> Entry:
    return Entry(seq, "s", "scale checked", MORNING, {"scale": scale, "outcome": outcome}, "", "h")


def test_the_past_is_read_back_no_further_than_to_the_newest_good_one_of_each_scale() -> None:
    looked: list[int] = []

    def journal() -> Iterator[Entry]:
        for seq, scale, outcome in (
            (9, "a", Outcome.FAIL),
            (8, "other", Outcome.PASS),
            (7, "b", Outcome.PASS),
            (6, "a", Outcome.TOO_CLOSE),
            (5, "a", Outcome.PASS),
            (4, "a", Outcome.FAIL),
            (3, "b", Outcome.FAIL),
        ):
            looked.append(seq)
            yield entry(seq, scale, outcome)

    found = past_of(journal(), ("a", "b"))
    assert set(found) == {"a", "b"}
    assert found["a"].last and found["a"].good
    assert (found["a"].last.seq, found["a"].good.seq) == (9, 5)
    assert found["b"].last == found["b"].good
    assert looked == [9, 8, 7, 6, 5, 4]
    assert past_of_json(found["a"].as_json()) == found["a"]
    assert past_of([entry(1, "a", Outcome.FAIL)], ("a",))["a"].good is None
