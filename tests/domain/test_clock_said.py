"""What entries say of a clock in doubt, and that it can be neither left out nor put in."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from weighd.domain.clock_said import LONG_DAYS, MOST_DAYS, RELEASED, ClockVerifier, Doubt, Wall
from weighd.domain.errors import RecordError
from weighd.domain.record import NOTHING_BEFORE, Entry

NOON = "2026-11-25T12:00:00.000Z"


def entry(seq: int, at: str, told: object = None) -> Entry:
    body: dict[str, Any] = {} if told is None else {"clock": told}
    return Entry(seq, "test", "of a kind", at, body, NOTHING_BEFORE, NOTHING_BEFORE)


def written(times: Sequence[str]) -> list[Entry]:
    """Entries as a station writes them at such times."""
    wall, out = Wall(), list[Entry]()
    for seq, at in enumerate(times, start=1):
        out.append(entry(seq, at, wall.said(at)))
        wall = Wall.after(out[-1])
    return out


def check(entries: Sequence[Entry], *, whole: bool = True) -> int:
    verifier = ClockVerifier(whole=whole)
    for one in entries:
        verifier.take(one)
    return verifier.doubted


def after(days: float, since: str = NOON) -> str:
    moment = datetime.fromisoformat(since) + timedelta(days=days)
    return moment.isoformat(timespec="milliseconds").replace("+00:00", "Z")


@pytest.mark.parametrize(
    ("wall", "at", "told"),
    [
        (Wall(), NOON, None),
        (Wall(), RELEASED, None),
        (Wall(), "1970-01-01T00:00:03.000Z", {"is": "unset"}),
        (Wall(NOON), "1970-01-01T00:00:03.000Z", {"is": "unset", "newest": NOON}),
        (Wall(NOON), NOON, None),
        (Wall(NOON), "2026-11-25T11:59:59.999Z", {"is": "behind", "newest": NOON}),
        (Wall(NOON), "2026-11-25T11:00:00.000Z", {"is": "behind", "newest": NOON}),
        (Wall(NOON), after(MOST_DAYS), None),
        (
            Wall(NOON),
            after(MOST_DAYS + 1),
            {"is": "ahead", "newest": NOON, "since": after(MOST_DAYS + 1)},
        ),
        (
            Wall(NOON, after(5000)),
            after(5001),
            {"is": "ahead", "newest": NOON, "since": after(5000)},
        ),
        (Wall(NOON, after(5000)), after(5000 + LONG_DAYS), None),
        (Wall(NOON, after(5000)), after(1), None),
    ],
)
def test_what_is_said(wall: Wall, at: str, told: Mapping[str, str] | None) -> None:
    assert wall.said(at) == told


def test_a_clock_far_ahead_for_one_entry_puts_nothing_after_it_in_doubt() -> None:
    entries = written([NOON, after(5000), after(0.1), after(0.2)])
    assert [bool(one.body) for one in entries] == [False, True, False, False]
    assert check(entries) == 1


def test_a_station_that_slept_for_years_is_believed_after_a_while() -> None:
    entries = written([NOON, *(after(1000 + day) for day in range(0, 60, 10))])
    assert ["clock" in one.body for one in entries] == [
        False,
        True,
        True,
        True,
        False,
        False,
        False,
    ]
    assert check(entries) == 3


MOMENTS = st.one_of(
    st.datetimes(datetime(2026, 11, 1), datetime(2026, 11, 30)),  # noqa: DTZ001
    st.datetimes(datetime(1970, 1, 1), datetime(2099, 12, 31)),  # noqa: DTZ001
).map(lambda one: one.replace(tzinfo=UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z"))


@given(st.lists(MOMENTS, min_size=1, max_size=12), st.data())
def test_what_stations_write_holds_whole_and_in_part(times: list[str], data: st.DataObject) -> None:
    entries = written(times)
    doubted = [one for one in entries if one.body]
    assert check(entries) == len(doubted)
    # Nothing in doubt is ever the newest, and order without doubt is order in time.
    sure = [one.at for one in entries if not one.body]
    assert sure == sorted(sure)
    part = [one for one in entries if data.draw(st.booleans())]
    assert check(part, whole=False) == sum(bool(one.body) for one in part)
    # From the first that says it on, none can leave it out, put it in or say another.
    if not doubted:
        return
    n = data.draw(st.integers(entries.index(doubted[0]) + 1, len(entries))) - 1
    one = entries[n]
    others: list[object] = [None, *({"is": how.value, "newest": NOON} for how in Doubt), "late", 7]
    other = data.draw(st.sampled_from([it for it in others if it != one.body.get("clock")]))
    changed = [*entries[:n], entry(one.seq, one.at, other), *entries[n + 1 :]]
    if other is None and doubted[0] is one:
        return  # up to here it may be a record from before entries said it
    with pytest.raises(RecordError) as caught:
        check(changed)
    assert caught.value.code == "does-not-follow"


def test_a_journal_from_before_is_taken_as_it_is() -> None:
    times = [NOON, after(-0.1), after(5000), "1970-01-01T00:00:00.000Z", after(0.1)]
    assert check([entry(seq, at) for seq, at in enumerate(times, start=1)]) == 0
    # ... and goes on with entries that say it.
    wall = Wall.after(entry(5, times[-1]))
    assert check([*map(entry, range(1, 6), times), entry(6, NOON, wall.said(NOON))]) == 1


def test_in_a_batch_alone_it_is_held_against_what_is_there() -> None:
    entries = written([NOON, after(0.5), after(0.1), after(0.6)])
    assert check([entries[0], *entries[2:]], whole=False) == 1
    for told in (
        {"is": "behind", "newest": after(-0.2)},  # older than an entry before
        {"is": "behind", "newest": after(0.05)},  # it is not behind that
        {"is": "unset", "newest": after(0.5)},
        {"is": "ahead", "newest": after(0.5), "since": after(0.1)},
    ):
        with pytest.raises(RecordError):
            check([entries[0], replace(entries[2], body={"clock": told})], whole=False)
    with pytest.raises(RecordError, match="the entry says in no doubt"):
        check([*entries[:3], entry(4, after(0.2))], whole=False)
