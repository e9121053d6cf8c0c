"""Exact masses. Factors: NIST Handbook 44, Appendix C (from memory): lb = 0.45359237 kg exactly."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from weighd.domain import mass
from weighd.domain.mass import Unit


@pytest.mark.parametrize(
    ("value", "unit", "grams"),
    [
        ("1", Unit.LB, "453.59237"),
        ("1", Unit.OZ, "28.349523125"),
        ("16", Unit.OZ, "453.592370000"),
        ("645.2", Unit.OZ, "18291.11232025"),
        ("1.234", Unit.KG, "1234.000"),
        ("7000", Unit.GR, "453.59237"),
        ("1", Unit.OZT, "31.1034768"),
        ("5", Unit.CT, "1.0"),
        ("20", Unit.DWT, "31.1034768"),
        ("250", Unit.MG, "0.250"),
    ],
)
def test_units_convert_exactly(value: str, unit: Unit, grams: str) -> None:
    assert mass.to_grams(Decimal(value), unit) == Decimal(grams)


@given(st.decimals("-99999", "99999", places=3), st.sampled_from(list(Unit)))
def test_conversion_never_rounds(value: Decimal, unit: Unit) -> None:
    from fractions import Fraction

    assert Fraction(mass.to_grams(value, unit)) == Fraction(value) * Fraction(unit.grams)


@given(st.decimals("-99999", "99999", places=4))
def test_text_and_parse_are_inverse_and_plain(value: Decimal) -> None:
    written = mass.text(value)
    assert mass.parse(written) == value
    assert "E" not in written.upper()
    assert not (value == 0 and written.startswith("-"))


@pytest.mark.parametrize(
    "bad", ["", "NaN", "-inf", "12,5", "1e", "1e3", "1_000", " 1", "1 ", "+1", "\u0661", "twelve"]
)
def test_what_is_no_mass_is_refused(bad: str) -> None:
    with pytest.raises(ValueError, match="number"):
        mass.parse(bad)


@pytest.mark.parametrize(
    ("grams", "step", "expected"),
    [
        ("12.25", "0.1", "12.2"),
        ("12.35", "0.1", "12.4"),
        ("12.5", "5", "10"),
        ("17.5", "5", "20"),
        ("-0.04", "0.1", "0.0"),
        ("999.96", "0.05", "999.95"),
    ],
)
def test_rounding_to_an_interval(grams: str, step: str, expected: str) -> None:
    assert mass.text(mass.rounded(Decimal(grams), Decimal(step))) == expected


def test_a_step_of_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="above zero"):
        mass.rounded(Decimal(1), Decimal(0))
