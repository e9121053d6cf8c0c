"""Time between two moments of a record, against the standard library."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from weighd.domain.moments import seconds_between

moments = st.datetimes(datetime(1, 1, 1), datetime(9999, 1, 1)).map(  # noqa: DTZ001 - UTC is put on
    lambda one: one.replace(tzinfo=UTC, microsecond=one.microsecond // 1000 * 1000)
)


def written(moment: datetime) -> str:
    return moment.isoformat(timespec="milliseconds").replace("+00:00", "Z")


@given(moments, moments)
def test_seconds_between(one: datetime, other: datetime) -> None:
    assert seconds_between(written(one), written(other)) == (other - one).total_seconds() // 1


def test_without_and_with_fractions() -> None:
    assert seconds_between("2026-11-25T09:00:00Z", "2026-11-25T09:30:00.999Z") == 1800
    assert seconds_between("2026-02-28T23:59:59.500Z", "2026-03-01T00:00:00.500Z") == 1


@pytest.mark.parametrize(
    "wrong", ["", "today", "2026-11-25", "2026-11-25T09:00:00+01:00", "2026-13-25T09:00:00Z"]
)
def test_what_is_no_moment(wrong: str) -> None:
    with pytest.raises(ValueError, match="moment"):
        seconds_between(wrong, "2026-11-25T09:00:00Z")
