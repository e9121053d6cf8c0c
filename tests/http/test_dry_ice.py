"""Dry ice over REST: a formula's charge and room, and a load that wastes away on a scale."""

from __future__ import annotations

import pytest

from tests.http.kitchen import Kitchen
from tests.station.test_cli_dry_ice import SORBET
from weighd.domain.formula_text import read_formula
from weighd.http.ports import HttpSettings

pytestmark = pytest.mark.anyio
PATH = "/api/formulas/plum-sorbet/dry-ice"


@pytest.fixture
def sorbet(kitchen: Kitchen) -> Kitchen:
    kitchen.shelf.formulas["plum-sorbet"] = read_formula(SORBET, "plum-sorbet.toml")
    return kitchen


async def test_a_charge_and_the_air_of_its_room(sorbet: Kitchen) -> None:
    body = (await sorbet.get(f"{PATH}?batch_g=2000&room_m3=30&air_changes=2&release_min=15")).json()
    assert body["batch_g"] == "2000.00"
    assert body["cautions"][0]["name"] == "local codes"
    assert float(body["charge"]["most_g"]) > float(body["charge"]["least_g"]) > 300
    assert len(body["portions"]["list"]) == 10
    assert {one["id"] for one in body["room"]["limits"]} == {"twa-8h", "stel-15min", "idlh"}


@pytest.mark.parametrize(
    ("query", "code", "where"),
    [
        ("", "no-room", "room_m3"),
        ("room_m3=0", "bad-number", "room_m3"),
        ("room_m3=-5", "bad-number", "room_m3"),
        ("room_m3=nan", "bad-number", "room_m3"),
        ("room_m3=30&air_changes=-1", "bad-number", "air_changes"),
        ("room_m3=30&to_c=-40", "beyond-method", "to_c"),
        ("room_m3=30&vessel_of=gold", "unknown-material", "vessel_of"),
        ("room_m3=30&batch_g=-1", "bad-batch-size", ""),
    ],
)
async def test_bad_input_is_a_problem_that_names_the_field(
    sorbet: Kitchen, query: str, code: str, where: str
) -> None:
    answer = await sorbet.get(f"{PATH}?{query}")
    assert answer.headers["content-type"] == "application/problem+json"
    body = answer.json()
    assert (answer.status_code, body["code"], body["where"]) == (422, code, where)


async def test_a_formula_of_which_nothing_is_known_is_refused(kitchen: Kitchen) -> None:
    answer = await kitchen.get("/api/formulas/test-ice/dry-ice?room_m3=30")
    assert (answer.status_code, answer.json()["code"]) == (422, "not-enough-known")
    missing = await kitchen.get("/api/formulas/none/dry-ice?room_m3=30")
    assert missing.status_code == 404


async def test_the_configured_room_counts() -> None:
    settings = HttpSettings(dry_ice={"room_m3": "50", "air_changes": "4"})
    async with Kitchen(settings=settings) as here:
        here.shelf.formulas["plum-sorbet"] = read_formula(SORBET, "plum-sorbet.toml")
        room = (await here.get(PATH)).json()["room"]
        assert (room["volume_m3"], room["air_changes"]) == ("50", "4")


FREEZE = """
[[steps]]
kind = "freeze"
with = "dry ice"
"""


async def in_process(kitchen: Kitchen) -> None:
    """A sorbet of 600 g, weighed; its freezing comes next, and the scale is empty."""
    kitchen.shelf.formulas["plum-sorbet"] = read_formula(SORBET + FREEZE, "plum-sorbet.toml")
    assert (await kitchen.start(formula="plum-sorbet", batch_g="600")).status_code == 201
    await kitchen.show("250")
    assert (await kitchen.do("tare", addition=1)).status_code == 200
    await kitchen.pour("250", "730")
    assert (await kitchen.do("accept", addition=1)).status_code == 200
    await kitchen.pour("730", "850")
    assert (await kitchen.do("accept", addition=2)).status_code == 200
    await kitchen.show("0")


async def test_a_batch_in_process_is_reckoned_as_weighed_and_begins_with_a_room(
    kitchen: Kitchen,
) -> None:
    await in_process(kitchen)
    path = "/api/batches/kitchen-0001/dry-ice"
    body = (await kitchen.get(f"{path}?room_m3=30")).json()
    assert (body["name"], float(body["batch_g"])) == ("Plum sorbet", 600)
    assert (await kitchen.get(path)).json()["code"] == "no-room"
    assert (await kitchen.get("/api/batches/kitchen-0009/dry-ice?room_m3=3")).status_code == 404
    names = [one["name"] for one in body["cautions"]]
    begin = {"do": "begin step", "step": 1, "by": "Bo", "confirmed": names}
    refused = await kitchen.do(**begin)
    assert (refused.status_code, refused.json()["where"]) == (422, "room_m3")
    done = await kitchen.do(**begin, dry_ice={"room_m3": 30, "charge_g": "250.5"})
    assert done.status_code == 200, done.text
    [batch] = (await kitchen.get("/api/state")).json()["state"]["process"]["batches"]
    told = batch["steps"][0]["runs"][0]["dry_ice"]
    assert (told["counted_g"], told["asked"]["room_m3"]) == ("250.5", "30")
    assert len(told["portions"]) == 10


async def test_the_configured_room_counts_for_a_step_too() -> None:
    async with Kitchen(settings=HttpSettings(dry_ice={"room_m3": "50"})) as here:
        await in_process(here)
        names = [one["name"] for one in (await here.get("/api/dry-ice")).json()["cautions"]]
        done = await here.do("begin step", step=1, by="Bo", confirmed=names)
        assert done.status_code == 200, done.text


async def test_a_load_that_wastes_away_on_a_scale(kitchen: Kitchen) -> None:
    for n in range(300):  # 3 g a minute over half a minute
        await kitchen.show(f"{900 - n * 0.005:.1f}", 0.1)
    body = (await kitchen.get("/api/scales/bench/loss?want_g=500&wait_s=60")).json()
    assert body["loses"] is True
    assert abs(float(body["rate_g_min"]) - 3) <= 3 * float(body["u_rate_g_min"])
    assert float(body["weigh_out_g"]) == pytest.approx(503, abs=0.5)
    await kitchen.lose()
    after = (await kitchen.get("/api/scales/bench/loss")).json()
    assert (after["loses"], after["grams"]) == (None, None)


async def test_a_loss_asked_for_wrongly(kitchen: Kitchen) -> None:
    for query, code, where in (
        ("bench/loss?want_g=-1", "bad-number", "want_g"),
        ("bench/loss?wait_s=nan", "bad-number", "wait_s"),
        ("desk/loss", "unknown-scale", ""),
    ):
        answer = await kitchen.get(f"/api/scales/{query}")
        assert (answer.status_code, answer.json()["code"]) == (422, code)
        assert answer.json()["where"] == where


async def test_a_scale_without_an_interval_yet_has_no_loss() -> None:
    async with Kitchen(interval_g=None) as here:
        here.station.scales["bench"].losses = None
        answer = await here.get("/api/scales/bench/loss")
        assert answer.status_code in (200, 409)
