"""When a fall in mid-pour looks like the scale's own key: each rule from both sides."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

import pytest

from weighd.domain.keyed_pouring import APART_S, fell_to_zero, grows_on
from weighd.domain.mass import Unit
from weighd.domain.reading import Reading

D, ROOM = Decimal("0.1"), Decimal("0.15")


def rows(*shown: str, every_s: float = 0.1) -> list[Reading]:
    return [
        Reading(n * every_s, Decimal(one), Unit.G, shown=Decimal(one))
        for n, one in enumerate(shown)
    ]


def fell(*shown: str, every_s: float = 0.1) -> bool:
    *before, newest = rows(*shown, every_s=every_s)
    return fell_to_zero(before, newest, D, ROOM)


POUR = ("10", "14", "18", "22")


@pytest.mark.parametrize(
    ("shown", "is_key"),
    [
        ((*POUR, "0"), True),
        ((*POUR, "-0.15"), True),
        ((*POUR, "-0.16"), False),
        ((*POUR, "6.15"), True),  # one and a half steps of the pour, and how far zero wanders
        ((*POUR, "6.16"), False),
        (("14", "18", "22", "0"), True),
        (("18", "22", "0"), False),  # two readings are no pour
        (("22", "22", "22", "22", "0"), False),  # at rest: the detector's to tell
        (("22", "22.05", "22.15", "22.15", "0"), False),  # and that wandered
        (("22", "22.05", "22.15", "22.16", "0"), True),
        (("10", "14", "22", "20", "0"), False),  # it fell before: a hand
        (("2", "4", "6", "8.0", "3.9"), False),  # not to zero
        (("0", "11", "11", "22", "0"), False),  # no more than two of its steps: a lump, taken out
        (("0", "10.9", "11.1", "22", "0"), True),
        (("0.1", "0.3", "0.5", "0.8", "0"), False),  # eight intervals, and no more
        (("0.1", "0.3", "0.5", "0.9", "0"), True),
    ],
)
def test_a_fall_in_mid_pour(shown: Sequence[str], is_key: bool) -> None:
    assert fell(*shown) is is_key


def test_of_a_scale_that_reports_seldom_nothing_can_be_told() -> None:
    assert fell(*POUR, "0", every_s=APART_S - 0.01)
    assert not fell(*POUR, "0", every_s=APART_S + 0.01)


def test_what_is_longer_ago_than_a_second_is_no_part_of_the_pour() -> None:
    early = ("30", "10", *POUR)  # it fell at first: a hand
    assert not fell(*early, "0", every_s=0.2)
    assert fell(*early, "0", every_s=0.3)


@pytest.mark.parametrize(
    ("after", "on"),
    [
        (("1", "5", "9", "13"), True),
        (("1", "13", "13.1", "37"), True),  # it gurgles: three times as much, taken together
        (("1", "13", "13.1", "37.1"), False),
        (("1", "2.3", "3.6", "5"), True),  # a third of it
        (("1", "2.3", "3.6", "4.9"), False),
        (("0", "0", "0.1", "0"), False),  # an empty pan
        (("1", "150", "312", "312"), False),  # a vessel set down
        (("1", "5", "9", "3"), False),
    ],
)
def test_a_stream_that_grows_on(after: Sequence[str], on: bool) -> None:
    assert grows_on(rows(*POUR), rows(*after), ROOM) is on


def test_where_nothing_grew_nothing_grows_on() -> None:
    assert not grows_on(rows("22", "22", "22", "22"), rows("0", "0", "0", "0"), ROOM)
    assert not grows_on(rows("22", "21", "20", "19"), rows("1", "2", "3", "4"), ROOM)


@pytest.mark.parametrize(("after", "on"), [(("0", "2"), True), (("0", "1.9"), False)])
def test_a_stream_is_held_to_its_last_three_displays(after: Sequence[str], on: bool) -> None:
    """4 g a reading, then 8: six of late, of which a third is two."""
    assert grows_on(rows("10", "14", "18", "26"), rows(*after), ROOM) is on


def test_out_of_a_vessel_that_is_poured_from_all_is_upside_down() -> None:
    poured = rows("-10", "-14", "-18", "-22")
    assert grows_on(poured, rows("-1", "-5", "-9"), ROOM)
    assert not grows_on(poured, rows("1", "5", "9"), ROOM)
