"""Targets as people write them."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from weighd.domain.errors import OperatorError
from weighd.domain.limits import Limit
from weighd.domain.targets import AmountTarget, read_target, split_target

INGREDIENTS = ("cream", "salt", "milk-powder")
Ends = tuple[str | None, str | None]


@pytest.mark.parametrize(
    ("text", "of", "ends"),
    [
        ("fat=5", ("fat",), ("5", "5")),
        ("fat = 5,5 %", ("fat",), ("5.5", "5.5")),
        ("fat: at least 12", ("fat",), ("12", None)),
        ("fat≤12", ("fat",), (None, "12")),
        ("sugars.sucrose=at most 14", ("sugars.sucrose",), (None, "14")),
        ("total_solids=34..36", ("total_solids",), ("34", "36")),
        ("total_solids=34 % to 36 %", ("total_solids",), ("34", "36")),
        ("fat+msnf=20..22", ("fat", "msnf"), ("20", "22")),
        ("freezing_point=-2.4±0.1", ("freezing_point",), ("-2.5", "-2.3")),
        ("freezing_point=−2.4 °C +- 0.1", ("freezing_point",), ("-2.5", "-2.3")),
        ("freezing_point=-2.6..-2.4", ("freezing_point",), ("-2.6", "-2.4")),
        ("lactose_in_water<=9 g", ("lactose_in_water",), (None, "9")),
        ("density=0.55 kg/L", ("density",), ("0.55", "0.55")),
        ("salt=0.1", ("salt",), ("0.1", "0.1")),
    ],
)
def test_quantities(text: str, of: tuple[str, ...], ends: Ends) -> None:
    got = read_target(*split_target(text), INGREDIENTS)
    assert isinstance(got, Limit)
    assert got.of == of
    assert (got.least, got.most) == tuple(None if one is None else Decimal(one) for one in ends)


@pytest.mark.parametrize(
    ("text", "name", "ends"),
    [
        ("cream=200 g", "cream", ("200", "200")),
        ("cream<=0.2 kg", "cream", (None, "200")),
        ("milk-powder=at least 50 g", "milk-powder", ("50", None)),
        ("cream=100..200 g", "cream", ("100", "200")),
        ("salt=2 g", "salt", ("2", "2")),
        ("cream=5 %", "cream", ("120", "120")),
    ],
)
def test_amounts_of_ingredients(text: str, name: str, ends: Ends) -> None:
    got = read_target(*split_target(text), INGREDIENTS)
    assert isinstance(got, AmountTarget)
    assert got.ingredient == name
    assert got.in_grams(Decimal(2400)) == tuple(
        None if one is None else Decimal(one) for one in ends
    )


@pytest.mark.parametrize(
    ("text", "code", "said"),
    [
        ("fat", "bad-target", "no target"),
        ("fat=", "bad-target", "no target"),
        ("fat=NaN", "bad-target", "no target"),
        ("fat=1e3", "bad-target", "no target"),
        ("fat=inf", "bad-target", "no target"),
        ("fat=36..34", "bad-target", "36 is above 34"),
        ("fat=5±-1", "bad-target", "no width"),
        ("fat=5 g", "bad-target", "is in %"),
        ("freezing_point=-2 %", "bad-target", "is in °C"),
        ("fat+fat=5", "bad-target", "to itself"),
        ("fat+density=5", "unknown-quantity", "neither"),
        ("taste=5", "unknown-quantity", "neither a quantity nor an ingredient"),
        ("cream=200", "bad-target", "needs a unit"),
        ("cream=2 g..3 kg", "bad-target", "two units"),
        ("cream=200 %", "bad-target", "is no amount"),
        ("cream=2000000 g", "bad-target", "is no amount"),
        ("cream=-2 g", "bad-target", "is no amount"),
        ("cost=5", "unknown-quantity", "neither"),
    ],
)
def test_what_is_no_target_says_why(text: str, code: str, said: str) -> None:
    with pytest.raises(OperatorError) as told:
        read_target(*split_target(text), INGREDIENTS)
    assert told.value.code == code
    assert said in str(told.value)


@given(st.text(max_size=60))
def test_no_text_breaks_it(text: str) -> None:
    try:
        read_target(*split_target(text), INGREDIENTS)
    except OperatorError as error:
        assert error.code in ("bad-target", "unknown-quantity")
