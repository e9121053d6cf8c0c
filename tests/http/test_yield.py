"""The yield of a batch over REST: recorded, shown, put right, refused by field."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import httpx
import pytest

from tests.domain.test_against_plan import with_facts
from tests.http.kitchen import Kitchen, until
from tests.station.planned_kitchen import ICE
from weighd.domain.against_plan import Prices
from weighd.domain.formula_text import read_formula

pytestmark = pytest.mark.anyio
PRICES = {"milk": Decimal("1.2"), "sugar": Decimal("1.5"), "salt": Decimal(1), "gum": Decimal(20)}


@pytest.fixture
async def made(kitchen: Kitchen) -> Kitchen:
    """A batch all weighed in, the vessel taken off."""
    kitchen.shelf.formulas["test-ice"] = read_formula(with_facts(ICE), "test-ice.toml")
    kitchen.shelf.today = Prices(PRICES, "2026-11-01")
    await kitchen.ready()
    stands = Decimal(250)
    for grams in ("900", "2", "3.4", "640"):
        await kitchen.pour(str(stands), str(stands + Decimal(grams)))
        stands += Decimal(grams)
        await until(lambda: "accept" in kitchen.station.can())
        accepted = await kitchen.do("accept")
        assert accepted.status_code == 200, accepted.text
    assert kitchen.kinds()[-1] == "batch closed"
    await kitchen.show("0")
    return kitchen


async def record(kitchen: Kitchen, key: str | None = None, **given: Any) -> httpx.Response:
    return await kitchen.post("/api/batches/kitchen-0001/yield", given, key=key)


async def shown(kitchen: Kitchen) -> dict[str, Any]:
    answer = await kitchen.get("/api/batches/kitchen-0001/yield")
    assert answer.status_code == 200
    body: dict[str, Any] = answer.json()
    return body


async def test_draws_are_recorded_and_shown_with_loss_and_cost(made: Kitchen) -> None:
    empty = await shown(made)
    assert (empty["draws"], empty["total"]["told"]) == ([], "not known")
    first = await record(made, weight="1.25 kg", volume="1,4 L", portions=20, by="Bo")
    assert first.status_code == 201
    assert (await record(made, weight="290 g", volume="300 mL", left="5 g")).status_code == 201
    body = await shown(made)
    assert [one["draw"] for one in body["draws"]] == [1, 2]
    assert body["draws"][0]["by"] == "Bo"
    assert body["draws"][1]["by"] == "Ada"
    total = body["total"]
    assert (total["in_g"], total["drawn_g"], total["left_g"]) == ("1545.40", "1540.00", "5.00")
    assert total["portion"] == {"g": "77.0", "ml": "85.0"}
    # 0.9 kg at 1.20, 2 g at 1, 3.4 g at 20, 0.64 kg at 1.50 are 2.11: by 20, and by 1.7 L.
    cost = body["cost"]
    assert cost["batch"] == {"value": "2.110"}
    assert cost["per_portion"] == {"value": "0.106"}
    assert cost["per_litre"] == {"value": "1.241"}
    assert cost["date"] == "2026-11-01"


async def test_the_cost_of_a_litre_is_the_published_identity(made: Kitchen) -> None:
    """Arithmetic, no source: cost x density / (1 + overrun) / mass, where nothing was lost."""
    await record(made, weight="1545.4 g", volume="1800 mL")
    body = await shown(made)
    density = Decimal(body["density_g_ml"])
    overrun = Decimal(body["total"]["overrun_percent"]) / 100
    due = Decimal("2.110") * density / (1 + overrun) / Decimal("1.5454")
    assert abs(Decimal(body["cost"]["per_litre"]["value"]) - due) < Decimal("0.002")


async def test_limits_of_density_are_held_to_the_overrun_that_was_drawn(made: Kitchen) -> None:
    """21 CFR 135.110: 4.5 lb a gallon, and how far that lets a mix be blown up (frozen.json,
    legal_density_us and overrun_ceiling: density of the mix over it, less one)."""
    made.shelf.formulas["test-ice"] = read_formula(with_facts(ICE), "test-ice.toml")
    ask = "/api/batches/kitchen-0001/composition?kind=kitchen"
    assert (await made.get(ask)).json()["overrun_percent"] is None
    await record(made, weight="1000 g", volume="2000 mL")
    air = Decimal((await made.get(ask)).json()["overrun_percent"])
    density = Decimal((await shown(made))["density_g_ml"])
    assert abs(air - (density * 2 - 1) * 100) < Decimal("0.1")
    asked = (await made.get(f"{ask}&overrun=30")).json()
    assert asked["overrun_percent"] == "30.0"


async def test_a_draw_is_put_right_and_taken_back(made: Kitchen) -> None:
    await record(made, weight="1520 g")
    refused = await record(made, weight="1250 g", corrects=1)
    assert (refused.status_code, refused.json()["code"]) == (409, "needs-reason")
    right = await record(made, weight="1250 g", corrects=1, reason="digits swapped")
    assert right.status_code == 201
    body = await shown(made)
    assert [(one["draw"], one["weight"]["typed"]) for one in body["draws"]] == [(1, "1250 g")]
    assert (await record(made, corrects=1, reason="of another batch")).status_code == 201
    assert (await shown(made))["draws"] == []
    assert made.kinds()[-3:] == ["yield recorded"] * 3


async def test_sent_twice_it_acts_once(made: Kitchen) -> None:
    first = await record(made, key="once", weight="1 kg")
    again = await record(made, key="once", weight="1 kg")
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json()["entry"] == again.json()["entry"]
    other = await record(made, key="once", weight="2 kg")
    assert (other.status_code, other.json()["code"]) == (422, "key-reused")
    assert len((await shown(made))["draws"]) == 1


async def test_a_draw_is_weighed_on_the_scale(made: Kitchen) -> None:
    await made.show("435.2", 3.0)
    answer = await record(made, scale="bench", tare="85.0 g", volume="0.42 L")
    assert answer.status_code == 201
    [draw] = (await shown(made))["draws"]
    assert draw["weight"]["g"] == "350.2"
    assert "typed" not in draw["weight"]


@pytest.mark.parametrize(
    ("given", "status", "code", "where"),
    [
        ({}, 422, "nothing-entered", ""),
        ({"weight": "12"}, 422, "bad-draw", "weight"),
        ({"weight": "NaN g"}, 422, "bad-draw", "weight"),
        ({"weight": "Infinity kg"}, 422, "bad-draw", "weight"),
        ({"weight": "1e999 g"}, 422, "bad-draw", "weight"),
        ({"weight": "-5 g"}, 422, "bad-draw", "weight"),
        ({"weight": "٥ g"}, 422, "bad-draw", "weight"),
        ({"weight": "5 st"}, 422, "bad-draw", "weight"),
        ({"volume": "5 g"}, 422, "bad-draw", "volume"),
        ({"left": "0 g"}, 422, "bad-draw", "left"),
        ({"cup_mix": "110 g"}, 422, "bad-draw", "cup_product"),
        ({"fill": "350 mL"}, 422, "bad-draw", "containers"),
        ({"weight": "5 g", "pieces": "5 g"}, 422, "bad-draw", "pieces"),
        ({"weight": "5 g", "tare": "1 g"}, 422, "bad-draw", "tare"),
        ({"portions": 0}, 422, "invalid-request", "body.portions"),
        ({"portions": 2.5}, 422, "invalid-request", "body.portions"),
        ({"portions": "2"}, 422, "invalid-request", "body.portions"),
        ({"weight": 5}, 422, "invalid-request", "body.weight"),
        ({"weight": "1" * 90}, 422, "invalid-request", "body.weight"),
        ({"colour": "red"}, 422, "invalid-request", "body.colour"),
        ({"scale": "attic"}, 422, "unknown-scale", "scale"),
        ({"scale": "bench"}, 422, "bad-draw", "weight"),
        ({"scale": "bench", "vessel": "attic"}, 422, "unknown-vessel", ""),
        ({"corrects": 7, "reason": "x"}, 404, "unknown-draw", "corrects"),
    ],
)
async def test_what_cannot_be_recorded_is_refused_by_field(
    made: Kitchen, given: dict[str, Any], status: int, code: str, where: str
) -> None:
    before = len(made.kinds())
    answer = await record(made, **given)
    assert (answer.status_code, answer.json()["code"]) == (status, code)
    assert answer.json()["where"] == where
    assert len(made.kinds()) == before


async def test_of_a_batch_still_weighed_or_unknown(kitchen: Kitchen) -> None:
    await kitchen.ready()
    weighed = await record(kitchen, weight="1 kg")
    assert (weighed.status_code, weighed.json()["code"]) == (409, "still-weighed")
    nothing = await kitchen.get("/api/batches/kitchen-0001/yield")
    assert (nothing.status_code, nothing.json()["code"]) == (409, "nothing-weighed")
    for path in ("kitchen-0099", "x"):
        unknown = await kitchen.post(f"/api/batches/{path}/yield", {"weight": "1 kg"})
        assert (unknown.status_code, unknown.json()["code"]) == (404, "unknown-batch")


async def test_an_older_batch_is_taken_up_from_the_journal(made: Kitchen) -> None:
    """It is not on the bench any more, and the station does not know it by heart."""
    made.station.off_bench._over.clear()
    assert (await made.start()).status_code == 201
    assert made.station.batch is not None
    assert made.station.batch.id == "kitchen-0002"
    assert (await record(made, weight="1 kg")).status_code == 201
    assert made.station.batch.id == "kitchen-0002"
    assert made.kinds()[-1] == "yield recorded"
