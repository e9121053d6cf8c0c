"""Revisions of a formula over REST: which there are, two side by side, one taken up again."""

from __future__ import annotations

from collections.abc import AsyncIterator
from pathlib import Path
from typing import Any

import pytest

from tests.http.kitchen import Kitchen
from tests.http.pantry_asked import problem, send
from tests.http.test_others import sharing
from weighd.domain.formula_shared import Published

pytestmark = pytest.mark.anyio
SORBET = "/api/formulas/lemon-sorbet"


@pytest.fixture
async def keeping(folder: Path) -> AsyncIterator[Kitchen]:
    async with Kitchen(files=folder, keep=True) as one:
        yield one


async def draft_of(kitchen: Kitchen) -> tuple[dict[str, Any], str]:
    source = (await kitchen.get(f"{SORBET}/source")).json()
    keys = ("name", "note", "kind", "cautions", "additions")
    return {key: source[key] for key in keys}, source["tag"]


async def saved(kitchen: Kitchen, target: str) -> str:
    """Save the sorbet with another amount of its first addition; its revision."""
    draft, tag = await draft_of(kitchen)
    draft["additions"][0]["target"] = target
    kitchen.clock.t += 60
    assert (await send(kitchen, "PUT", SORBET, draft, tag)).status_code == 200
    told: str = (await kitchen.get(SORBET)).json()["revision"]
    return told


async def listed(kitchen: Kitchen) -> dict[str, Any]:
    answer = await kitchen.get(f"{SORBET}/revisions")
    assert answer.status_code == 200
    told: dict[str, Any] = answer.json()
    return told


async def test_what_is_saved_is_kept_and_told_newest_first(keeping: Kitchen, folder: Path) -> None:
    first = (await keeping.get(SORBET)).json()["revision"]
    second = await saved(keeping, "300 g")
    (folder / "lemon-sorbet.toml").write_text(
        (folder / "lemon-sorbet.toml").read_text("utf-8").replace('"300 g"', '"301 g"'), "utf-8"
    )
    third = (await keeping.get(SORBET)).json()["revision"]
    told = await listed(keeping)
    assert (told["now"], told["away"], told["problems"]) == (third, 0, [])
    assert {one["revision"]: one["met"][0]["where"] for one in told["revisions"]} == {
        first: "file", second: "page", third: "file",
    }  # fmt: skip
    assert [one["now"] for one in told["revisions"]] == [True, False, False]
    assert [one["batches"]["count"] for one in told["revisions"]] == [0, 0, 0]


async def test_a_change_of_an_ingredient_makes_a_revision_too(keeping: Kitchen) -> None:
    before = (await keeping.get(SORBET)).json()["revision"]
    larder = (await keeping.get("/api/ingredients")).json()
    sugar = next(one for one in larder["ingredients"] if "lemon-sorbet" in one["formulas"])
    keys = ("name", "allergens", "caution", "composition", "density_g_ml")
    draft = {**{key: sugar[key] for key in keys}, "density_g_ml": "1.234"}
    path = f"/api/ingredients/{sugar['id']}"
    assert (await send(keeping, "PUT", path, draft, larder["tag"])).status_code == 200
    told = await listed(keeping)
    assert (told["revisions"][0]["met"][0]["where"]) == "ingredients"
    compared = (await keeping.get(f"{SORBET}/changes?then={before}")).json()
    [row] = [one for one in compared["additions"] if one["facts"]]
    assert (row["how"], row["change_g"]) == ("changed", "0")
    assert {"of": "density_g_ml", "then": None, "now": "1.234"} in [
        {**one, "then": None} for one in row["facts"]
    ]


async def test_batches_keep_the_revision_that_they_were_opened_with(keeping: Kitchen) -> None:
    """Also where the folder of kept ones was emptied: the record holds the formula whole."""
    assert (await keeping.start(formula="lemon-sorbet")).status_code == 201
    await saved(keeping, "300 g")
    for one in (keeping.app.state.room.revisions._folder / "lemon-sorbet").iterdir():
        one.unlink()
    told = await listed(keeping)
    now, then = told["revisions"]
    assert (now["now"], now["met"], now["batches"]["count"]) == (True, [], 0)
    assert (then["met"][0]["where"], then["batches"]["count"]) == ("batch", 1)
    assert then["batches"]["newest"][0]["batch"] == "kitchen-0001"
    asked = await keeping.get(f"{SORBET}/changes?then={then['revision'][:6]}")
    assert asked.json()["additions"][0]["now"]["target_g"] == "300"


async def test_what_came_down_is_told_with_its_station(keeping: Kitchen, folder: Path) -> None:
    others = sharing(keeping, folder)
    formula = keeping.app.state.room.shelf.get("lemon-sorbet")
    first = formula.revision
    content = {**formula.content(), "note": "Invented elsewhere."}
    from weighd.domain.formula import revision_of

    others.shelf.received.put(
        [
            Published(
                1, "lemon-sorbet", revision_of(content), "Lemon sorbet", content, "hot", "Bo",
                "2026-10-01T08:00:00.000Z",
            )
        ]
    )  # fmt: skip
    told = await listed(keeping)
    assert [one["revision"] for one in told["revisions"]] == [first, revision_of(content)]
    assert told["revisions"][1]["met"] == [
        {"where": "shared", "at": "2026-10-01T08:00:00.000Z", "by": "Bo", "station": "hot"}
    ]
    texts = (await keeping.get(f"{SORBET}/changes?then={revision_of(content)}")).json()["texts"]
    assert [(one["of"], one["then"]) for one in texts] == [("note", "Invented elsewhere.")]


