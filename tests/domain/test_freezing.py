"""The freezing curve as a curve: it falls, can be turned around, and ends with the table."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.domain.mixes import EXAMPLE_13, SALT, SUCROSE, WATER, grams, made_of
from weighd.domain.composition import compose
from weighd.domain.freezing import LAST_G, Solution, freezing, sucrose_depression

amounts = st.integers(0, 18000).map(lambda n: Decimal(n) / 100)
terms = st.integers(0, 100).map(lambda n: Decimal(n) / 100)
solutions = st.builds(Solution, amounts, terms, terms, terms)
shares = st.integers(0, 999).map(lambda n: Decimal(n) / 1000)


@given(amounts, amounts)
def test_more_sugar_freezes_lower(one: Decimal, other: Decimal) -> None:
    less, more = sorted((one, other))
    assert (sucrose_depression(less) or 0) <= (sucrose_depression(more) or 0)


@given(solutions, shares, shares)
def test_more_ice_leaves_a_lower_freezing_point(
    one: Solution, some: Decimal, other: Decimal
) -> None:
    less, more = one.depression(min(some, other)), one.depression(max(some, other))
    if more is not None:
        assert less is not None
        assert less <= more


@given(solutions, shares)
def test_the_ice_at_the_temperature_of_some_ice_is_that_ice(one: Solution, share: Decimal) -> None:
    depression = one.depression(share)
    if depression and (one.sucrose_g or one.straight_c):
        back = one.frozen(-depression)
        assert back is not None
        assert abs(back - share) < Decimal("1e-20")


@given(solutions)
def test_the_end_is_the_last_that_is_told(one: Solution) -> None:
    if one.end is None:
        return
    at_c, share = one.end
    assert one.frozen(at_c - Decimal("0.01")) is None
    told = one.frozen(at_c + Decimal("0.0001"))
    assert told is not None
    assert told <= share


def test_beyond_the_table_nothing_is_said() -> None:
    syrup = Solution(LAST_G + 1)
    assert (syrup.depression(), syrup.frozen(Decimal(-20)), syrup.end) == (None, None, None)
    frozen = freezing(compose(EXAMPLE_13)).thin
    assert frozen is not None
    assert frozen.frozen(Decimal(-18)) is None
    assert frozen.end is not None
    assert Decimal("0.794") < frozen.end[1] < Decimal("0.795")


def test_nor_beyond_where_salt_and_alcohol_are_in_proportion() -> None:
    brine = freezing(compose(grams((SALT, 3), (WATER, 97)))).thin
    drink = freezing(compose(grams((made_of("rum", alcohol=40, water=60), 100)))).thin
    assert brine is not None
    assert drink is not None
    assert brine.frozen(Decimal(-3)) is not None
    assert brine.frozen(Decimal(-4)) is None
    assert drink.depression() is None


def test_above_its_freezing_point_there_is_no_ice_and_pure_water_is_all_ice_below() -> None:
    water = freezing(compose(grams((WATER, 1)))).thin
    assert water is not None
    assert (water.depression(), water.frozen(Decimal(0)), water.frozen(Decimal(-1))) == (0, 0, 1)
    syrup = freezing(compose(grams((SUCROSE, 20), (WATER, 80)))).thin
    assert syrup is not None
    assert [syrup.frozen(Decimal(one)) for one in (5, 0, -1)] == [0, 0, 0]


def test_what_has_no_water_does_not_freeze() -> None:
    dry = freezing(compose(grams((SUCROSE, 1))))
    assert (dry.thin, dry.thick) == (None, None)


@pytest.mark.parametrize("share", ["-0.1", "1", "2"])
def test_no_such_share_of_ice(share: str) -> None:
    with pytest.raises(ValueError, match="share of water"):
        Solution(Decimal(40)).depression(Decimal(share))
    with pytest.raises(ValueError, match="not an amount"):
        sucrose_depression(Decimal(-1))
