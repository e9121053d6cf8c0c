"""What is drawn and told of a composition."""

from __future__ import annotations

import json
from decimal import Decimal
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest

from tests.domain.mixes import OWN, made_of
from weighd.domain.errors import OperatorError
from weighd.domain.formula import Addition, Formula, read_tolerance
from weighd.domain.limits import read_limits
from weighd.main.files import read_formula_file
from weighd.station.composing import (
    composed,
    draw_composition,
    read_overrun,
    read_temperature,
)
from weighd.station.composing_words import tell

DATA = files("weighd.data")
KINDS = read_limits((DATA / "limits.toml").read_text("utf-8"), "limits.toml")
TOLERANCE = read_tolerance("1 %")


def formula(*more: Addition) -> Formula:
    own = tuple(Addition(one, mass, TOLERANCE) for one, mass in OWN)
    return Formula("own", "Our own", (*own, *more))


def drawn(one: Formula, **options: Any) -> dict[str, Any]:
    return draw_composition(composed(one, KINDS, **options))


def test_our_own_mix_is_drawn() -> None:
    """The figures of fixtures/tables/frozen.json, rounded as they are shown."""
    out = drawn(formula(), kind="ice-cream", overrun_percent=Decimal(30))
    assert out["parts"]["fat"] == {"grams": "92.70", "percent": "3.862"}
    assert out["total_solids"]["percent"] == "35.511"
    assert out["sugars"]["kinds"]["sucrose"]["grams"] == "330.00"
    assert out["mix"]["density_g_ml"] == {"value": "1.1289"}
    assert out["product"]["volume_ml"] == {"value": "2763.7"}
    freezing = out["freezing"]
    assert freezing["begins_c"] == freezing["begins_at_lowest_c"] == "-3.13"
    assert freezing["terms_c"] == {
        "sugars": "-2.67",
        "milk_salts": "-0.38",
        "salt": "-0.08",
        "alcohol_and_glycerol": "0.00",
    }
    assert [one["frozen_percent"] for one in freezing["curve"][:3]] == ["20.2", "34.2", "44.0"]
    hardest = freezing["curve"][-1]
    assert (hardest["at_c"], hardest["frozen_percent"]) == ("-18", None)
    assert hardest["more_than_percent"] == freezing["ends"]["frozen_percent"] == "76.0"
    standings = {one["of"][0]: one["standing"] for one in out["limits"]}
    assert standings["fat"] == "outside"
    assert standings["msnf"] == "inside"
    assert json.loads(json.dumps(out)) == out


def test_sums_of_what_is_drawn_are_100_percent_within_rounding() -> None:
    out = drawn(formula())
    parts = [Decimal(one["percent"]) for one in out["parts"].values()]
    total = sum(parts) + Decimal(out["sugars"]["percent"])
    assert abs(total - 100) <= Decimal("0.0005") * (len(parts) + 1)


def test_a_scaled_formula_composes_to_the_same_shares() -> None:
    whole, small = drawn(formula()), drawn(formula().scaled(Decimal(600)))
    # Targets of a scaled formula are rounded to 0.01 g.
    for part, one in whole["parts"].items():
        other = small["parts"][part]
        assert abs(Decimal(other["percent"]) - Decimal(one["percent"])) <= Decimal("0.002"), part
        assert abs(Decimal(other["grams"]) * 4 - Decimal(one["grams"])) <= Decimal("0.05"), part
    assert small["freezing"] == whole["freezing"]


def test_what_is_missing_is_drawn_and_told() -> None:
    bare = Formula("x", "X", formula().additions[:1])
    fruit = Addition(made_of("fruit", water=80), Decimal(100), TOLERANCE)
    out = drawn(Formula("x", "X", (*bare.additions, fruit)), kind="ice-cream")
    fat = out["parts"]["fat"]
    assert fat["missing"] == ["fruit: fat"]
    assert Decimal(fat["grams"]) < Decimal(fat["at_most"]["grams"])
    assert out["missing"]["fruit"][:2] == ["fat", "msnf"]
    assert out["freezing"]["begins_c"] != out["freezing"]["begins_at_lowest_c"]
    told = "\n".join(tell(out))
    assert "at least" in told
    assert "Begins to freeze between " in told
    assert "Missing, so that amounts are at least what they say:" in told
    assert "  Fruit: fat, msnf" in told


def test_alcohol_and_fruit_sugars_are_said_to_be_reckoned() -> None:
    rum = Addition(made_of("rum", alcohol=33, water=67), Decimal(50), TOLERANCE)
    fruit = Addition(
        made_of("fruit", {"unspecified": 8}, water=86, other_solids=6), Decimal(200), TOLERANCE
    )
    out = drawn(formula(rum, fruit))
    said = " ".join(out["assumptions"])
    assert "from memory for: Glucose syrup 42 DE, solids." in said
    for word in ("molality", "glucose, fructose", "54.5 %", "Acids", "Fibre"):
        assert word in said
    assert Decimal(out["freezing"]["terms_c"]["alcohol_and_glycerol"]) < 0
    assert "alcohol and glycerol -" in "\n".join(tell(drawn(formula(rum))))


@pytest.mark.parametrize("name", ["hazelnut-gelato", "lemon-sorbet", "flatbread-dough"])
def test_the_formulas_of_the_invented_kitchen_are_told(name: str) -> None:
    out = drawn(read_formula_file(Path(str(DATA)) / "formulas" / f"{name}.toml"))
    told = tell(out)
    assert told[0].startswith(out["name"])
    assert all(line.strip() != "None" and "None" not in line for line in told)
    if name != "flatbread-dough":
        assert out["class"]
        assert out["freezing"]["begins_c"]
        assert "missing" not in out["parts"]["water"]


def test_a_mix_without_water_is_told_too() -> None:
    sugar = Formula("x", "X", (Addition(made_of("s", {"sucrose": 100}), Decimal(9), TOLERANCE),))
    out = drawn(sugar)
    assert out["lactose_in_water"] is None
    assert out["freezing"]["ends"] is None
    told = "\n".join(tell(out))
    assert "is not known: no water" in told
    assert "1 of 1" not in told


def test_options_that_are_no_numbers() -> None:
    assert read_overrun(" ") is None
    assert read_overrun("33,5") == Decimal("33.5")
    assert read_temperature("−12.5") == Decimal("-12.5")
    for text in ("a lot", "-1", "1001", "nan"):
        with pytest.raises(OperatorError, match="is not an overrun"):
            read_overrun(text)
    for text in ("cold", "5", "-61", ""):
        with pytest.raises(OperatorError, match="is not a temperature"):
            read_temperature(text)


def test_the_volume_at_an_overrun_is_what_guelph_has() -> None:
    """Goff, Univ. of Guelph, overrun: 1 L of mix and 1.5 L is 50 %; 1090 and 560 g/L are 94.6 %."""
    syrup = made_of("syrup", {"sucrose": "22.316"}, water="77.684")
    one = Formula("s", "S", (Addition(syrup, Decimal(1090), TOLERANCE),))
    assert drawn(one)["mix"]["volume_ml"]["value"] == "1000.0"
    half = drawn(one, overrun_percent=Decimal(50))["product"]
    assert half["volume_ml"]["value"] == "1500.0"
    much = drawn(one, overrun_percent=Decimal("94.6"))["product"]
    assert float(much["density_g_ml"]["value"]) == pytest.approx(0.560, abs=0.0005)
