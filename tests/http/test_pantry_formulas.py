"""Formulas and limits changed over REST; what is refused writes nothing."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.http.kitchen import Kitchen
from tests.http.pantry_asked import everything, problem, send

pytestmark = pytest.mark.anyio


# --- formulas ---------------------------------------------------------------------------------


async def test_a_draft_is_composed_as_the_saved_one_is(larder: Kitchen, folder: Path) -> None:
    before = everything(folder)
    source = (await larder.get("/api/formulas/lemon-sorbet/source")).json()
    assert source["kept"] == ["scenario"]
    draft = {key: source[key] for key in ("name", "note", "kind", "cautions", "additions")}
    saved = (await larder.get("/api/formulas/lemon-sorbet/composition?overrun=30")).json()
    asked = {"formula": draft, "of": "lemon-sorbet", "overrun": "30"}
    told = (await larder.post("/api/compose", asked)).json()
    for key in saved:
        if key not in ("formula", "revision"):
            assert told[key] == saved[key], key
    assert told["revision"] == saved["revision"]
    draft["additions"][2]["target"] = "400,5 g"
    other = (await larder.post("/api/compose", {"formula": draft})).json()
    assert other["mass_g"] != saved["mass_g"]
    assert other["batch_g"] == "1807.3"
    assert everything(folder) == before


async def test_every_bad_row_is_told_at_its_place(larder: Kitchen) -> None:
    good = {"ingredient": "water", "target": "1 kg", "tolerance": "1 %"}
    rows = [
        good,
        {**good, "target": "-3 g"},
        {**good, "target": "3 cups"},
        {**good, "target": "NaN g"},
        {**good, "ingredient": "../x"},
        {**good, "tolerance": "2"},
        {**good, "method": "by eye"},
        {**good, "target": ""},
    ]
    answer = await larder.post("/api/compose", {"formula": {"additions": rows}})
    assert problem(answer) == (422, "bad-amount", "additions[2].target")
    assert [one["where"] for one in answer.json()["errors"]] == [
        "additions[2].target",
        "additions[3].target",
        "additions[4].target",
        "additions[5].ingredient",
        "additions[6].tolerance",
        "additions[7].method",
        "additions[8].target",
    ]
    assert "not a unit" in answer.json()["errors"][1]["message"]
    for formula, where in (
        ({"additions": []}, "additions"),
        ({"additions": [good] * 201}, "additions"),
        ({"additions": [{**good, "carrier": "salt"}]}, "additions[1].carrier"),
        ({"additions": [{**good, "target": "2000 kg"}]}, "additions[1].target"),
        ({"additions": [{**good, "target": "600 kg"}] * 2}, "additions"),
    ):
        answer = await larder.post("/api/compose", {"formula": formula})
        assert problem(answer)[::2] == (422, where)
    one = {"formula": {"additions": [good]}}
    assert problem(await larder.post("/api/compose", {**one, "of": "../x"}))[0] == 404
    assert problem(await larder.post("/api/compose", {**one, "kind": "attic"}))[0] == 422
    assert problem(await larder.post("/api/compose", {**one, "overrun": "-1"}))[0] == 422
    assert (await larder.post("/api/compose", one)).status_code == 200


async def test_ten_thousand_additions_and_a_megabyte_are_refused(
    larder: Kitchen, folder: Path
) -> None:
    before = everything(folder)
    row = {"ingredient": "water", "target": "1 g", "tolerance": "1 %"}
    for formula in ({"additions": [row] * 10_000}, {"name": "x" * 1_000_000}):
        for method, path, body in (
            ("POST", "/api/compose", {"formula": formula}),
            ("PUT", "/api/formulas/lemon-sorbet", formula),
        ):
            answer = await send(larder, method, path, body, "0")
            assert problem(answer)[:2] == (413, "body-too-large")
    many = {"name": "Many", "additions": [row] * 400}
    made = await larder.client.put("/api/formulas/many", json=many, headers={"If-None-Match": "*"})
    assert problem(made) == (422, "bad-field", "many.toml, additions")
    assert everything(folder) == before


async def test_a_formula_is_made_changed_and_put_away(larder: Kitchen, folder: Path) -> None:
    row = {"ingredient": "water", "target": "1 kg", "tolerance": "1 %"}
    draft = {"name": "Plain ice", "kind": "sorbet", "additions": [row]}
    new = {"If-None-Match": "*"}
    made = await larder.client.put("/api/formulas/plain-ice", json=draft, headers=new)
    assert made.status_code == 200, made.text
    there = await larder.client.put(
        "/api/formulas/plain-ice", json={**draft, "name": "Other"}, headers=new
    )
    assert problem(there) == (412, "exists-already", "id")
    listed = (await larder.get("/api/formulas")).json()["formulas"]
    assert "plain-ice" in [one["id"] for one in listed]
    tag = made.json()["tag"]
    bad = {**draft, "additions": [{**row, "target": "0 g", "was": 0}]}
    refused = await send(larder, "PUT", "/api/formulas/plain-ice", bad, tag)
    assert problem(refused) == (422, "bad-amount", "additions[1].target")
    nameless = await send(larder, "PUT", "/api/formulas/plain-ice", {**draft, "name": ""}, tag)
    assert problem(nameless)[1:] == ("missing-field", "name")
    changed = {**draft, "note": "Stir.", "additions": [{**row, "target": "2 kg", "was": 0}]}
    put = await send(larder, "PUT", "/api/formulas/plain-ice", changed, tag)
    assert put.status_code == 200
    old = await send(larder, "PUT", "/api/formulas/plain-ice", draft, tag)
    assert problem(old) == (412, "changed-since", "plain-ice.toml")
    assert problem(await send(larder, "DELETE", "/api/formulas/plain-ice", None, tag))[0] == 412
    gone = await send(larder, "DELETE", "/api/formulas/plain-ice", None, put.json()["tag"])
    assert (folder / gone.json()["file"]).is_file()
    assert problem(await larder.get("/api/formulas/plain-ice"))[0] == 404


async def test_a_copy_takes_what_no_editor_changes(larder: Kitchen, folder: Path) -> None:
    own = '[ingredients.lemon-zest]\nname = "Our zest"\n\n# first\n[[additions]]'
    file = folder / "lemon-sorbet.toml"
    file.write_text(file.read_text("utf-8").replace("[[additions]]", own, 1), "utf-8")
    source = (await larder.get("/api/formulas/lemon-sorbet/source")).json()
    draft = {key: source[key] for key in ("name", "note", "kind", "cautions", "additions")}
    draft |= {"name": "Lime sorbet", "like": "lemon-sorbet"}
    new = {"If-None-Match": "*"}
    made = await larder.client.put("/api/formulas/lime-sorbet", json=draft, headers=new)
    assert made.status_code == 200, made.text
    text = (folder / "lime-sorbet.toml").read_text("utf-8")
    assert text == file.read_text("utf-8").replace('"Lemon sorbet"', '"Lime sorbet"')
    wrong = {**draft, "like": "../lemon-sorbet"}
    answer = await larder.client.put("/api/formulas/other", json=wrong, headers=new)
    assert problem(answer)[:2] == (404, "unknown-formula")


async def test_a_batch_being_weighed_keeps_its_formula(larder: Kitchen) -> None:
    assert (await larder.start(formula="lemon-sorbet")).status_code == 201
    source = (await larder.get("/api/formulas/lemon-sorbet/source")).json()
    draft = {key: source[key] for key in ("name", "note", "kind", "cautions", "additions")}
    draft["additions"][0]["target"] = "1 kg"
    put = await send(larder, "PUT", "/api/formulas/lemon-sorbet", draft, source["tag"])
    assert put.status_code == 200
    state = (await larder.get("/api/state")).json()["state"]
    assert state["batch"]["additions"][0]["target_g"] == "870"
    await send(larder, "DELETE", "/api/formulas/lemon-sorbet", None, put.json()["tag"])
    state = (await larder.get("/api/state")).json()["state"]
    assert state["batch"]["status"] == "open"


async def test_a_file_that_cannot_be_used_can_be_put_right(larder: Kitchen, folder: Path) -> None:
    file = folder / "lemon-sorbet.toml"
    file.write_text(file.read_text("utf-8").replace('"2 g"', '"2 cups"'), "utf-8")
    assert problem(await larder.get("/api/formulas/lemon-sorbet"))[0] == 422
    source = (await larder.get("/api/formulas/lemon-sorbet/source")).json()
    draft = {key: source[key] for key in ("name", "note", "kind", "cautions", "additions")}
    told = await larder.post("/api/compose", {"formula": draft, "of": "lemon-sorbet"})
    assert problem(told) == (422, "bad-tolerance", "additions[3].tolerance")
    draft["additions"][2]["tolerance"] = "2 g"
    put = await send(larder, "PUT", "/api/formulas/lemon-sorbet", draft, source["tag"])
    assert put.status_code == 200
    assert (await larder.get("/api/formulas/lemon-sorbet")).status_code == 200
    file.write_text("name = \n")
    assert problem(await larder.get("/api/formulas/lemon-sorbet/source"))[1] == "not-toml"


# --- limits -----------------------------------------------------------------------------------


async def test_limits_are_read_changed_and_used(larder: Kitchen, folder: Path) -> None:
    body = (await larder.get("/api/limits")).json()
    assert body["own"] is False
    assert all(one["source"] for each in body["classes"] for one in each["limits"])
    assert body["quantities"]["freezing_point"] == "°C"
    strict = {
        "name": "Sorbet",
        "limits": [{"of": ["total_solids"], "min": "90,5", "source": "ours"}],
    }
    put = await send(larder, "PUT", "/api/limits/sorbet", strict, body["tag"])
    assert put.status_code == 200, put.text
    mix = (await larder.get("/api/formulas/lemon-sorbet/composition")).json()
    [solids] = [one for one in mix["limits"] if one["class"] == "sorbet"]
    assert (solids["standing"], solids["min"], solids["source"]) == ("outside", "90.5", "ours")
    before = everything(folder)
    for wrong, where in (
        ({"of": ["total_solids"], "min": "x", "source": "ours"}, "limits[1].min"),
        ({"of": ["total_solids"], "min": "9", "max": "1", "source": "ours"}, "limits[1].min"),
        ({"of": ["total_solids"], "min": "9"}, "limits[1].source"),
        ({"of": ["glory"], "min": "9", "source": "ours"}, "limits[1].of"),
    ):
        draft = {"name": "Sorbet", "limits": [wrong]}
        answer = await send(larder, "PUT", "/api/limits/sorbet", draft, put.json()["tag"])
        status, code, place = problem(answer)
        assert (status, code) == (422, "bad-limits")
        assert place.endswith(where)
    assert everything(folder) == before
