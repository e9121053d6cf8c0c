"""Sizes in words over REST, and how a record says that its batch was sized so."""

from __future__ import annotations

from decimal import Decimal

import pytest

from tests.http.kitchen import Kitchen
from tests.http.test_mix import MIX
from weighd.domain.formula_text import read_formula

pytestmark = pytest.mark.anyio


async def test_a_batch_by_servings_at_the_steps_of_its_scale(kitchen: Kitchen) -> None:
    kitchen.shelf.formulas["sugar-ice"] = read_formula(MIX, "sugar-ice.toml")
    asked = "size=7 servings of 33.33 g&rounded=true&scale=bench"
    drawn = (await kitchen.get(f"/api/formulas/sugar-ice/size?{asked}")).json()
    # 233.31 g: 209.979 of water and 23.331 of sugar; 0.1 g steps, 1 % of 23.3 g is 0.23.
    assert [one["exact_g"] for one in drawn["amounts"]] == ["209.98", "23.33"]
    assert [one["target_g"] for one in drawn["amounts"]] == ["210", "23.3"]
    assert [one["difference"] for one in drawn["composition"] if one["of"] == "sugars"] == [
        "-0.013"
    ]
    made = await kitchen.start(formula="sugar-ice", size="7 servings of 33.33 g", rounded=True)
    assert made.status_code == 201
    [opened] = [one.body for one in kitchen.journal.entries() if one.kind == "batch opened"]
    assert [one["target_g"] for one in opened["additions"]] == ["210", "23.3"]
    assert opened["batch_g"] == "233.31"
    assert opened["size"]["by"] == "servings"
    assert opened["size"]["asked"] == "7 servings of 33.33 g"
    assert [one["target_g"] for one in opened["size"]["rounded"]] == ["210", "23.3"]


async def test_an_ordinary_batch_says_nothing_of_it(kitchen: Kitchen) -> None:
    assert (await kitchen.start(batch_g="1000")).status_code == 201
    [opened] = [one.body for one in kitchen.journal.entries() if one.kind == "batch opened"]
    assert "size" not in opened


async def test_sizes_in_plan_formula_and_composition(kitchen: Kitchen) -> None:
    kitchen.shelf.formulas["sugar-ice"] = read_formula(MIX, "sugar-ice.toml")
    where = "/api/formulas/sugar-ice"
    # 100 g of sucrose in a litre of mix less: water 900 mL, sucrose 63 mL a 100 g (Goff).
    one = (await kitchen.get(f"{where}?size=0.963 L")).json()
    assert Decimal(one["batch_g"]) == pytest.approx(1000)
    plan = (await kitchen.get(f"{where}/plan?size=sugar=55 g&rounded=true")).json()
    assert plan["size"]["scarcest"] == "sugar"
    assert Decimal(plan["batch_g"]) == 550
    sheet = (await kitchen.get(f"{where}?batch_g=233.31&rounded=true&scale=bench")).json()
    assert [one["target_g"] for one in sheet["additions"]] == ["210", "23.3"]
    stepped = (await kitchen.get(f"{where}/plan?batch_g=233.31&rounded=true")).json()
    assert [one["target_g"] for one in stepped["size"]["rounded"]] == ["210", "23.3"]
    mix = (await kitchen.get(f"{where}/composition?size=2 kg")).json()
    assert Decimal(mix["mass_g"]) == 2000


@pytest.mark.parametrize(
    ("given", "code"),
    [
        ({"size": "lots"}, "bad-size"),
        ({"size": "5 L"}, "facts-missing"),
        ({"size": "1 kg", "batch_g": "1000"}, "bad-size"),
        ({"size": "unicorn=5 g"}, "unknown-ingredient"),
        ({"size": "nan kg"}, "bad-size"),
        ({"size": 5}, "invalid-request"),
    ],
)
async def test_what_is_no_size_is_refused_and_named(
    kitchen: Kitchen, given: dict[str, object], code: str
) -> None:
    refused = await kitchen.start(**given)
    assert (refused.status_code, refused.json()["code"]) == (422, code)
    assert "size" in refused.text
    assert not kitchen.kinds()
    if isinstance(given["size"], str):
        asked = "&".join(f"{key}={value}" for key, value in given.items())
        same = await kitchen.get(f"/api/formulas/test-ice/size?{asked}")
        assert same.json()["code"] == code


async def test_a_batch_sized_so_replays_and_verifies(kitchen: Kitchen) -> None:
    from weighd.domain.verify import Verifier
    from weighd.main.drivers import reread

    kitchen.shelf.formulas["sugar-ice"] = read_formula(MIX, "sugar-ice.toml")
    assert (
        await kitchen.start(formula="sugar-ice", size="1 kg", rounded=True, plan=True)
    ).status_code == 201
    verifier = Verifier(whole=True, reread=reread)
    for entry in kitchen.journal.entries():
        verifier.take(entry)
    assert verifier.finish()
