"""Vessels of known mass: whether it is this one, and whether the scale still holds the batch."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import ufloat

from weighd.domain.accuracy import Accuracy, AccuracyClass
from weighd.domain.batch import Planned, Scale
from weighd.domain.headroom import fills, most_g
from weighd.domain.metrology import level
from weighd.domain.plan_words import Into, Role
from weighd.domain.steps import Step
from weighd.domain.vessels import Vessel, beside, far_off, gross, vessel_of, which, why_none

D = Decimal
STEEL = Vessel("steel bowl", D("812.4"), D("0.06"))
GLASS = Vessel("glass bowl", D("1033.0"), D("0.06"), D("1.5"))


def grams(text: str) -> st.SearchStrategy[D]:
    low, high = (float(one) for one in text.split())
    return st.floats(low, high).map(lambda one: D(f"{one:.4f}"))


@pytest.mark.filterwarnings("ignore:Using UFloat objects with std_dev==0")
@given(
    d=st.sampled_from([D("0.01"), D("0.1"), D(1), D(5)]),
    shown=grams("100 5000"),
    stored=grams("100 5000"),
    u=grams("0 2"),
    repeats=grams("0 2"),
    error=grams("0 5"),
    contents=grams("0 900"),
    u_in=grams("0 3"),
)
def test_the_uncertainty_of_the_difference_is_that_of_uncertainties(
    d: D, shown: D, stored: D, u: D, repeats: D, error: D, contents: D, u_in: D
) -> None:
    """Against the package ``uncertainties`` (linear propagation, as GUM 5.1.2)."""
    display = level([shown] * 4, d)
    stated = Accuracy(repeatability_g=repeats, max_error_g=error)
    inside = replace(display, grams=contents, u_g=u_in, rounding_g=D(0), spread_g=u_in)
    fit = beside(Vessel("it", stored, u), gross(display, d, stated), inside)
    rounding = float(d) / math.sqrt(12)
    net = (
        ufloat(float(shown), rounding)
        - ufloat(0, rounding)
        + ufloat(0, float(repeats))
        + ufloat(0, float(error) / math.sqrt(3))
        - ufloat(float(contents), float(u_in))
        - ufloat(float(stored), float(u))
    )
    assert float(fit.differs_g) == pytest.approx(net.nominal_value, abs=1e-9)
    assert float(fit.limit_g) == pytest.approx(2 * net.std_dev, abs=1e-5)


def test_a_worked_example() -> None:
    """A budget by hand: a display in steps of 0.1 g, a vessel known to 0.06 g.

    u = sqrt(2 * 0.1^2 / 12 + 0.06^2) = sqrt(0.0016667 + 0.0036) = 0.0726 g; twice that is 0.145 g.
    """
    stands = gross(level([D("812.5")] * 4, D("0.1")), D("0.1"), Accuracy())
    fit = beside(STEEL, stands)
    assert (fit.differs_g, float(fit.limit_g)) == (D("0.1"), pytest.approx(0.1452, abs=1e-4))
    assert fit.fits
    off = beside(STEEL, gross(level([D("812.6")] * 4, D("0.1")), D("0.1"), Accuracy()))
    assert not off.fits


def test_an_allowance_is_for_a_wet_bowl() -> None:
    stands = gross(level([D("1034.4")] * 4, D("0.1")), D("0.1"), Accuracy())
    assert beside(GLASS, stands).fits
    assert not beside(replace(GLASS, allow_g=D(0)), stands).fits


def test_an_accuracy_class_counts_at_the_gross() -> None:
    """Class III, e = 1 g, 2500 g: 1.5 e, twice that in service (OIML R 76-1, Table 6 and 3.5.2)."""
    stated = Accuracy(by_class=AccuracyClass.III, e_g=D(1))
    stands = gross(level([D(2500)] * 4, D(1)), D(1), stated)
    assert float(stands.u_g) == pytest.approx(
        math.hypot(math.sqrt(2 / 12), 3 / math.sqrt(3)), abs=1e-5
    )


def test_the_nearest_is_named_first_and_no_other_is() -> None:
    near = Vessel("nearly steel", D("812.6"), D("0.1"))
    stands = gross(level([D("812.4")] * 4, D("0.1")), D("0.1"), Accuracy())
    assert [one.vessel.name for one in which([near, GLASS, STEEL], stands)] == [
        "steel bowl",
        "nearly steel",
    ]


def test_what_is_no_vessel_is_told() -> None:
    assert why_none(STEEL) == ""
    for wrong in (
        replace(STEEL, name=" "),
        replace(STEEL, name="x" * 41),
        replace(STEEL, name="a\nb"),
        replace(STEEL, mass_g=D(0)),
        replace(STEEL, mass_g=D(2_000_000)),
        replace(STEEL, u_g=D(900)),
        replace(STEEL, allow_g=D(900)),
    ):
        assert why_none(wrong)
    assert vessel_of(GLASS.as_json()) == GLASS
    masses = dict.fromkeys(("mass_g", "u_g", "allow_g"), "1")
    for body in ({}, {"name": 3, **masses}, {**GLASS.as_json(), "mass_g": "x"}):
        with pytest.raises(ValueError, match=r"."):
            vessel_of(body)


# --- room -----------------------------------------------------------------------------------------

BENCH = Scale("bench", "test", D("0.1"), D(6000))


def planned(n: int, target: str, **more: object) -> Planned:
    aim = D(target)
    given = {"scale": "bench", **more}
    return Planned(n, f"i{n}", f"I{n}", aim, aim - 5, aim + 5, "5 g", **given)  # type: ignore[arg-type]


def test_a_margin_is_kept_below_max() -> None:
    assert most_g(BENCH) == D(5970)  # half a hundredth of Max
    assert most_g(replace(BENCH, interval_g=D(5))) == D(5900)  # 20 intervals
    assert most_g(replace(BENCH, max_g=None)) is None


def test_the_first_that_does_not_fit_is_named() -> None:
    batch = [planned(1, "3000"), planned(2, "2000"), planned(3, "500")]
    assert fills(batch, BENCH, D(400)) is None
    full = fills(batch, BENCH, D(500))
    assert full is not None
    assert (full.n, full.ends_g, full.beyond) == (3, D(6005), False)
    heavier = fills(batch, BENCH, D(1200))
    assert heavier is not None
    assert (heavier.n, heavier.ends_g, heavier.beyond) == (2, D(6205), True)


def test_a_vessel_that_is_poured_from_gets_lighter() -> None:
    assert fills([planned(1, "5000", by_difference=True)], BENCH, D(5900)) is None
    mixed = [planned(1, "3000"), planned(2, "100", by_difference=True), planned(3, "5000")]
    full = fills(mixed, BENCH, D(500))
    assert full is not None
    assert (full.n, full.ends_g) == (3, D(8605))  # what left it is in the bowl, which comes back


def test_dishes_of_a_plan_fill_the_bowl_they_are_tipped_into() -> None:
    """A plan on two scales: a dish is tipped into the bowl, a premix is not by itself."""

    def step(into: Into, vessel: int) -> Step:
        role = Role.PREMIX if into is Into.PREMIX else Role.WHOLE
        return Step(1, into, vessel, role, 1, 1, 0, D(1), D(1), D(1))

    def plan_of(dish: Into) -> list[Planned]:
        return [
            planned(1, "3000", step=step(Into.BOWL, 0)),
            planned(2, "400", scale="fine", step=step(dish, 1)),
            planned(3, "2000", step=step(Into.BOWL, 0)),
        ]

    full = fills(plan_of(Into.DISH), BENCH, D(600))
    assert full is not None
    assert (full.n, full.ends_g) == (3, D(6005))
    assert fills(plan_of(Into.PREMIX), BENCH, D(600)) is None
    # On the dish's own scale only the dish counts.
    fine = replace(BENCH, name="fine", max_g=D(500))
    assert fills(plan_of(Into.DISH)[1:], fine, D(60)) is None
    assert fills(plan_of(Into.DISH)[1:], fine, D(100)) is not None


def test_a_record_with_what_is_no_vessel_is_refused_in_its_words() -> None:
    wrong = {**GLASS.as_json(), "mass_g": "0"}
    with pytest.raises(ValueError, match=re.escape(why_none(replace(GLASS, mass_g=D(0))))):
        vessel_of(wrong)


def test_what_is_lighter_than_the_vessel_alone_is_told_apart() -> None:
    fine = gross(level([D("811.9")] * 4, D("0.1")), D("0.1"), Accuracy())
    assert beside(STEEL, fine).too_light
    assert not beside(
        STEEL, gross(level([D("812.4")] * 4, D("0.1")), D("0.1"), Accuracy())
    ).too_light
    heavy = beside(STEEL, gross(level([D("900.0")] * 4, D("0.1")), D("0.1"), Accuracy()))
    assert not heavy.fits
    assert not heavy.too_light  # there may be something in it


@given(grams("0 3000"), grams("0 600"), grams("0 2"), grams("0 2"))
def test_what_is_far_off_never_fits(shown: D, contents: D, u: D, u_in: D) -> None:
    """It errs on one side alone: a sum of parts is no less than their root sum square."""
    stands = replace(level([shown] * 4, D("0.1")), u_g=u)
    inside = replace(stands, grams=contents, u_g=u_in)
    vessel = Vessel("it", D("812.4"), D("0.06"), D("0.5"))
    if far_off(vessel, stands, inside):
        assert not beside(vessel, stands, inside).fits


def test_far_off_begins_where_the_sum_of_all_that_is_uncertain_ends() -> None:
    """2 * (0.1 + 0.06 + 0.04) + 0.5 = 0.9 g."""
    vessel = Vessel("it", D("800"), D("0.06"), D("0.5"))
    inside = replace(level([D(100)] * 4, D("0.1")), u_g=D("0.04"))
    for shown, far in (("900.9", False), ("900.91", True), ("899.1", False), ("899.09", True)):
        stands = replace(level([D(shown)] * 4, D("0.01")), grams=D(shown), u_g=D("0.1"))
        assert far_off(vessel, stands, inside) is far
