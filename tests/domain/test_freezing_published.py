"""Freezing, and the factors behind it, against published values."""

from __future__ import annotations

import math
from decimal import Decimal

import pytest

from tests.domain.mixes import (
    EXAMPLE_13,
    OWN,
    SALT,
    WATER,
    grams,
    made_of,
)
from tests.domain.published import CHECKS, ROOT, near, percent, solution
from weighd.domain.composition import compose
from weighd.domain.contents import (
    CRYOSCOPIC,
    LACTOSE_OF_MSNF,
    MILK_SALTS,
)
from weighd.domain.freezing import LAST_G, freezing, sucrose_depression
from weighd.domain.limits import Standing, judged, read_limits
from weighd.domain.sugars import KINDS

# --- factors -------------------------------------------------------------------------------------


def test_sweetness_factors() -> None:
    for name, row in CHECKS.items():
        if not name.startswith("sweetness_"):
            continue
        kind = KINDS[name.removeprefix("sweetness_").removesuffix("_sugar")]
        wanted = str(row["expected"]["relative_sweetness"]).split("-")
        assert (float(kind.sweetness.low), float(kind.sweetness.high)) == (
            float(wanted[0]),
            float(wanted[-1]),
        ), kind.id


@pytest.mark.parametrize(
    ("kind", "check"),
    [
        ("glucose", "dextrose/fructose/galactose (anhydrous)"),
        ("fructose", "dextrose/fructose/galactose (anhydrous)"),
        ("galactose", "dextrose/fructose/galactose (anhydrous)"),
        ("lactose", "lactose/maltose/trehalose"),
        ("maltose", "lactose/maltose/trehalose"),
        ("trehalose", "lactose/maltose/trehalose"),
        ("xylitol", "xylitol"),
        ("erythritol", "erythritol"),
    ],
)
def test_freezing_factors_are_ratios_of_molar_masses(kind: str, check: str) -> None:
    near(f"freezing_factor_{check}", KINDS[kind].freezing.low, "factor_vs_sucrose")


def test_freezing_factors_of_syrups_are_the_books() -> None:
    for de in (10, 36, 42):
        row = CHECKS[f"freezing_factor_glucose_syrup_solids_{de}DE"]["expected"]
        assert float(KINDS[f"glucose-syrup-{de}de"].freezing.low) == row["factor_book"]


def test_the_salts_of_milk_are_where_leighton_has_them() -> None:
    near("lactose_fraction_of_msnf", LACTOSE_OF_MSNF, "fraction")
    near("salts_constant_derivation", MILK_SALTS, "constant")
    row = CHECKS["leighton_lactose_share_milk"]
    lactose, water = row["inputs"]["lactose_pct"], row["inputs"]["water_pct"]
    molal = lactose / row["inputs"]["M"] / water * 1000
    near("leighton_lactose_share_milk", row["inputs"]["Kf"] * molal, "fpd_C")
    # His milk whole: -0.55 °C, by our sums, within the table's own error at so little sugar.
    milk = made_of("milk", fat="3.9", msnf="8.99", water="87.11")
    assert float(solution(grams((milk, 1))).depression() or 0) == pytest.approx(0.55, abs=0.03)


# --- freezing ------------------------------------------------------------------------------------


def test_the_table_of_sucrose_is_the_published_one() -> None:
    row = CHECKS["fpd_sucrose_table_6_1"]
    got = [sucrose_depression(Decimal(one)) for one in row["inputs"]["g_per_100g_water"]]
    near("fpd_sucrose_table_6_1", got, "fpd_C")
    assert sucrose_depression(Decimal(0)) == 0
    assert sucrose_depression(LAST_G + Decimal("0.001")) is None


def test_example_13() -> None:
    mix = compose(EXAMPLE_13)
    assert percent(mix, "sucrose_equivalent") == Decimal("22.18")
    one = solution(EXAMPLE_13)
    near("fpd_example_13", one.sucrose_g, "g_sucrose_per_100g_water")
    near("fpd_example_13", sucrose_depression(one.sucrose_g), "fpd_se_C")
    near("fpd_example_13", one.milk_c, "fpd_salts_C")
    near("fpd_example_13", -(one.depression() or 0), "freezing_point_C")


