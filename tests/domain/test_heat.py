"""Heat taken out of a mix: published values, reference libraries, and laws that must hold."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from iapws import IAPWS95
from iapws._iapws import _Ice

from tests.domain.fluids import fluid
from tests.domain.mixes import OWN, SUCROSE, WATER, Mix, grams, made_of
from tests.domain.published import CHECKS, near
from weighd.domain.composition import compose
from weighd.domain.facts import Facts, checked
from weighd.domain.formula import Ingredient
from weighd.domain.heat import FUSION_BY_C, FUSION_KJ_KG, Heat, capacity_kj_k, heat
from weighd.domain.heat_parts import DRY, ICE, WATER_COLD, WATER_WARM, Bodies, Body, bodies

ATM_PA, ATM_MPA = 101325, 0.101325
KELVIN = 273.15


def body_of(mix: Mix) -> Body:
    both = of(mix)
    assert both.least == both.most
    return both.most


def of(mix: Mix) -> Bodies:
    return bodies(mix, compose(mix))


def taken(body: Body, from_c: object, to_c: object) -> Heat:
    found = heat(body, Decimal(str(from_c)), Decimal(str(to_c)))
    assert found is not None
    return found


OURS = body_of(OWN)


def test_our_own_mix_to_its_draw() -> None:
    name = "own_mix_heat_to_minus6"
    found, kg = taken(OURS, 5, -6), Decimal("2.4")
    near(name, found.cooling_kj / kg, "cool_to_fp_kJ_per_kg")
    near(name, found.freezing_kj / kg, "latent_kJ_per_kg")
    near(name, found.below_kj / kg, "sensible_below_fp_kJ_per_kg")
    near(name, found.total_kj, "total_kJ")
    near(name, found.ice_g, "ice_g")


def test_a_mix_takes_up_what_a_textbook_says_above_freezing() -> None:
    """Geankoplis, App. A.4-1: 3.27 kJ/(kg K) for ice cream of 58 to 66 % water."""
    near("ice_cream_mix_cp", capacity_kj_k(OURS, Decimal(0)) / Decimal("2.4"), "above_freezing")


def test_a_frozen_mix_takes_up_what_a_textbook_says_within_what_it_does_not_say() -> None:
    """1.88 kJ/(kg K) below freezing, from the same table, which does not say how cold or how much
    of the water is frozen: between half frozen and all of it, ours lies about there."""
    half = OURS.water_g / 2
    cold = Decimal(-15)
    most = capacity_kj_k(OURS, cold, half) / Decimal("2.4")
    least = capacity_kj_k(OURS, cold, OURS.water_g) / Decimal("2.4")
    assert float(least) < CHECKS["ice_cream_mix_cp"]["expected"]["below_freezing"] < float(most)


def polynomial(of: tuple[Decimal, Decimal, Decimal], at_c: float) -> float:
    return sum(float(one) * at_c**n for n, one in enumerate(of))


@pytest.mark.parametrize("part", ["fat", "protein", "carbohydrate", "ash"])
@pytest.mark.parametrize("at_c", [-20.0, -6.0, 0.0, 20.0, 38.0])
def test_heat_capacities_of_the_dry_parts_are_those_of_a_reference_library(
    part: str, at_c: float
) -> None:
    """CoolProp's incompressible foods have Choi & Okos too, with the slope of 1.4733 for fat."""
    name = f"INCOMP::Food{part.capitalize()}"
    wanted = fluid("C", "T", at_c + KELVIN, "P", ATM_PA, name) / 1000
    assert polynomial(DRY[part], at_c) == pytest.approx(wanted, abs=1e-6)


@pytest.mark.parametrize("at_c", [-15.0, 0.0, 5.0, 20.0])
def test_alcohol_takes_up_what_its_equation_of_state_says(at_c: float) -> None:
    wanted = fluid("C", "T", at_c + KELVIN, "P", ATM_PA, "Ethanol") / 1000
    assert polynomial(DRY["alcohol"], at_c) == pytest.approx(wanted, rel=0.025)


