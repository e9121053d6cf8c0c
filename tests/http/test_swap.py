"""One ingredient for another, over REST."""

from __future__ import annotations

from typing import Any

import pytest

from tests.http.kitchen import Kitchen
from tests.http.test_solve import shop

pytestmark = pytest.mark.anyio
__all__ = ["shop"]


async def test_a_swap_of_a_saved_formula_and_of_a_draft(shop: Kitchen) -> None:
    asked: dict[str, Any] = {"of": "hazelnut-gelato", "old": "cream", "new": "usda-01145"}
    saved = (await shop.client.post("/api/swap", json=asked)).json()
    assert saved["same"] == "nearly"
    assert saved["ratio"]["by"] == "gram for gram"
    assert next(one for one in saved["values"] if one["of"] == "fat")["after"] == "11.362"
    assert saved["composition"]["parts"]["fat"]["percent"] == "11.362"
    source = (await shop.get("/api/formulas/hazelnut-gelato/source")).json()
    draft = {key: source[key] for key in ("name", "note", "kind", "cautions", "additions")}
    told = (await shop.client.post("/api/swap", json={**asked, "formula": draft})).json()
    assert told["additions"] == saved["additions"]
    alone = (await shop.client.post("/api/swap", json={**asked, "rebalance": False})).json()
    assert (alone["same"], alone["balance"]) == (None, None)
    nuts = {"of": "lemon-sorbet", "old": "sucrose", "new": "hazelnut-paste", "ratio": "0.5"}
    loud = (await shop.client.post("/api/swap", json=nuts)).json()
    assert loud["allergens"]["new"] == ["nuts (hazelnut)"]


@pytest.mark.parametrize(
    ("asked", "status", "code"),
    [
        ({"of": "unicorn"}, 404, "unknown-formula"),
        ({"of": ""}, 422, "no-formula"),
        ({"old": "unicorn"}, 422, "unknown-ingredient"),
        ({"new": "unicorn"}, 422, "unknown-ingredient"),
        ({"new": "cream"}, 422, "same-ingredient"),
        ({"ratio": "NaN"}, 422, "bad-ratio"),
        ({"ratio": "-1"}, 422, "bad-ratio"),
        ({"old": 5}, 422, "invalid-request"),
        ({"formula": {"name": "x", "additions": []}}, 422, "missing-field"),
    ],
)
async def test_bad_input_is_named(
    shop: Kitchen, asked: dict[str, Any], status: int, code: str
) -> None:
    body = {"of": "hazelnut-gelato", "old": "cream", "new": "whole-milk", **asked}
    answer = await shop.client.post("/api/swap", json=body)
    assert (answer.status_code, answer.json()["code"]) == (status, code), answer.text
