"""What a check shows: against published permissible errors, and as properties."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.domain.check_world import CLASS_III, KITCHEN, terms, weight
from weighd.domain.check import (
    Part,
    Place,
    Placement,
    Plan,
    doubts,
    nearest_to_a_third,
    range_found,
    together,
    weight_found,
    zero_found,
)
from weighd.domain.check_record import Read, conclude
from weighd.domain.check_standing import Outcome
from weighd.domain.metrology import Level, Rule, level
from weighd.domain.weights import Weight, WeightClass

SIMPLE = Rule("simple")


def shows(grams: Decimal | str | int, d: str = "1") -> Level:
    return level([Decimal(grams)] * 5, Decimal(d))


@pytest.mark.parametrize(
    ("load", "limit"),
    [
        # OIML R 76-1:2006, Table 6, class III with e = 1 g: 0.5 e up to 500 e, 1 e up to 2000 e,
        # 1.5 e above; in service twice that (3.5.2). Both second-hand.
        (0, "1"),
        (500, "1"),
        (501, "2"),
        (2000, "2"),
        (2001, "3"),
        (6000, "3"),
    ],
)
def test_the_limits_of_a_class_are_the_errors_permitted_in_service(load: int, limit: str) -> None:
    assert terms(CLASS_III, None).limit(Decimal(load)) == Decimal(limit)


@pytest.mark.parametrize(
    ("load", "error", "outcome"),
    [
        (500, 0, Outcome.PASS),
        (500, 1, Outcome.PASS),
        (500, 2, Outcome.FAIL),
        (2000, 2, Outcome.PASS),
        (2000, -2, Outcome.PASS),
        (2000, 3, Outcome.FAIL),
        (2000, -3, Outcome.FAIL),
        (5000, 3, Outcome.PASS),
        (5000, 4, Outcome.FAIL),
    ],
)
def test_at_the_steps_of_the_class_without_a_guard_band(
    load: int, error: int, outcome: Outcome
) -> None:
    """As an inspector judges (R 76-1, Table 6 and 3.5.2, class III, e = 1 g, in service)."""
    held = terms(CLASS_III, None, SIMPLE)
    found = weight_found(shows(0), shows(load + error), weight(load), held)
    assert (found.off_g, found.outcome) == (Decimal(error), outcome)


def test_the_zero_drops_out_of_the_error_of_a_weight() -> None:
    """Ec = E - E0 (OIML R 76-1:2006, A.4.4.3: second-hand)."""
    found = weight_found(shows("0.3", "0.1"), shows("2000.5", "0.1"), weight(2000), terms())
    assert found.off_g == Decimal("0.2")


def test_the_budget_of_an_error() -> None:
    """d / sqrt(12) for each reading (GUM F.2.2.1), the weight as a rectangle (4.3.7)."""
    found = weight_found(shows(0), shows(2000), weight(2000), terms(CLASS_III, None))
    assert found.budget == {"rounding": "0.408248", "spread": "0.000000", "weight": "0.057735"}
    assert float(found.u_g) == pytest.approx((1 / 6 + 0.01 / 3) ** 0.5, abs=2e-6)
    assert found.guard_g == 2 * found.u_g


def test_a_certificate_counts_with_its_own_mass() -> None:
    known = Weight("K", Decimal(2000), Decimal("2000.2"), stated_u_g=Decimal("0.01"))
    found = weight_found(shows(0, "0.1"), shows("2000.2", "0.1"), known, terms())
    assert found.off_g == 0


def test_an_empty_scale_is_held_to_the_limit_of_no_load() -> None:
    assert zero_found(shows("0.4", "0.1"), terms()).outcome is Outcome.PASS
    assert zero_found(shows("0.5", "0.1"), terms()).outcome is Outcome.TOO_CLOSE
    assert zero_found(shows("-0.6", "0.1"), terms()).outcome is Outcome.FAIL


def test_repeatability_is_the_largest_less_the_smallest() -> None:
    """OIML R 76-1:2006, 3.6.1 (second-hand); the weight drops out of the difference."""
    nets = [Decimal(one) for one in ("2000.1", "2000.0", "2000.3", "2000.1", "2000.0")]
    budgets = [{"rounding": "0.04", "spread": "0.03", "weight": "9"}] * 5
    found = range_found(nets, budgets, weight(2000), terms())
    assert found.off_g == Decimal("0.3")
    assert found.u_g == Decimal("0.070711")  # sqrt(2) times 0.05
    assert found.outcome is Outcome.PASS
    wide = range_found([*nets, Decimal("2000.7")], [*budgets, budgets[0]], weight(2000), terms())
    assert wide.outcome is Outcome.FAIL


def test_the_whole_of_a_check() -> None:
    kilo = weight(1000)

    def read(part: Part, net: str, place: Place = Place.CENTRE) -> Read:
        loaded = None if part is Part.ZERO else shows(net, "0.1")
        placed = Placement(1, part, None if loaded is None else kilo, place)
        return Read(placed, shows("0.0", "0.1"), loaded)

    corners = [
        read(Part.CORNER, net, place)
        for net, place in zip(("1000.0", "1000.1", "999.8", "1000.0", "1000.2"), Place, strict=True)
    ]
    repeats = [read(Part.REPEAT, net) for net in ("1000.0", "1000.1", "1000.1")]
    found = conclude([read(Part.ZERO, "0"), *corners, *repeats], terms())
    assert found.outcome is Outcome.PASS
    assert found.corners == {"most_from_centre_g": "0.2"}
    assert found.repeatability is not None
    assert found.repeatability["n"] == 3
    assert found.repeatability["range_g"] == "0.1"
    # Standard deviation of 0, 0.1, 0.1: sqrt(0.02/3/2) (GUM 4.2.2).
    assert found.repeatability["s_g"] == "0.057735"
    bad = conclude([*corners, read(Part.CORNER, "1001", Place.FRONT_LEFT)], terms())
    assert bad.outcome is Outcome.FAIL
    assert bad.repeatability is None


def test_one_doubt_is_no_pass_and_one_failure_is_a_failure() -> None:
    assert together([Outcome.PASS, Outcome.PASS]) is Outcome.PASS
    assert together([Outcome.PASS, Outcome.TOO_CLOSE]) is Outcome.TOO_CLOSE
    assert together([Outcome.TOO_CLOSE, Outcome.FAIL, Outcome.PASS]) is Outcome.FAIL


tenths = st.integers(-200_000, 200_000).map(lambda n: Decimal(n) / 10)


@given(
    error=st.integers(-300, 300).map(lambda n: Decimal(n) / 10),
    zero=st.integers(-5, 5).map(lambda n: Decimal(n) / 10),
    nominal=st.sampled_from([100, 500, 2000, 5000]),
    limit=st.integers(1, 200).map(lambda n: Decimal(n) / 10),
    by_class=st.sampled_from(list(WeightClass)),
    k=st.sampled_from(["0.5", "1", "2", "3"]),
    simple=st.booleans(),
)
def test_within_by_more_than_the_guard_never_fails_and_beyond_never_passes(
    error: Decimal,
    zero: Decimal,
    nominal: int,
    limit: Decimal,
    by_class: WeightClass,
    k: str,
    simple: bool,
) -> None:
    rule = SIMPLE if simple else Rule("guarded", Decimal(k))
    held = terms(KITCHEN, str(limit), rule)
    on = weight(nominal, by_class)
    found = weight_found(shows(zero, "0.1"), shows(zero + nominal + error, "0.1"), on, held)
    assert found.off_g == error
    if abs(error) > limit:
        assert found.outcome is not Outcome.PASS
    if abs(error) > limit + found.guard_g:
        assert found.outcome is Outcome.FAIL
    if abs(error) <= limit - found.guard_g:
        assert found.outcome is Outcome.PASS
    if abs(error) <= limit:
        assert found.outcome is not Outcome.FAIL
    if simple:
        assert found.outcome is (Outcome.PASS if abs(error) <= limit else Outcome.FAIL)


@given(
    errors=st.lists(st.integers(-30, 30), min_size=2, max_size=12),
    limit=st.integers(1, 50).map(lambda n: Decimal(n) / 10),
)
def test_a_range_beyond_the_limit_never_passes(errors: list[int], limit: Decimal) -> None:
    nets = [Decimal(2000) + Decimal(one) / 10 for one in errors]
    budgets = [{"rounding": "0.040825", "spread": "0.000000"}] * len(nets)
    found = range_found(nets, budgets, weight(2000), terms(KITCHEN, str(limit)))
    assert found.off_g == max(nets) - min(nets) >= 0
    if found.off_g > limit:
        assert found.outcome is not Outcome.PASS
    if found.off_g <= limit - found.guard_g:
        assert found.outcome is Outcome.PASS


def test_the_weight_for_corners_is_about_a_third_of_max() -> None:
    """OIML R 76-1:2006, 3.6.2 (second-hand)."""
    masses = [weight(500), weight(2000), weight(5000)]
    assert nearest_to_a_third(masses, Decimal(6000)).nominal_g == 2000
    assert nearest_to_a_third(masses, None).nominal_g == 5000


def test_what_a_plan_has_one_do() -> None:
    two = weight(2000)
    plan = Plan(masses=(weight(500), two), corners=two, repeat=two, repeat_n=3)
    todo = [(one.part, one.weight and one.weight.name, one.place) for one in plan.placements]
    assert [one.n for one in plan.placements] == list(range(1, 12))
    assert todo[:3] == [
        (Part.ZERO, None, Place.CENTRE),
        (Part.MASS, "500 g", Place.CENTRE),
        (Part.MASS, "2000 g", Place.CENTRE),
    ]
    assert [place for part, _, place in todo if part is Part.CORNER] == list(Place)
    assert [part for part, _, _ in todo].count(Part.REPEAT) == 3
    assert [one.name for one in plan.weights] == ["500 g", "2000 g"]


def test_doubts_about_weights_and_limits() -> None:
    """A weight known to a third of the limit (R 76-1, 3.7.1); a limit that leaves an interval."""
    fine = Plan(masses=(weight(2000),))
    assert doubts(fine, terms(KITCHEN, "0.5")) == []
    (coarse,) = doubts(Plan(masses=(weight(2000, WeightClass.M2),)), terms(KITCHEN, "0.8"))
    assert "may itself be off by 0.3 g" in coarse and "0.8 g" in coarse
    told = doubts(fine, terms(KITCHEN, "0.1"))
    assert len(told) == 2
    assert "shows no difference at all" in told[1]
    assert doubts(fine, terms(KITCHEN, "0.3", SIMPLE)) == []
    repeated = Plan(repeat=weight(500), repeat_n=5)
    assert "500 g" in doubts(repeated, terms(CLASS_III, None))[0]
    assert doubts(repeated, terms(CLASS_III, None, SIMPLE)) == []


def test_a_stated_repeatability_counts_in_what_a_check_knows() -> None:
    """Root sum square of what is stated and of twice the rounding (GUM 5.1.2)."""
    plain = terms(CLASS_III, None)
    loaded = shows(500)
    accuracy = replace(plain.scale.accuracy, repeatability_g=Decimal("0.4"))
    stated = replace(plain, scale=replace(plain.scale, accuracy=accuracy))
    nominal = weight(500)
    without = weight_found(shows(0), loaded, nominal, plain)
    found = weight_found(shows(0), loaded, nominal, stated)
    assert "repeatability" not in without.budget
    assert Decimal(found.budget["repeatability"]) == Decimal("0.4")
    assert float(found.u_g) ** 2 == pytest.approx(float(without.u_g) ** 2 + 0.16, rel=1e-3)