async def test_two_are_told_side_by_side_as_each_is_told_alone(keeping: Kitchen) -> None:
    """Both compositions are those of ``/composition``; the differences are theirs."""
    points = ",".join(str(-n) for n in range(1, 21))
    composition = f"{SORBET}/composition?at={points}"
    before = (await keeping.get(composition)).json()
    first = before["revision"]
    await saved(keeping, "300 g")
    after = (await keeping.get(composition)).json()
    told = (await keeping.get(f"{SORBET}/changes?then={first}&now=now")).json()
    assert (told["then"]["revision"], told["now"]["revision"]) == (first, after["revision"])
    assert told["freezing"] == {"then": before["freezing"], "now": after["freezing"]}
    fat = {one["of"]: one for one in told["differences"]}["total_solids"]
    sides = [float(fat[key]["value"]) for key in ("then", "now", "change")]
    alone = [float(one["total_solids"]["percent"]) for one in (before, after)]
    assert sides == pytest.approx([*alone, alone[1] - alone[0]], abs=0.0011)
    for key, whole in (("then", before), ("now", after)):
        limits = [(one["of"], one[key]["standing"]) for one in told["limits"]]
        assert limits == [(one["of"], one["standing"]) for one in whole["limits"]]
    same = (await keeping.get(f"{SORBET}/changes?then=now")).json()
    assert (same["nothing"], same["change_g"]) == (True, "0")


async def test_one_is_taken_up_again_as_a_new_revision(keeping: Kitchen) -> None:
    first = (await keeping.get(SORBET)).json()["revision"]
    second = await saved(keeping, "300 g")
    source = (await keeping.get(f"{SORBET}/revisions/{first}/source")).json()
    assert (source["revision"], source["otherwise"], source["stays"]) == (first, [], [])
    assert (source["there"], source["kept"]) == (True, ["scenario"])
    keys = ("name", "note", "kind", "cautions", "additions")
    draft = {key: source[key] for key in keys}
    assert (await send(keeping, "PUT", SORBET, draft, "0" * 32)).status_code == 412
    assert (await send(keeping, "PUT", SORBET, draft, source["tag"])).status_code == 200
    told = await listed(keeping)
    assert told["now"] == first
    assert {one["revision"] for one in told["revisions"]} == {first, second}


async def test_what_is_otherwise_by_now_is_told(keeping: Kitchen, folder: Path) -> None:
    first = (await keeping.get(SORBET)).json()["revision"]
    path = folder / "lemon-sorbet.toml"
    text = path.read_text("utf-8").replace("scenario =", "product = { keeps_days = 5 }\nscenario =")
    path.write_text(text, "utf-8")
    list_ = folder / "ingredients.toml"
    list_.write_text(list_.read_text("utf-8").replace("Caster sugar", "Cane sugar"), "utf-8")
    source = (await keeping.get(f"{SORBET}/revisions/{first}/source")).json()
    assert source["stays"] == ["product"]
    assert source["otherwise"] == [
        {"ingredient": "sucrose", "name": "Caster sugar", "why": "changed"}
    ]


async def test_of_a_formula_that_was_put_away_its_revisions_stay(keeping: Kitchen) -> None:
    _, tag = await draft_of(keeping)
    await saved(keeping, "300 g")
    _, tag = await draft_of(keeping)
    assert (await send(keeping, "DELETE", SORBET, None, tag)).status_code == 200
    told = await listed(keeping)
    assert (told["now"], len(told["revisions"])) == (None, 2)
    one = told["revisions"][0]["revision"]
    assert (await keeping.get(f"{SORBET}/revisions/{one}/source")).json()["there"] is False
    missing = await keeping.get(f"{SORBET}/changes?then={one}")
    assert problem(missing)[:2] == (404, "unknown-revision")


@pytest.mark.parametrize(
    ("path", "code"),
    [
        ("/api/formulas/no-ice/revisions", "unknown-formula"),
        (f"{SORBET}/changes?then=0000", "unknown-revision"),
        (f"{SORBET}/changes?then=", "unknown-revision"),
        (f"{SORBET}/revisions/zz/source", "unknown-revision"),
    ],
)
async def test_what_is_not_there_is_told(keeping: Kitchen, path: str, code: str) -> None:
    assert problem(await keeping.get(path))[:2] == (404, code)


async def test_a_class_that_is_none_is_told(keeping: Kitchen) -> None:
    answer = await keeping.get(f"{SORBET}/changes?then=now&kind=soup")
    assert problem(answer)[:2] == (422, "unknown-class")
