"""Ingredients changed over REST; what is refused writes nothing."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tests.http.kitchen import Kitchen
from tests.http.pantry_asked import everything, problem, send

pytestmark = pytest.mark.anyio

DRAFT = {
    "name": "Plum purée",
    "composition": {
        "water": "85,2",
        "other_solids": "3",
        "sugars": {"glucose": "5", "fructose": "3"},
    },
    "cost_per_kg": "4,20",
    "shelf_life_days": "180",
    "source": "the label",
}


# --- ingredients ------------------------------------------------------------------------------


async def test_ingredients_are_listed_with_their_gaps_and_users(larder: Kitchen) -> None:
    answer = await larder.get("/api/ingredients")
    body = answer.json()
    assert answer.headers["etag"] == f'"{body["tag"]}"'
    by_id = {one["id"]: one for one in body["ingredients"]}
    assert by_id["lemon-juice"]["formulas"] == ["lemon-sorbet"]
    assert by_id["yeast"]["missing"][0] == "composition"
    assert by_id["yeast"]["composition"] == {}  # never zero
    assert by_id["water"]["composition"] == {"water": "100"}
    assert by_id["vanilla-paste"]["instead"][0]["source"] == "common practice, no source"
    one = (await larder.get("/api/ingredients/cream")).json()
    assert (one["cost_per_kg"], one["tag"]) == ("4.60", body["tag"])
    assert problem(await larder.get("/api/ingredients/ghost")) == (404, "no-ingredient", "id")


async def test_an_ingredient_is_added_changed_and_taken_away(larder: Kitchen) -> None:
    tag = (await larder.get("/api/ingredients")).json()["tag"]
    made = await send(larder, "PUT", "/api/ingredients/plum", DRAFT, tag)
    assert made.status_code == 200, made.text
    assert made.json()["composition"]["water"] == "85.2"
    assert made.json()["left_g"] == "3.8"
    again = await send(larder, "PUT", "/api/ingredients/plum", DRAFT, tag)  # the answer was lost
    assert (again.status_code, again.json()["tag"]) == (200, made.json()["tag"])
    late = await send(larder, "PUT", "/api/ingredients/plum", {**DRAFT, "name": "P"}, tag)
    assert problem(late) == (412, "changed-since", "ingredients.toml")
    gone = await send(larder, "DELETE", "/api/ingredients/plum", None, made.json()["tag"])
    assert gone.status_code == 200
    used = await send(larder, "DELETE", "/api/ingredients/water", None, gone.json()["tag"])
    assert problem(used) == (409, "ingredient-in-use", "water")
    assert "lemon-sorbet" in used.json()["detail"]


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"composition": {"fat": "-3"}}, "composition.fat"),
        ({"composition": {"fat": "−3"}}, "composition.fat"),
        ({"composition": {"fat": "NaN"}}, "composition.fat"),
        ({"composition": {"fat": "60", "water": "50"}}, "plum.composition"),
        ({"composition": {"fat": "12 oz"}}, "composition.fat"),
        ({"instead": [{"ingredient": "plum", "ratio": "1"}]}, "plum.instead[1].ingredient"),
        ({"instead": [{"ingredient": "water", "ratio": "0"}]}, "plum.instead[1].ratio"),
    ],
)
async def test_what_cannot_be_is_told_at_its_field(
    larder: Kitchen, folder: Path, given: dict[str, Any], field: str
) -> None:
    before, tag = everything(folder), (await larder.get("/api/ingredients")).json()["tag"]
    checked = await larder.post("/api/ingredients/plum/check", {**DRAFT, **given})
    put = await send(larder, "PUT", "/api/ingredients/plum", {**DRAFT, **given}, tag)
    for answer in (checked, put):
        status, _, where = problem(answer)
        assert status == 422
        assert where.endswith(field)
    assert everything(folder) == before


async def test_a_check_tells_what_is_missing(larder: Kitchen) -> None:
    answer = await larder.post("/api/ingredients/plum/check", DRAFT)
    assert answer.json()["left_g"] == "3.8"
    assert "fat" in answer.json()["missing"]


@pytest.mark.parametrize(
    "path",
    [
        "/api/ingredients/..%2Fx",
        "/api/ingredients/%2e%2e",
        "/api/ingredients/A",
        "/api/formulas/..%2Fx",
        "/api/formulas/%2e%2e%2fx",
        "/api/formulas/ingredients",
        "/api/formulas/x.toml",
        "/api/limits/..%2Flimits",
        "/api/limits/X",
    ],
)
async def test_paths_lead_nowhere(larder: Kitchen, folder: Path, path: str) -> None:
    before = everything(folder)
    body = {"name": "X", "limits": []} if "limits" in path else {"name": "X"}
    for headers in ({"If-Match": '"0"'}, {"If-None-Match": "*"}):
        for method in ("PUT", "DELETE"):
            answer = await larder.client.request(method, path, json=body, headers=headers)
            assert 400 <= answer.status_code < 500, answer.text
            assert answer.json()["code"] in (
                "not-found", "bad-id", "unknown-formula", "method-not-allowed", "no-ingredient",
                "no-tag", "missing-field", "invalid-request",
            ), answer.text  # fmt: skip
    assert everything(folder) == before


async def test_a_change_says_what_it_was_made_from(larder: Kitchen, folder: Path) -> None:
    before = everything(folder)
    for method, path, body in (
        ("PUT", "/api/ingredients/plum", DRAFT),
        ("DELETE", "/api/ingredients/yeast", None),
        ("PUT", "/api/formulas/lemon-sorbet", {"name": "X"}),
        ("DELETE", "/api/formulas/lemon-sorbet", None),
        ("PUT", "/api/limits/gelato", {"name": "X"}),
    ):
        assert problem(await send(larder, method, path, body)) == (428, "no-tag", "If-Match")
        bad = await larder.client.request(method, path, json=body, headers={"If-Match": "a b"})
        assert problem(bad)[1] == "no-tag"
    assert everything(folder) == before


async def test_another_site_changes_nothing(larder: Kitchen, folder: Path) -> None:
    before, tag = everything(folder), (await larder.get("/api/ingredients")).json()["tag"]
    headers = {"If-Match": tag, "Origin": "http://elsewhere.example"}
    answer = await larder.client.put("/api/ingredients/plum", json=DRAFT, headers=headers)
    assert problem(answer)[1] == "foreign-origin"
    assert everything(folder) == before


async def test_half_a_character_is_refused(larder: Kitchen, folder: Path) -> None:
    before, tag = everything(folder), (await larder.get("/api/ingredients")).json()["tag"]
    answer = await larder.client.put(
        "/api/ingredients/plum",
        content=json.dumps({**DRAFT, "source": "\ud800"}),
        headers={"If-Match": tag, "Content-Type": "application/json"},
    )
    assert problem(answer) == (422, "invalid-request", "body.source")
    assert everything(folder) == before


async def test_without_files_nothing_can_be_changed(kitchen: Kitchen) -> None:
    assert problem(await kitchen.get("/api/ingredients"))[:2] == (404, "no-pantry")
    rows = (await kitchen.get("/api/ingredient-table")).json()["ingredients"]
    assert len(rows) >= 40
    assert all(one["source"] for one in rows)


CSV = (
    "name;water;fat;sugars.sucrose;colour;cost_per_kg\n"
    "Plum;85,2;0,3;;blue;4,20\n"
    "Jam;30;;60;red;-\n"
    "Wrong;90;20;;;\n"
    "Odd;a lot;;;;\n"
    "Plum;80;;;;\n"
    "Salt;100;;;;\n"
)


async def test_a_table_is_looked_at_and_taken(larder: Kitchen, folder: Path) -> None:
    before = everything(folder)
    seen = (await larder.post("/api/ingredient-import/look", {"csv": CSV})).json()
    assert (seen["strange"], seen["columns"][0]) == (["colour"], "name")
    told = [(row["line"], row["there"], (row["error"] or {}).get("where")) for row in seen["rows"]]
    assert told == [
        (2, False, None),
        (3, False, None),
        (4, False, "table.csv, line 4"),
        (5, False, "table.csv, line 5, water"),
        (6, False, "table.csv, line 6, id"),
        (7, True, None),
    ]
    assert seen["rows"][1]["ingredient"]["cost_per_kg"] == ""  # missing, not zero
    assert everything(folder) == before
    took = await send(larder, "POST", "/api/ingredient-import", {"csv": CSV}, seen["tag"])
    assert (took.json()["taken"], took.json()["left"]) == (["jam", "plum"], ["salt"])
    tag = took.json()["tag"]
    only = {"csv": "\n".join(CSV.splitlines()[:3])}
    twice = await send(larder, "POST", "/api/ingredient-import", only, seen["tag"])
    assert (twice.status_code, twice.json()["tag"]) == (200, tag)  # the answer was lost
    again = await send(larder, "POST", "/api/ingredient-import", {"csv": CSV}, tag)
    assert problem(again)[:2] == (412, "exists-already")
    over = {"csv": CSV, "replace": True}
    took = await send(larder, "POST", "/api/ingredient-import", over, tag)
    assert "salt" in took.json()["taken"]
    for text in ("", "no,table", "name\n", 'name\n"'):
        answer = await larder.post("/api/ingredient-import/look", {"csv": text})
        if answer.status_code == 200:
            assert not [row for row in answer.json()["rows"] if row["ingredient"]]
        else:
            assert problem(answer)[:2] == (422, "bad-ingredients")
    large = {"csv": "name\n" + "x\n" * 100_000}
    assert problem(await larder.post("/api/ingredient-import/look", large))[:2] == (
        422,
        "bad-ingredients",
    )
