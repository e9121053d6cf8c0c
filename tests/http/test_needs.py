"""What a batch takes out of stock over REST, and when a formula was last made."""

from __future__ import annotations

import pytest

from tests.http.kitchen import Kitchen
from tests.http.test_lots import receive, weigh_milk

pytestmark = pytest.mark.anyio


async def test_stock_of_a_formula_at_a_size(kitchen: Kitchen) -> None:
    where = "/api/formulas/test-ice/stock"
    none = (await kitchen.get(where)).json()
    assert {one["stock"] for one in none["needs"]} == {"not booked"}
    assert none["most"] is None
    soon = await receive(kitchen, quantity_g="300 g", use_by="2026-11-30")
    late = await receive(kitchen, quantity_g="100 g", use_by="2026-12-30")
    old = await receive(kitchen, quantity_g="5 kg", best_before="2026-11-01")
    told = (await kitchen.get(where)).json()
    milk = next(one for one in told["needs"] if one["ingredient"] == "milk")
    assert [(one["lot"], one["takes_g"]) for one in milk["lots"]] == [(soon, "300"), (late, "100")]
    assert (milk["target_g"], milk["stock"], milk["short_g"]) == ("500", "short", "100")
    assert [(one["lot"], one["fit"]) for one in milk["aside"]] == [(old, "past best before")]
    assert told["most"]["size"] == "milk=400 g"
    less = await kitchen.get(f"{where}?size={told['most']['size']}")
    assert {one["stock"] for one in less.json()["needs"]} <= {"there", "not booked"}
    assert float(less.json()["batch_g"]) == float(told["most"]["batch_g"])
    assert (await kitchen.get(f"{where}?size=lots")).status_code == 422
    assert (await kitchen.get("/api/formulas/none/stock")).status_code == 404


async def test_when_a_formula_was_last_made(kitchen: Kitchen) -> None:
    assert (await kitchen.get("/api/made")).json() == {"made": {}}
    await weigh_milk(kitchen, await receive(kitchen))
    assert (await kitchen.get("/api/made")).json() == {"made": {}}  # not all is weighed
