"""What a mix is, over REST."""

from __future__ import annotations

import pytest

from tests.http.kitchen import Kitchen
from weighd.domain.formula_text import read_formula

pytestmark = pytest.mark.anyio

MIX = """
name = "Sugar ice"
kind = "kitchen"
[ingredients.water]
name = "Water"
[ingredients.water.composition]
water = 100
[ingredients.sugar]
name = "Sugar"
[ingredients.sugar.composition]
sugars = { sucrose = 100 }
[[additions]]
ingredient = "water"
target = "900 g"
tolerance = "1 %"
[[additions]]
ingredient = "sugar"
target = "100 g"
tolerance = "1 %"
"""


async def test_what_a_mix_is_and_what_lies_outside_its_limits(kitchen: Kitchen) -> None:
    kitchen.shelf.formulas["sugar-ice"] = read_formula(MIX, "sugar-ice.toml")
    body = (await kitchen.get("/api/formulas/sugar-ice/composition?batch_g=500")).json()
    assert body["mass_g"] == "500.00"
    assert body["sugars"] == {
        "grams": "50.00",
        "percent": "10.000",
        "kinds": {"sucrose": {"grams": "50.00", "percent": "10.000"}},
    }
    # 11.1 g sucrose in 100 g water: between the 9 and 12 g of the published table, whose values
    # are -0.53 and -0.72 degrees C (Goff & Hartel 2013, table 6.1, as in fixtures/tables).
    assert -0.72 < float(body["freezing"]["begins_c"]) < -0.53
    [solids] = [one for one in body["limits"] if one["class"] == "kitchen"]
    assert (solids["standing"], solids["min"]) == ("outside", "20")
    unknown = await kitchen.get("/api/formulas/sugar-ice/composition?kind=attic")
    assert (unknown.status_code, unknown.json()["code"]) == (422, "unknown-class")
    wrong = await kitchen.get("/api/formulas/sugar-ice/composition?overrun=lots")
    assert (wrong.status_code, wrong.json()["code"]) == (422, "bad-number")


async def test_a_mix_of_which_nothing_is_known_says_so(kitchen: Kitchen) -> None:
    body = (await kitchen.get("/api/formulas/test-ice/composition")).json()
    assert set(body["missing"]) == {"milk", "salt", "sugar"}
