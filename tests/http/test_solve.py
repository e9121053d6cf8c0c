"""Amounts from targets over REST."""

from __future__ import annotations

import shutil
from collections.abc import AsyncIterator
from pathlib import Path
from typing import Any

import httpx
import pytest

from tests.http.kitchen import Kitchen

pytestmark = pytest.mark.anyio
ROOT = Path(__file__).parents[2]


@pytest.fixture
async def shop(tmp_path: Path) -> AsyncIterator[Kitchen]:
    """The kitchen of the demonstration."""
    files = tmp_path / "formulas"
    shutil.copytree(ROOT / "weighd/data/formulas", files)
    async with Kitchen(files=files) as one:
        yield one


async def solve(kitchen: Kitchen, **asked: Any) -> httpx.Response:
    return await kitchen.client.post("/api/solve", json=asked)


async def test_a_saved_formula_is_brought_to_its_targets(shop: Kitchen) -> None:
    answer = await solve(
        shop,
        of="hazelnut-gelato",
        targets={"fat": "9", "freezing_point": "-2.6±0.02", "hazelnut-paste": "224 g"},
        kind="gelato",
        size="40 servings of 60 g",
    )
    assert answer.status_code == 200, answer.text
    out = answer.json()
    assert out["met"] is True
    assert out["conflict"] is None
    assert float(out["batch_g"]) == pytest.approx(2400, abs=0.05)
    fat, point, *of_class = out["targets"]
    assert (fat["value"], fat["met"], point["unit"]) == ("9.000", True, "°C")
    assert {tuple(one["of"]) for one in of_class} >= {("msnf",), ("lactose_in_water",)}
    paste = next(one for one in out["amounts"] if one["ingredient"] == "hazelnut-paste")
    assert (paste["grams"], paste["kept"]) == ("224.00", False)
    assert out["additions"][0] == {
        "ingredient": "whole-milk",
        "target_g": next(
            one["grams"] for one in out["amounts"] if one["ingredient"] == "whole-milk"
        ),
        "tolerance": "1 %",
    }
    assert out["composition"]["parts"]["fat"]["percent"] == "9.000"


async def test_a_draft_with_an_ingredient_more(shop: Kitchen) -> None:
    draft = {
        "name": "A trial",
        "additions": [
            {"ingredient": "whole-milk", "target": "800 g", "tolerance": "1 %"},
            {"ingredient": "sucrose", "target": "200 g", "tolerance": "1 %"},
        ],
    }
    out = (await solve(shop, formula=draft, use=["cream", "milk-powder"],
                       targets={"fat": "8", "msnf": "10", "sugars": "16"})).json()  # fmt: skip
    assert out["met"] is True
    assert [one["ingredient"] for one in out["additions"]] == [
        "whole-milk", "sucrose", "cream", "milk-powder",
    ]  # fmt: skip
    alone = (await solve(shop, formula=draft, targets={"fat": ">=8"})).json()
    assert alone["met"] is False
    assert alone["conflict"]["ties"][0]["of"] == ["fat"]
    assert alone["conflict"]["words"].startswith("Fat at least 8 % cannot be had")
    assert "the most fat that can be had is 3.2" in alone["conflict"]["words"]


async def test_a_faulty_draft_names_its_fields(shop: Kitchen) -> None:
    draft = {"name": "x", "additions": [{"ingredient": "milk", "target": "lots"}]}
    answer = await solve(shop, formula=draft, targets={"fat": "8"})
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["where"].startswith("additions[1]")


async def test_of_ingredients_alone(shop: Kitchen) -> None:
    out = (
        await solve(
            shop,
            use=["cream", "whole-milk", "milk-powder", "sucrose", "usda-01145"],
            targets={"fat": "14", "msnf": "10", "sugars": "15", "usda-01145": "0 g"},
            size="1000",
        )
    ).json()
    assert out["met"] is True
    assert out["formula"] is None


@pytest.mark.parametrize(
    ("asked", "status", "code"),
    [
        ({"of": "unicorn", "targets": {"fat": "5"}}, 404, "unknown-formula"),
        ({"targets": {"fat": "5"}}, 422, "no-ingredients"),
        ({"of": "hazelnut-gelato", "targets": {"taste": "5"}}, 422, "unknown-quantity"),
        ({"of": "hazelnut-gelato", "targets": {"fat": "NaN"}}, 422, "bad-target"),
        ({"of": "hazelnut-gelato", "targets": {"fat": "6..5"}}, 422, "bad-target"),
        ({"of": "hazelnut-gelato", "targets": {"fat": 5}}, 422, "invalid-request"),
        ({"of": "hazelnut-gelato", "aim": "best"}, 422, "bad-aim"),
        ({"of": "hazelnut-gelato", "size": "lots"}, 422, "bad-size"),
        ({"of": "hazelnut-gelato", "kind": "attic"}, 422, "unknown-class"),
        ({"of": "hazelnut-gelato", "overrun": "x"}, 422, "bad-number"),
        ({"of": "hazelnut-gelato", "use": ["unicorn"]}, 422, "unknown-ingredient"),
        ({"use": ["cream"], "size": "5 L"}, 422, "bad-size"),
        ({"use": ["cream"] * 1_000}, 422, "invalid-request"),
        ({"of": "hazelnut-gelato", "targets": {"density": "0.5"}}, 422, "needs-overrun"),
        (
            {"formula": {"name": "x", "additions": [{"ingredient": "water", "target": "1 g",
                       "tolerance": "1 %"}] * 600}},
            422,
            "bad-field",
        ),
    ],
)  # fmt: skip
async def test_bad_input_is_named(
    shop: Kitchen, asked: dict[str, Any], status: int, code: str
) -> None:
    answer = await solve(shop, **asked)
    assert (answer.status_code, answer.json()["code"]) == (status, code), answer.text
    assert answer.json()["detail"]


async def test_a_body_of_ten_thousand_additions_is_too_large(shop: Kitchen) -> None:
    row = {"ingredient": "water", "target": "1 g", "tolerance": "1 %"}
    answer = await solve(shop, formula={"name": "x", "additions": [row] * 10_000})
    assert (answer.status_code, answer.json()["code"]) == (413, "body-too-large")


ODD = ("٣", "½", "5\n6", "..", "±", "1" * 80, "5 %%", "\u202e5", "-0", "0.0000001", "9" * 9, "=>5")


@pytest.mark.parametrize("text", ODD)
async def test_whatever_is_typed_is_taken_or_refused_in_words(shop: Kitchen, text: str) -> None:
    for asked in (
        {"targets": {"fat": text}},
        {"targets": {"cream": f"{text} g"}},
        {"targets": {text: "5"}},
        {"size": text},
        {"overrun": text},
        {"aim": text},
        {"kind": text},
        {"use": [text]},
    ):
        answer = await solve(shop, of="hazelnut-gelato", **asked)
        assert answer.status_code in (200, 422), (asked, answer.text)
        if answer.status_code == 422:
            assert answer.json()["detail"]
    for changed in ({"ratio": text}, {"old": text}, {"new": text}, {"of": text}):
        body = {"of": "hazelnut-gelato", "old": "cream", "new": "usda-01145", **changed}
        answer = await shop.client.post("/api/swap", json=body)
        assert answer.status_code in (200, 404, 422), (changed, answer.text)
