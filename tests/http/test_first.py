"""The first start over the network: only at the station itself, never amid a batch."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from tests.http.devices import ELSEWHERE, paired, some_devices
from tests.http.kitchen import Kitchen
from weighd.main.first_formulas import FirstFormulas

pytestmark = pytest.mark.anyio


class Noted:
    """A first start that writes down what it is asked."""

    def __init__(self) -> None:
        self.asked: list[Any] = []

    def picture(self, *, again: bool = False) -> dict[str, Any]:
        self.asked.append(("look", again))
        return {"places": []}

    def learn(self, key: str) -> dict[str, Any]:
        self.asked.append(("learn", key))
        return {"places": []}

    def add(self, asked: Mapping[str, str], *, more: bool) -> dict[str, Any]:
        self.asked.append((dict(asked), more))
        return {"scale": "bench", "anew": True}

    def name(self, name: str) -> None:
        self.asked.append(("name", name))


def set_up(kitchen: Kitchen, folder: Path) -> Noted:
    noted = Noted()
    room = kitchen.app.state.room
    formulas = FirstFormulas(folder / "formulas")
    kitchen.app.state.room = replace(room, first=noted, first_formulas=formulas)
    return noted


async def test_what_is_asked_comes_to_whoever_sets_up(kitchen: Kitchen, tmp_path: Path) -> None:
    noted = set_up(kitchen, tmp_path)
    for path, body in (
        ("look", {"again": True}),
        ("learn", {"place": "serial:/dev/ttyUSB0"}),
        ("scale", {"place": "simulated"}),
        ("scale", {"place": "x", "max_g": "6000", "interval_g": 0.5, "name": "b-2", "more": True}),
        ("name", {"name": "Cy"}),
    ):
        assert (await kitchen.post(f"/api/first/{path}", body)).status_code == 200, path
    assert noted.asked == [
        ("look", True),
        ("learn", "serial:/dev/ttyUSB0"),
        ({"place": "simulated", "name": "", "max_g": "", "interval_g": ""}, False),
        ({"place": "x", "name": "b-2", "max_g": "6000", "interval_g": "0.5"}, True),
        ("name", "Cy"),
    ]
    assert (await kitchen.get("/api/operators")).json()["operators"] == ["Ada", "Bo", "Cy"]


async def test_a_formula_comes_from_an_example_or_a_list(kitchen: Kitchen, tmp_path: Path) -> None:
    set_up(kitchen, tmp_path)
    examples = (await kitchen.get("/api/first/formulas")).json()["examples"]
    assert {"lemon-sorbet", "hazelnut-gelato"} <= {one["id"] for one in examples}
    read = await kitchen.post("/api/first/list", {"text": "500 g milk"})
    assert (read.json()["taken"], read.json()["new"]) == (1, ["milk"])
    made = await kitchen.post("/api/first/formula", {"of": "example", "id": "lemon-sorbet"})
    assert made.json() == {"formula": "lemon-sorbet"}
    mine = {"of": "list", "name": "Ice", "text": "500 g milk"}
    assert (await kitchen.post("/api/first/formula", mine)).json() == {"formula": "ice"}
    for body, status, code in (
        ({"of": "list", "text": "500 g milk"}, 409, "no-name"),
        ({"of": "list", "name": "x", "text": "milk"}, 422, "nothing-in-it"),
        ({"of": "example", "id": "../secret"}, 422, "unknown-formula"),
        ({"of": "example", "id": "no-such"}, 422, "unknown-formula"),
    ):
        answer = await kitchen.post("/api/first/formula", body)
        assert answer.json()["code"] == code, body
        assert answer.status_code in (status, 404)


async def test_not_in_the_midst_of_a_batch_nor_with_figures_that_are_none(
    kitchen: Kitchen, tmp_path: Path
) -> None:
    noted = set_up(kitchen, tmp_path)
    for wrong in ({"place": "x", "max_g": "much"}, {"place": "x", "name": "a b"}, {"place": ""}):
        assert (await kitchen.post("/api/first/scale", wrong)).status_code in (400, 409, 422)
    await kitchen.ready()
    held = await kitchen.post("/api/first/scale", {"place": "simulated", "more": True})
    assert (held.status_code, held.json()["code"], noted.asked) == (409, "batch-open", [])


async def test_from_elsewhere_nothing_is_set_up_but_by_a_device_that_stands_in(
    tmp_path: Path,
) -> None:
    async with Kitchen(devices=some_devices(), settings=ELSEWHERE) as kitchen:
        noted = set_up(kitchen, tmp_path)
        tablet, own = kitchen.device(), kitchen.device(address="192.0.2.10")
        await paired(kitchen, tablet, "work")
        await paired(kitchen, own, "all")
        for path, body in (
            ("look", {}),
            ("learn", {"place": "x"}),
            ("scale", {"place": "simulated"}),
            ("name", {"name": "Eve"}),
            ("formula", {"of": "example", "id": "lemon-sorbet"}),
        ):
            there = await tablet.post(f"/api/first/{path}", json=body)
            assert (there.status_code, there.json()["code"]) == (403, "not-here"), path
        assert noted.asked == []
        assert (await own.post("/api/first/look", json={})).status_code == 200


async def test_a_station_that_is_not_set_up_so_says_it(kitchen: Kitchen) -> None:
    answer = await kitchen.post("/api/first/look", {})
    assert (answer.status_code, answer.json()["code"]) == (404, "no-first-start")
    assert (await kitchen.get("/api/first/formulas")).status_code == 404
