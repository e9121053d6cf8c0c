"""Compositions and freezing against published values; sources stand in the fixture."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

import pytest

from tests.domain.mixes import (
    OWN,
    SKIM_POWDER,
    STABILISER,
    SUCROSE,
    WATER,
    Mix,
    dairy,
    grams,
    made_of,
)
from tests.domain.published import CHECKS, ROOT, near, percent
from weighd.domain.composition import compose
from weighd.domain.formula_text import read_ingredients
from weighd.main.shipped import read_shipped_table

# --- composition ---------------------------------------------------------------------------------


def guelph_1() -> Mix:
    butter = made_of("butter", fat=80, milk_fat=80, msnf="1.8", water="18.2")
    kg = CHECKS["guelph_problem_1_butter_smp_water"]["expected"]
    return grams(
        (butter, kg["butter_kg"]),
        (SKIM_POWDER, kg["smp_kg"]),
        (SUCROSE, kg["sucrose_kg"]),
        (STABILISER, kg["stabiliser_kg"]),
        (WATER, kg["water_kg"]),
    )


def guelph_3() -> Mix:
    kg = CHECKS["guelph_problem_3_algebraic_full"]["expected"]
    return grams(
        (SKIM_POWDER, kg["smp_kg"]),
        (dairy("milk", "3.5"), kg["milk_kg"]),
        (dairy("cream", 30), kg["cream_kg"]),
        (SUCROSE, 15),
        (STABILISER, "0.4"),
        (made_of("yolk", other_solids=100), 1),
    )


def guelph_4() -> Mix:
    kg = CHECKS["guelph_problem_4_sweetened_condensed_skim"]["expected"]
    condensed = made_of("condensed", {"sucrose": 40}, msnf=28, water=32)
    return grams(
        (condensed, kg["condensed_kg"]),
        (SUCROSE, kg["sucrose_kg"]),
        (STABILISER, kg["stabiliser_kg"]),
        (dairy("cream", 32), kg["cream_kg"]),
        (dairy("milk", "3.5"), kg["milk_kg"]),
    )


def guelph_5() -> Mix:
    kg = CHECKS["guelph_problem_5_sweetened_condensed_whole"]["expected"]
    condensed = made_of("condensed", {"sucrose": 42}, fat=8, milk_fat=8, msnf=20, water=30)
    return grams(
        (condensed, kg["condensed_kg"]),
        (SUCROSE, kg["sucrose_kg"]),
        (STABILISER, kg["stabiliser_kg"]),
        (dairy("cream", 30), kg["cream_kg"]),
        (dairy("milk", 4), kg["milk_kg"]),
    )


@pytest.mark.parametrize(
    ("mix", "target"),
    [
        (guelph_1, {"fat": 14, "msnf": 10, "sugars.sucrose": 15, "stabiliser": 0.4}),
        (guelph_3, {"fat": 18, "msnf": 9.5, "sugars.sucrose": 15, "stabiliser": 0.4}),
        (guelph_4, {"fat": 14, "msnf": 10, "sugars.sucrose": 15, "total_solids": 39.5}),
        (guelph_5, {"fat": 14, "msnf": 10, "sugars.sucrose": 15, "total_solids": 39.5}),
    ],
)
def test_the_worked_problems_of_guelph_compose_to_their_targets(
    mix: Callable[[], Mix], target: dict[str, float]
) -> None:
    """Goff, Univ. of Guelph, mix problems 1, 3, 4 and 5: their answers, composed again."""
    got = compose(mix())
    for key, wanted in target.items():
        assert float(percent(got, key)) == pytest.approx(wanted, abs=0.02), key


def test_three_unknowns_compose_to_their_target() -> None:
    """dairytechnologist.com, formulate-ice-cream-mix: 12 fat, 10 MSNF, 14 sucrose, 0.7 rest."""
    kg = CHECKS["algebraic_three_unknowns"]["expected"]
    got = compose(
        grams(
            (dairy("cream", "38.5", "5.5"), kg["cream_kg"]),
            (dairy("milk", "3.5", "8.5"), kg["milk_kg"]),
            (made_of("powder", msnf=96, water=4), kg["smp_kg"]),
            (SUCROSE, 14),
            (STABILISER, "0.7"),
        )
    )
    assert float(percent(got, "fat")) == pytest.approx(12, abs=0.005)
    assert float(percent(got, "msnf")) == pytest.approx(10, abs=0.005)


def test_our_own_mix() -> None:
    mix = compose(OWN)
    names = {"sugars.glucose": "dextrose", "sugars.glucose-syrup-42de": "css42"}
    names |= {"sugars.sucrose": "sucrose", "stabiliser": "stab"}
    names |= {key: key for key in ("fat", "msnf", "salt", "total_solids", "water")}
    for key, name in names.items():
        near("own_mix_composition", percent(mix, key), name)
    near("own_mix_density", mix.density_g_ml.low, "kg_per_L")
    near("own_mix_sweetness", percent(mix, "sweetness"), "sucrose_equiv_pct")
    litres = mix.of("volume_ml").low / 1000
    near("own_mix_yield_30pct_overrun", litres, "mix_L")
    near("own_mix_yield_30pct_overrun", litres * Decimal("1.3"), "product_L")


def test_an_over_poured_mix() -> None:
    poured = [(one, Decimal(352) if one is SUCROSE else mass) for one, mass in OWN]
    mix = compose(poured)
    for key in ("fat", "msnf", "sugars", "total_solids"):
        near("overpour_uncorrected_composition", percent(mix, key), key)


def test_the_density_of_a_mix() -> None:
    mix = compose(grams((made_of("mix", {"sucrose": "26.3"}, fat=12, water="61.7"), 1)))
    near("mix_density_formula", mix.density_g_ml.low, "kg_per_L")


USDA = [name for name in CHECKS if name.startswith("usda_sr_") and "vs" not in name]


@pytest.mark.parametrize("name", [one for one in USDA if one != "usda_sr_energy"])
def test_the_table_that_ships_is_the_row_of_usda(name: str) -> None:
    row = CHECKS[name]
    facts = read_shipped_table()[name.replace("_sr_", "-").replace("_", "-")].facts
    assert facts is not None
    stated = dict(facts.stated)
    for key in ("water", "fat", "protein"):
        assert float(stated.get(key, 0)) == row["expected"][key], key
    assert float(stated.get("ash", stated.get("salt", 0))) == row["expected"]["ash"]
    # To the rounding of the printed row; sweetened milk, sugar and salt are parted by a rule.
    assert facts.missing == ()
    assert abs(facts.parts_g - 100) <= Decimal("0.1")


def test_milk_solids_of_the_table_are_near_to_the_rule_of_9_percent() -> None:
    for number in ("01077", "01085", "01053"):
        row = CHECKS[f"usda_sr_msnf_vs_9pct_{number}"]
        facts = read_shipped_table()[f"usda-{number}"].facts
        assert facts is not None
        assert float(dict(facts.stated)["msnf"]) == row["expected"]["msnf_by_difference"]


def test_energy_is_near_to_what_usda_prints() -> None:
    row = CHECKS["usda_sr_energy"]
    table = read_shipped_table()
    for number, kcal in zip(row["inputs"]["rows"], row["expected"]["kcal"], strict=True):
        got = compose([(table[f"usda-{number}"], Decimal(100))]).of("kcal")
        assert got.known, got.missing
        assert float(got.low) == pytest.approx(kcal, rel=row["tolerance"]["rel"]), number


def test_every_shipped_row_has_its_source_and_stands_in_a_list_that_reads() -> None:
    for one in read_shipped_table().values():
        assert one.facts is not None
        assert one.facts.source, one.id
    text = (ROOT / "weighd/data/formulas/ingredients.toml").read_text("utf-8")
    assert len(read_ingredients(text, "ingredients.toml")) == 19
