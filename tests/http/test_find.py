"""Search by typing: all words, in any order, without capitals and accents."""

from __future__ import annotations

import pytest

from tests.http.kitchen import Kitchen

pytestmark = pytest.mark.anyio


async def hits(kitchen: Kitchen, typed: str) -> list[tuple[str, str]]:
    answer = await kitchen.client.get("/api/find", params={"q": typed})
    assert answer.status_code == 200, answer.text
    return [(one["kind"], one["id"]) for one in answer.json()["found"]]


async def test_whatever_the_station_knows_is_found(larder: Kitchen) -> None:
    lemons = [("ingredient", "lemon-juice"), ("ingredient", "lemon-zest")]
    assert await hits(larder, "LEMON") == [("formula", "lemon-sorbet"), *lemons]
    assert await hits(larder, "sorbet  lémon") == [("formula", "lemon-sorbet")]
    assert await hits(larder, "lemon sorbet gelato") == []
    assert await hits(larder, "   ") == []
    assert (await larder.get("/api/find")).json() == {"found": []}
    body = {
        "ingredient": "water",
        "quantity_g": "1000",
        "lot": "W-77",
        "supplier": "Tap",
        "by": "Bo",
    }
    assert (await larder.post("/api/lots", body)).status_code == 201
    assert ("lot", "W-77") in await hits(larder, "w-77")
    assert ("lot", "W-77") in await hits(larder, "tap wat")


async def test_batches_are_found_by_id_name_person_and_day(kitchen: Kitchen) -> None:
    await kitchen.ready()
    for typed in ("0001", "test ada", "2026-11-25", "kitchen-0001"):
        assert ("batch", "kitchen-0001") in await hits(kitchen, typed), typed
    for typed in ("0002", "%", "_", "bo zo", "'", "\\"):
        assert ("batch", "kitchen-0001") not in await hits(kitchen, typed), typed
    assert (await kitchen.get(f"/api/find?q={'x' * 121}")).status_code == 422
