"""Vessels over the network: weighing one, naming it at the tare, and what is refused."""

from __future__ import annotations

import pytest

from tests.http.kitchen import Kitchen
from weighd.domain.errors import JournalError
from weighd.station.vessel_shelf import Kept

pytestmark = pytest.mark.anyio


class Book:
    """A store of vessels that fails when told to."""

    def __init__(self) -> None:
        self.kept: dict[str, Kept] = {}
        self.fail = False

    def keep(self, kept: Kept) -> None:
        if self.fail:
            raise JournalError("store-full", "The disk is full.")
        self.kept[kept.vessel.name] = kept

    def forget(self, name: str) -> bool:
        if self.fail:
            raise JournalError("store-full", "The disk is full.")
        return self.kept.pop(name, None) is not None


async def names(kitchen: Kitchen) -> list[str]:
    return [one["name"] for one in (await kitchen.get("/api/vessels")).json()["vessels"]]


async def test_one_is_weighed_named_at_the_tare_and_forgotten(kitchen: Kitchen) -> None:
    await kitchen.show("0.0")
    await kitchen.show("250")
    kept = await kitchen.post("/api/vessels", {"name": "steel bowl", "allow_g": "1"})
    assert (kept.status_code, kept.json()["mass_g"]) == (201, "250.0")
    assert await names(kitchen) == ["steel bowl"]
    assert (await kitchen.start(vessel="steel bowl")).status_code == 201
    await kitchen.show("300")
    wrong = await kitchen.do("tare", vessel="steel bowl")
    assert (wrong.status_code, wrong.json()["code"]) == (409, "other-vessel")
    done = await kitchen.do("tare", vessel="steel bowl", confirm=True)
    assert done.status_code == 200
    record = (await kitchen.get("/api/batches/kitchen-0001/record")).json()
    assert record["entries"][1]["body"]["vessel"]["fits"] is False
    forgotten = await kitchen.post("/api/vessels/steel%20bowl/forget")
    assert forgotten.status_code == 200
    assert await names(kitchen) == []


async def test_what_cannot_be_met_is_told(kitchen: Kitchen) -> None:
    for body, status, code in (
        ({"name": "x", "scale": "cellar"}, 422, "unknown-scale"),
        ({"name": " ", "mass_g": "5"}, 422, "bad-vessel"),
        ({"name": "x", "mass_g": "five"}, 422, "bad-vessel"),
        ({"name": "x", "mass_g": "5", "u_g": "-1"}, 422, "bad-vessel"),
        ({"name": "x", "mass_g": "5", "allow_g": "6"}, 422, "bad-vessel"),
        ({"mass_g": "5"}, 422, "invalid-request"),
        ({"name": "x", "colour": "red"}, 422, "invalid-request"),
    ):
        answer = await kitchen.post("/api/vessels", body)
        assert (answer.status_code, answer.json()["code"]) == (status, code), body
    gone = await kitchen.post("/api/vessels/none/forget")
    assert (gone.status_code, gone.json()["code"]) == (422, "unknown-vessel")
    start = await kitchen.start(vessel="none")
    assert (start.status_code, start.json()["code"]) == (422, "unknown-vessel")
    await kitchen.start()
    for do in ("keep vessel", "forget vessel"):
        assert (await kitchen.do(do)).json()["code"] == "unknown-command"


async def test_what_cannot_be_stored_is_not_known(kitchen: Kitchen) -> None:
    book = Book()
    kitchen.runner._vessels = book
    assert (await kitchen.post("/api/vessels", {"name": "a", "mass_g": "5"})).status_code == 201
    book.fail = True
    refused = await kitchen.post("/api/vessels", {"name": "b", "mass_g": "5"})
    assert (refused.status_code, refused.json()["code"]) == (503, "store-full")
    again = await kitchen.post("/api/vessels/a/forget")
    assert again.status_code == 503
    assert await names(kitchen) == ["a"]
    assert list(book.kept) == ["a"]


async def test_a_batch_is_weighed_by_difference_where_it_is_asked_for(kitchen: Kitchen) -> None:
    wrong = await kitchen.start(method="by guess")
    assert (wrong.status_code, wrong.json()["code"]) == (422, "bad-method")
    assert (await kitchen.start(method="by difference")).status_code == 201
    state = (await kitchen.get("/api/state")).json()["state"]
    assert {one["method"] for one in state["batch"]["additions"]} == {"by difference"}


async def test_a_formula_is_told_with_the_vessel_it_overflows(kitchen: Kitchen) -> None:
    await kitchen.post("/api/vessels", {"name": "pot", "mass_g": "5600"})
    told = (await kitchen.get("/api/formulas/test-ice?vessel=pot")).json()["warnings"]
    assert [one["code"] for one in told if one["code"] == "vessel-overflows"] == [
        "vessel-overflows"
    ]
    away = (await kitchen.get("/api/formulas/test-ice?vessel=pot&method=by%20difference")).json()
    assert not [one for one in away["warnings"] if one["code"] == "vessel-overflows"]
    gone = await kitchen.get("/api/formulas/test-ice?vessel=none")
    assert gone.json()["code"] == "unknown-vessel"