def test_the_freezing_curve_of_example_14() -> None:
    row = CHECKS["freezing_curve_table_6_2"]
    one = solution(EXAMPLE_13)
    shares = [Decimal(each) / 100 for each in row["inputs"]["pct_water_frozen"]]
    near("freezing_curve_table_6_2", [one.depression(each) for each in shares], "fpd_total_C")
    # The book's next row lies beyond its own table of sucrose: nothing is said of it.
    assert one.depression(Decimal("0.8")) is None


@pytest.mark.parametrize("at", [-5, -6, -10])
def test_the_ice_of_example_13(at: int) -> None:
    near(f"water_frozen_ex13_at_{at}C", solution(EXAMPLE_13).frozen(Decimal(at)), "fraction_frozen")


def test_our_own_mix_freezes() -> None:
    one = solution(OWN)
    near("own_mix_freezing_point", one.sucrose_g, "g_per_100g_water")
    near("own_mix_freezing_point", one.milk_c, "fpd_milk_salts")
    near("own_mix_freezing_point", one.salt_c, "fpd_added_salt")
    near("own_mix_freezing_point", -(one.depression() or 0), "freezing_point_C")
    row = CHECKS["own_mix_frozen_fraction"]
    shares = [one.frozen(Decimal(each)) for each in row["inputs"]["T_C"]]
    near("own_mix_frozen_fraction", [each and each * 100 for each in shares], "pct_water_frozen")


def test_salt_freezes_as_the_cryoscope_is_set_by() -> None:
    one = solution(grams((SALT, "6.731"), (WATER, 1000)))
    near("nacl_cryoscope_standard", -(one.depression() or 0), "freezing_point_C")


def test_alcohol_freezes_as_handbooks_have_it() -> None:
    row = CHECKS["lange_ethanol"]
    got = []
    for mass in row["inputs"]["mass_pct"]:
        drink = made_of("drink", alcohol=mass, water=Decimal(100) - Decimal(str(mass)))
        got.append(Decimal(solution(grams((drink, 1))).alcohol_c))
    near("lange_ethanol", got, "fpd_C")


def test_glycerol_too_and_nearer_than_as_sucrose() -> None:
    row = CHECKS["lange_glycerol"]
    for mass, wanted in zip(row["inputs"]["mass_pct"], row["expected"]["fpd_C"], strict=True):
        water = 100 - Decimal(mass)
        one = solution(grams((made_of("glycerol", {"glycerol": mass}, water=water), 1)))
        ours = float(one.depression() or 0)
        assert ours == pytest.approx(wanted, abs=row["tolerance"]["abs"])
        factor = CHECKS["freezing_factor_glycerol"]["expected"]["factor_vs_sucrose"]
        as_sucrose = sucrose_depression(Decimal(str(factor)) * mass / water * 100)
        assert abs(ours - wanted) < abs(float(as_sucrose or 0) - wanted)


def active(grams_sucrose: float) -> float:
    """An independent route: °C below zero by the activity of water.

    Norrish, ln a = ln x - K s² with K = 6.47 (equation: Baeza et al. 2010; K from memory), and ice
    in balance with it: d ln a / dT = (6009.5 + 38.1 t) / (R T²) (from memory).
    """
    moles, water = grams_sucrose / 342.30, 100 / 18.015
    share = moles / (moles + water)
    wanted = math.log(1 - share) - 6.47 * share**2
    kelvin, reached, step = 273.15, 0.0, 0.0005
    while reached > wanted:
        middle = kelvin - step / 2
        reached -= step * (6009.5 + 38.1 * (middle - 273.15)) / (8.314462 * middle**2)
        kelvin -= step
    return 273.15 - kelvin


