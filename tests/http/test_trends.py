"""How well things are weighed, over the network."""

from __future__ import annotations

import pytest

from tests.http.kitchen import Kitchen
from tests.station.trend_world import weighings

pytestmark = pytest.mark.anyio


async def filled(kitchen: Kitchen) -> Kitchen:
    for entries in weighings():
        kitchen.journal.append(entries)
    return kitchen


async def test_groups_and_one_of_them(kitchen: Kitchen) -> None:
    await filled(kitchen)
    told = (await kitchen.get("/api/trends")).json()
    assert told["by"] == "ingredient"
    assert told["groups"][0]["key"] == "cream"
    one = (await kitchen.get("/api/trends/ingredient/cream")).json()
    assert len(one["points"]) == one["n"] == 30
    assert {key: one[key] for key in told["groups"][0]} == told["groups"][0]
    few = (await kitchen.get("/api/trends?by=scale&last=6&since=2026-03-01")).json()
    assert sum(it["n"] for it in few["groups"]) == 6
    empty = (await kitchen.get("/api/trends?since=2027-01-01")).json()
    assert empty["groups"] == []


@pytest.mark.parametrize(
    ("path", "status", "code"),
    [
        ("/api/trends?by=weather", 422, "unknown-grouping"),
        ("/api/trends?since=tomorrow", 422, "bad-time"),
        ("/api/trends?last=1", 422, "invalid-request"),
        ("/api/trends?last=1000000", 422, "invalid-request"),
        ("/api/trends/weather/rain", 422, "unknown-grouping"),
        ("/api/trends/scale/cellar", 404, "none-weighed"),
        ("/api/trends/scale/" + "x" * 200, 422, "invalid-request"),
    ],
)
async def test_what_cannot_be_asked(kitchen: Kitchen, path: str, status: int, code: str) -> None:
    await filled(kitchen)
    answer = await kitchen.get(path)
    assert (answer.status_code, answer.json()["code"]) == (status, code)
