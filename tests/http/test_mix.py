"""What a mix is, over REST."""

from __future__ import annotations

from decimal import Decimal

import pytest

from tests.http.kitchen import Kitchen
from weighd.domain.against_plan import Prices
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
    fine = (await kitchen.get("/api/formulas/sugar-ice/composition?at=-2.5,-3")).json()
    assert [one["at_c"] for one in fine["freezing"]["curve"]] == ["-2.5", "-3"]
    wrong = await kitchen.get("/api/formulas/sugar-ice/composition?overrun=lots")
    assert (wrong.status_code, wrong.json()["code"]) == (422, "bad-number")


async def test_a_mix_of_which_nothing_is_known_says_so(kitchen: Kitchen) -> None:
    body = (await kitchen.get("/api/formulas/test-ice/composition")).json()
    assert set(body["missing"]) == {"milk", "salt", "sugar"}


@pytest.mark.parametrize(
    ("query", "code"),
    [
        ("batch_g=NaN", "bad-batch-size"),
        ("batch_g=Infinity", "bad-batch-size"),
        ("batch_g=1e999", "bad-batch-size"),
        ("batch_g=-5", "bad-batch-size"),
        ("batch_g=0", "bad-batch-size"),
        ("batch_g=%D9%A1%D9%A0%D9%A0", "bad-batch-size"),
        ("batch_g=99999999999", "bad-batch-size"),
        ("overrun=NaN", "bad-number"),
        ("overrun=1e999", "bad-number"),
        ("overrun=%D9%A3", "bad-number"),
        ("overrun=1001", "bad-number"),
        ("kind=..%2Fattic", "unknown-class"),
    ],
)
async def test_what_cannot_be_asked_of_a_mix(kitchen: Kitchen, query: str, code: str) -> None:
    answer = await kitchen.get(f"/api/formulas/test-ice/composition?{query}")
    assert (answer.status_code, answer.json()["code"]) == (422, code)
    assert answer.json()["detail"]


async def test_a_batch_as_weighed_beside_its_plan(kitchen: Kitchen) -> None:
    kitchen.shelf.formulas["sugar-ice"] = read_formula(MIX, "sugar-ice.toml")
    kitchen.shelf.today = Prices({"water": Decimal(0), "sugar": Decimal(2)}, "2026-11-01")
    assert (await kitchen.start(formula="sugar-ice")).status_code == 201
    await kitchen.show("600")
    assert (await kitchen.do("tare", addition=1)).status_code == 200
    await kitchen.pour("600", "1520")  # 20 g of water too much
    assert (await kitchen.do("accept", addition=1, reason="as it is")).status_code == 200
    body = (await kitchen.get("/api/batches/kitchen-0001/composition?at=-8&kind=kitchen")).json()
    assert (body["in_g"], body["to_come_g"], body["whole"]) == ("920.00", "100.00", False)
    rows = {one["of"]: one for one in body["differences"]}
    # 100 g of sugar in 1000 and in 1020 g: arithmetic.
    assert (rows["sugars"]["planned"]["value"], rows["sugars"]["weighed"]["value"]) == (
        "10.000",
        "9.804",
    )
    assert rows["sugars"]["told"] == rows["sweetness"]["told"] == "less"
    assert rows["freezing_point"]["told"] == "more"
    assert rows["cost"]["told"] == "no difference"
    assert rows["frozen"]["at_c"] == "-8"
    assert body["prices"] == {"known": True, "date": "2026-11-01"}
    [solids] = [one for one in body["limits"] if one["class"] == "kitchen"]
    assert solids["planned"]["standing"] == solids["weighed"]["standing"] == "outside"


@pytest.mark.parametrize(
    ("batch", "query", "status", "code"),
    [
        ("kitchen-0001", "at=nan", 422, "bad-number"),
        ("kitchen-0001", "at=1e999", 422, "bad-number"),
        ("kitchen-0001", "at=%D9%A1", 422, "bad-number"),
        ("kitchen-0001", "overrun=-3", 422, "bad-number"),
        ("kitchen-0001", "kind=attic", 422, "unknown-class"),
        ("kitchen-0099", "", 404, "unknown-batch"),
        ("..", "", 404, "not-found"),
    ],
)
async def test_what_cannot_be_asked_of_a_batch(
    kitchen: Kitchen, batch: str, query: str, status: int, code: str
) -> None:
    await kitchen.start()
    answer = await kitchen.get(f"/api/batches/{batch}/composition?{query}")
    assert (answer.status_code, answer.json()["code"]) == (status, code)


async def test_a_batch_of_which_nothing_was_weighed_has_no_composition(kitchen: Kitchen) -> None:
    await kitchen.ready()
    assert (await kitchen.do("abandon", reason="no time")).status_code == 200
    answer = await kitchen.get("/api/batches/kitchen-0001/composition")
    assert (answer.status_code, answer.json()["code"]) == (409, "nothing-weighed")