@pytest.mark.parametrize("grams_sucrose", [30, 60, 90])
def test_the_table_agrees_with_an_activity_model_where_real_mixes_are(grams_sucrose: int) -> None:
    near(f"sucrose_activity_model_{grams_sucrose}g", active(grams_sucrose), "fpd_C")
    table = float(sucrose_depression(Decimal(grams_sucrose)) or 0)
    assert table == pytest.approx(active(grams_sucrose), rel=0.05)
    # And the plain cryoscopic constant does not: it may never be used for a mix.
    plain = float(CRYOSCOPIC) * grams_sucrose / 342.30 * 10
    assert plain < 0.93 * active(grams_sucrose)


@pytest.mark.parametrize("name", [one for one in CHECKS if one.startswith("crc_sucrose")])
def test_the_table_is_near_to_the_handbook(name: str) -> None:
    """CRC Handbook, concentrative properties of sucrose: from memory. The table is a bit low."""
    row = CHECKS[name]
    share = row["inputs"]["mass_pct"]
    got = sucrose_depression(Decimal(share) / (100 - share) * 100)
    assert float(got or 0) == pytest.approx(row["expected"]["fpd_C"], abs=0.08)


@pytest.mark.parametrize(("grams_in_100_ml", "density"), [(7, 1.0251), (10, 1.0369)])
def test_hortvet_degrees_are_no_degrees_celsius(grams_in_100_ml: int, density: float) -> None:
    """Densities of the solutions at 20 °C: from memory."""
    row = CHECKS[f"sucrose_{grams_in_100_ml}g_per_100mL"]
    water = density * 100 - grams_in_100_ml
    model = active(grams_in_100_ml / water * 100)
    near(row["name"], -model, "freezing_point_C")
    assert abs(model + row["inputs"]["degree_Hortvet"]) > row["tolerance"]["abs"]
    table = float(sucrose_depression(Decimal(grams_in_100_ml / water * 100)) or 0)
    assert table == pytest.approx(-row["expected"]["freezing_point_C"], abs=0.04)


# --- limits --------------------------------------------------------------------------------------


def sandiness(fat: float, msnf: float, sugars: float, solids: float) -> Standing:
    rest = Decimal(str(solids)) - sum(
        (Decimal(str(one)) for one in (fat, msnf, sugars)), Decimal(0)
    )
    mix = made_of(
        "mix",
        {"sucrose": sugars},
        fat=fat,
        msnf=msnf,
        other_solids=rest,
        water=100 - Decimal(str(solids)),
    )
    kinds = read_limits((ROOT / "weighd/data/limits.toml").read_text("utf-8"), "limits.toml")
    composed = compose(grams((mix, 1000)))
    (found,) = judged(kinds, "", composed, freezing(composed))
    return found.standing


def test_the_limit_of_lactose_lies_between_mixes_that_were_made() -> None:
    """The mix that USDA made to be sandy is over it, none of the usual ones of Guelph is."""
    sandy = CHECKS["zoller_williams_sandy"]["inputs"]["pct"]
    solids = sandy["fat"] + sandy["msnf"] + sandy["sucrose"]
    assert sandiness(sandy["fat"], sandy["msnf"], sandy["sucrose"], solids) is Standing.OUTSIDE
    usual = CHECKS["guelph_mixes_by_fat"]["inputs"]
    rows = zip(
        *(usual[key] for key in ("fat", "msnf", "sucrose", "css", "total_solids")), strict=True
    )
    for fat, msnf, sucrose, css, total in rows:
        assert sandiness(fat, msnf, sucrose + css, total) is Standing.INSIDE, fat


def test_legal_densities() -> None:
    wanted = CHECKS["legal_density_us"]["expected"]["kg_per_L"]
    text = (ROOT / "weighd/data/limits.toml").read_text("utf-8")
    kinds = read_limits(text, "limits.toml")
    limits = [*kinds["ice-cream-us"].limits, *kinds["sherbet-us"].limits]
    got = [float(one.least or 0) for one in limits if one.of[0] in ("density", "solids_per_litre")]
    assert got == pytest.approx(wanted, abs=5e-5)