@pytest.mark.parametrize("at_c", [0.5, 5.0, 20.0, 40.0])
def test_water_takes_up_what_the_steam_tables_say(at_c: float) -> None:
    """Choi & Okos fit water to within 1 % of IAPWS-95."""
    wanted = IAPWS95(T=at_c + KELVIN, P=ATM_MPA).cp
    assert polynomial(WATER_WARM, at_c) == pytest.approx(wanted, rel=0.011)


def test_ice_takes_up_what_the_reference_equation_says() -> None:
    row = CHECKS["ice_cp"]
    for kelvin, wanted in zip(row["inputs"]["T_K"], row["expected"]["kJ_per_kgK"], strict=True):
        reference = _Ice(kelvin - (kelvin == KELVIN) * 1e-3, ATM_MPA)["cp"]
        assert reference == pytest.approx(wanted, abs=row["tolerance"]["abs"])
        assert polynomial(ICE, kelvin - KELVIN) == pytest.approx(wanted, rel=0.02)


def test_the_heat_of_fusion_is_that_of_the_reference_equations() -> None:
    water, ice = IAPWS95(T=273.1525, P=ATM_MPA), _Ice(273.1525, ATM_MPA)
    assert float(FUSION_KJ_KG) == pytest.approx(water.h - ice["h"], abs=0.02)
    near("water_hfus", FUSION_KJ_KG, "kJ_per_kg_iapws")
    # Kirchhoff: it falls by the difference of the heat capacities.
    assert float(FUSION_BY_C) == pytest.approx(water.cp - ice["cp"], abs=0.02)


@pytest.mark.filterwarnings("ignore:Using extrapolated values")
def test_an_independent_route_by_enthalpies() -> None:
    """Another way to the same figure: what the mix holds at 5 °C less what it holds at -6 °C, from
    IAPWS for water and ice and CoolProp for the rest. Only how much is ice is taken from ours."""
    assert OURS.solution is not None
    share = OURS.solution.frozen(Decimal(-6))
    assert share is not None
    water, ice = float(OURS.water_g) / 1000, float(OURS.water_g * share) / 1000
    warm, cold = IAPWS95(T=278.15, P=ATM_MPA), IAPWS95(T=267.15, P=ATM_MPA)
    out = water * warm.h - (water - ice) * cold.h - ice * _Ice(267.15, ATM_MPA)["h"]
    for part, mass in OURS.dry_g.items():
        if part == "alcohol":
            continue
        cp = fluid("C", "T", KELVIN - 0.5, "P", ATM_PA, f"INCOMP::Food{part.capitalize()}")
        out += float(mass) / 1000 * cp / 1000 * 11
    assert float(taken(OURS, 5, -6).total_kj) == pytest.approx(out, rel=0.01)


def test_pure_water_gives_off_its_heat_of_fusion_at_once() -> None:
    water = body_of(grams((WATER, 1000)))
    found = taken(water, 0, "-0.0001")
    assert float(found.freezing_kj) == pytest.approx(333.43, abs=0.001)
    assert float(taken(water, 10, 0).total_kj) == pytest.approx(41.95, rel=0.01)  # IAPWS-95: 41.9


TENTHS = st.integers(-120, 300).map(lambda n: Decimal(n) / 10)


@given(st.lists(TENTHS, min_size=3, max_size=3))
def test_heat_adds_up_over_stretches(stops: list[Decimal]) -> None:
    cold, middle, warm = sorted(stops)
    whole = taken(OURS, warm, cold)
    first, second = taken(OURS, warm, middle), taken(OURS, middle, cold)
    assert float(whole.total_kj - first.total_kj - second.total_kj) == pytest.approx(0, abs=1e-6)
    assert float(whole.ice_g - first.ice_g - second.ice_g) == pytest.approx(0, abs=1e-9)


