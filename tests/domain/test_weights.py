"""Check weights against OIML R 111-1:2004, Table 1."""

from __future__ import annotations

import math
from decimal import Decimal

import pytest

from weighd.domain.weights import Weight, WeightClass, weight_of

#: Table 1 in milligrams, as a public transcription has it (E1 to M3 up to 200 g; E2 to M2 beyond);
#: class M3 from 500 g and E1 from 500 g from memory.
ROWS = """
1     0.010 0.03 0.10 0.3 1.0 3.0 10
2     0.012 0.04 0.12 0.4 1.2 4.0 12
5     0.016 0.05 0.16 0.5 1.6 5.0 16
10    0.020 0.06 0.20 0.6 2.0 6.0 20
20    0.025 0.08 0.25 0.8 2.5 8.0 25
50    0.03 0.10 0.3 1.0 3.0 10 30
100   0.05 0.16 0.5 1.6 5.0 16 50
200   0.10 0.3 1.0 3.0 10 30 100
500   0.25 0.8 2.5 8.0 25 80 250
1000  0.5 1.6 5.0 16 50 160 500
2000  1.0 3.0 10 30 100 300 1000
5000  2.5 8.0 25 80 250 800 2500
"""


@pytest.mark.parametrize("row", ROWS.strip().splitlines())
def test_the_errors_of_table_1(row: str) -> None:
    nominal, *errors = row.split()
    assert len(errors) == len(WeightClass)
    for by_class, mg in zip(WeightClass, errors, strict=True):
        assert by_class.error_g(Decimal(nominal)) == Decimal(mg) / 1000


def test_the_table_says_nothing_of_weights_that_it_does_not_have() -> None:
    assert WeightClass.M1.error_g(Decimal(300)) is None
    assert WeightClass.M3.error_g(Decimal("0.5")) is None  # M3 begins at 1 g (Table 1)
    assert WeightClass.M1.error_g(Decimal("1E+3")) == Decimal("0.05")  # however it is written


@pytest.mark.parametrize("by_class", WeightClass)
def test_a_coarser_class_permits_more_and_a_heavier_weight_no_less(by_class: WeightClass) -> None:
    nominals = [Decimal(row.split()[0]) for row in ROWS.strip().splitlines()]
    errors = [by_class.error_g(one) for one in nominals]
    assert errors == sorted(errors)  # type: ignore[type-var]
    coarser = list(WeightClass)[list(WeightClass).index(by_class) + 1 :]
    for other in coarser:
        assert all(other.error_g(one) > by_class.error_g(one) for one in nominals)  # type: ignore[operator]


def test_what_is_stated_of_a_weight_gives_its_uncertainty() -> None:
    """A rectangle of the permitted error (GUM 4.3.7); a certificate's own figure as it stands."""
    m1 = Weight("K", Decimal(2000), Decimal(2000), WeightClass.M1)
    assert m1.most_off_g == Decimal("0.1")
    assert float(m1.u_g) == pytest.approx(0.1 / math.sqrt(3), abs=1e-6)
    stated = Weight("K", Decimal(300), Decimal(300), error_g=Decimal("0.6"))
    assert float(stated.u_g) == pytest.approx(0.6 / math.sqrt(3), abs=1e-6)
    certified = Weight("K", Decimal(2000), Decimal("2000.013"), stated_u_g=Decimal("0.004"))
    assert certified.u_g == Decimal("0.004")
    assert certified.most_off_g == Decimal("0.008")
    for one in (m1, stated, certified):
        assert weight_of(one.as_json()) == one


def test_a_weight_may_be_off_by_a_third_of_the_error_it_is_to_show() -> None:
    """OIML R 76-1:2006, 3.7.1 (second-hand)."""
    m1 = Weight("K", Decimal(2000), Decimal(2000), WeightClass.M1)
    assert m1.good_enough(Decimal("0.3"))
    assert not m1.good_enough(Decimal("0.29"))


def test_a_record_with_a_class_that_no_such_weight_has_is_refused() -> None:
    body = Weight("K", Decimal(2000), Decimal(2000), WeightClass.M1).as_json()
    with pytest.raises(ValueError, match="no weight of 300"):
        weight_of({**body, "nominal_g": "300"})