@given(TENTHS, TENTHS, st.integers(1, 50))
def test_heat_grows_with_the_mass(one: Decimal, other: Decimal, times: int) -> None:
    cold, warm = sorted((one, other))
    larger = body_of([(each, mass * times) for each, mass in OWN])
    found, wanted = taken(larger, warm, cold), taken(OURS, warm, cold)
    assert float(found.total_kj) == pytest.approx(float(wanted.total_kj) * times, rel=1e-9)


def test_nothing_is_said_beyond_the_freezing_table() -> None:
    assert OURS.solution is not None and OURS.solution.end is not None
    end = OURS.solution.end[0]
    assert heat(OURS, Decimal(5), end + Decimal("0.01")) is not None
    assert heat(OURS, Decimal(5), end - Decimal("0.01")) is None
    syrup = body_of(grams((SUCROSE, 900), (WATER, 100)))
    assert heat(syrup, Decimal(5), Decimal(-1)) is None


def test_only_colder_is_colder() -> None:
    with pytest.raises(ValueError, match="not colder"):
        heat(OURS, Decimal(-6), Decimal(5))


def test_what_has_no_water_only_cools() -> None:
    fat = body_of(grams((made_of("fat", fat=100), 1000)))
    found = taken(fat, 20, 0)
    assert found.freezing_kj == found.below_kj == found.ice_g == 0
    assert float(found.total_kj) == pytest.approx(20 * 1.999, rel=0.001)


def test_what_is_missing_makes_a_range_with_the_truth_in_it() -> None:
    cream = made_of("cream", fat=35, msnf=6, water=59)
    assert cream.facts is not None
    sure = {"fat": 35, "alcohol": 0, "salt": 0, "stabiliser": 0, "whey_solids": 0}
    only_fat = Facts(tuple((key, Decimal(value)) for key, value in sure.items()), ())
    vague = replace(cream, facts=checked(only_fat))
    rest = grams((SUCROSE, 150), (WATER, 500))
    true = taken(body_of([(cream, Decimal(350)), *rest]), 5, -4).total_kj
    both = of([(vague, Decimal(350)), *rest])
    assert not both.recalled
    low, high = taken(both.least, 5, -4).total_kj, taken(both.most, 5, -4).total_kj
    assert low < true < high
    assert taken(both.least, 5, -4).ice_g < taken(both.most, 5, -4).ice_g


def test_nothing_known_is_anything_from_ash_to_water() -> None:
    unknown = Ingredient("thing", "Thing")
    both = of([(unknown, Decimal(100)), *grams((WATER, 900), (SUCROSE, 100))])
    assert both.least.dry_g["ash"] == 100
    assert both.most.water_g == 1000


def test_protein_that_is_stated_is_not_replaced_by_a_share() -> None:
    stated = made_of("powder", msnf=97, water=3, protein=36, ash=8, lactose=52)
    both = of([(stated, Decimal(100)), *grams((WATER, 900))])
    assert not both.recalled
    assert both.most.dry_g["protein"] == 36
    assert of(grams((made_of("skim", msnf=97, water=3), 100), (WATER, 900))).recalled


@pytest.mark.filterwarnings("ignore:Using extrapolated values")
@pytest.mark.parametrize("at_c", [-2.0, -6.0, -10.0])
def test_water_that_is_not_frozen_takes_up_what_the_steam_tables_carry_on(at_c: float) -> None:
    """IAPWS-95 carried on below zero; the fit of Choi & Okos is up to 3.5 % lower there."""
    wanted = IAPWS95(T=at_c + KELVIN, P=ATM_MPA).cp
    assert polynomial(WATER_COLD, at_c) == pytest.approx(wanted, rel=0.035)


def test_what_water_does_that_is_not_known_to_freeze_is_not_told() -> None:
    """Water with something dissolved of which nothing is known: no heat rather than a guess."""
    body = replace(OURS, solution=None)
    assert body.water_g > 0
    assert heat(body, Decimal(5), Decimal(-6)) is None
