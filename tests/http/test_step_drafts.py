"""Steps of a formula written over REST: chosen, read while somebody types, kept in the file."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

from tests.http.kitchen import Kitchen
from tests.http.pantry_asked import everything, problem, send
from weighd.domain.cautions import DRY_ICE, OF_MEANS

pytestmark = pytest.mark.anyio

KEPT = ("name", "note", "kind", "cautions", "additions", "steps")


async def source(kitchen: Kitchen, formula: str) -> tuple[dict[str, Any], str]:
    body = (await kitchen.get(f"/api/formulas/{formula}/source")).json()
    return {key: body[key] for key in KEPT}, body["tag"]


async def test_what_there_is_to_choose_from(larder: Kitchen) -> None:
    told = (await larder.get("/api/steps")).json()
    kinds = {one["kind"]: one for one in told["kinds"]}
    assert kinds["heat-treat"]["takes"] == kinds["heat-treat"]["needs"] == ["table"]
    assert kinds["cool"]["takes"] == ["temperature", "time"]
    assert [one["kind"] for one in told["kinds"] if one["keeps"]] == ["age", "fill"]
    # Conn. Agencies Regs. 21a-58-13(a), as in weighd/data/heat_treatments.toml.
    [connecticut] = [one for one in told["tables"] if one["id"] == "connecticut"]
    first = connecticut["pairs"][0]
    assert (first["pair"], first["source"]) == (
        "155 °F, 30 min",
        "Conn. Agencies Regs. 21a-58-13(a)",
    )
    # 155 °F is 68.333 °C: whoever holds 68.3 °C has not reached it.
    assert first["at_least"] == {
        "written": "155 °F",
        "celsius": "68.4 °C",
        "fahrenheit": "155 °F",
    }
    assert "local code" in told["notice"]
    assert [one["name"] for one in told["brings"][DRY_ICE]] == [x.name for x in OF_MEANS[DRY_ICE]]


async def test_usual_steps_are_read_once_a_table_is_chosen(larder: Kitchen) -> None:
    told = (await larder.get("/api/steps")).json()
    assert {one["id"] for one in told["usual"]} == {"custard", "sorbet"}
    for one in told["usual"]:
        assert one["source"] == "common practice, no source"
        assert not any(row["table"] for row in one["steps"])  # never filled in silently
        rows = [{**row, "was": None} for row in one["steps"]]
        read = (await larder.post("/api/steps", {"steps": rows})).json()
        missing = [n for n, row in enumerate(rows, 1) if row["kind"] == "heat-treat"]
        assert [it["where"] for it in read["faults"]] == [f"steps[{n}].table" for n in missing]
        for row in rows:
            row |= {"table": "uk-1995"} if row["kind"] == "heat-treat" else {}
        assert (await larder.post("/api/steps", {"steps": rows})).json()["faults"] == []


async def test_every_step_is_read_by_itself(larder: Kitchen) -> None:
    cool = {"kind": "cool", "temperature": "at most 40 °F", "time": "within 90 min"}
    steps = [
        cool,
        {**cool, "temperature": "cold"},
        {"kind": "freeze", "with": "Dry-Ice", "cautions": [{"name": "door", "text": "Open it."}]},
        {"kind": "age"},
        {"kind": "boil"},
        {"kind": "mix", "cautions": [{"name": "", "text": "x"}]},
        {"kind": "mix", "how": "x" * 2001},
    ]
    read = (await larder.post("/api/steps", {"steps": steps})).json()
    assert [one["where"] for one in read["faults"]] == [
        "steps[2].temperature",
        "steps[4].time",
        "steps[5].kind",
        "steps[6].cautions[1].name",
        "steps[7].how",
    ]
    first, second, third = read["steps"][:3]
    # 40 °F is 4.444 °C: to be at most that, 4.4 °C is shown and never 4.5 °C.
    assert first["at_most"] == {"written": "40 °F", "celsius": "4.4 °C", "fahrenheit": "40 °F"}
    assert (first["at_least"], first["least_s"], first["most_s"]) == (None, None, "5400")
    assert second is None
    assert third["with"] == DRY_ICE
    names = [one["name"] for one in third["cautions"]]
    assert names == [one.name for one in OF_MEANS[DRY_ICE]] + ["door"]
    many = (await larder.post("/api/steps", {"steps": [cool] * 41})).json()
    assert [one["where"] for one in many["faults"]] == ["steps"]
    assert many["steps"] == [None] * 41
    assert (await larder.post("/api/steps", {"steps": [{"boil": 1}]})).status_code == 422


async def test_steps_are_kept_changed_and_refused_at_their_field(
    larder: Kitchen, folder: Path
) -> None:
    file = folder / "hazelnut-gelato.toml"
    before = file.read_text("utf-8")
    draft, tag = await source(larder, "hazelnut-gelato")
    assert [one["kind"] for one in draft["steps"]][:3] == ["mix", "heat-treat", "cool"]
    same = await send(larder, "PUT", "/api/formulas/hazelnut-gelato", draft, tag)
    assert (same.status_code, file.read_text("utf-8")) == (200, before)
    # A program that knows no steps leaves them alone.
    blind = {key: value for key, value in draft.items() if key != "steps"}
    await send(larder, "PUT", "/api/formulas/hazelnut-gelato", {**blind, "note": "Ours."}, tag)
    assert tomllib.loads(file.read_text("utf-8"))["steps"] == tomllib.loads(before)["steps"]

    draft, tag = await source(larder, "hazelnut-gelato")
    steps = draft["steps"]
    steps[2]["temperature"] = "warm"
    draft["additions"][0]["target"] = "-1 g"
    held = everything(folder)
    for answer in (
        await send(larder, "PUT", "/api/formulas/hazelnut-gelato", draft, tag),
        await larder.post("/api/compose", {"formula": draft, "of": "hazelnut-gelato"}),
    ):
        assert [one["where"] for one in answer.json()["errors"]] == [
            "additions[1].target",
            "steps[3].temperature",
        ]
    assert everything(folder) == held
    draft["additions"][0]["target"] = "1.32 kg"
    steps[2]["temperature"] = "at most 3 °C"
    draft["steps"] = [steps[0], {"kind": "fill", "how": "Small tubs."}, *steps[2:], steps[1]]
    put = await send(larder, "PUT", "/api/formulas/hazelnut-gelato", draft, tag)
    assert put.status_code == 200, put.text
    text = file.read_text("utf-8")
    assert [one["kind"] for one in tomllib.loads(text)["steps"]] == [
        *("mix", "fill", "cool", "age", "freeze", "fill", "harden", "heat-treat")
    ]
    assert "# The limits of these steps are common practice, no source, but those of" in text
    assert "# stirred into it dry (common practice, no source)" in text
    late = await send(larder, "PUT", "/api/formulas/hazelnut-gelato", {**draft, "steps": []}, tag)
    assert problem(late)[:2] == (412, "changed-since")
    none = {**(await source(larder, "hazelnut-gelato"))[0], "steps": []}
    gone = await send(larder, "PUT", "/api/formulas/hazelnut-gelato", none, put.json()["tag"])
    assert gone.status_code == 200
    assert "steps" not in tomllib.loads(file.read_text("utf-8"))


async def test_steps_that_are_no_list_are_left_to_an_editor_of_texts(
    larder: Kitchen, folder: Path
) -> None:
    file = folder / "lemon-sorbet.toml"
    file.write_text("steps = 3\n" + file.read_text("utf-8"), "utf-8")
    draft, tag = await source(larder, "lemon-sorbet")
    assert draft["steps"] is None
    answer = await send(larder, "PUT", "/api/formulas/lemon-sorbet", draft, tag)
    assert problem(answer) == (422, "bad-field", "steps")
    file.write_text(
        file.read_text("utf-8").replace("steps = 3\n", "")
        + '\n[[steps]]\nkind = "age"\ntime = 90\nminutes = 4\n',
        "utf-8",
    )
    draft, tag = await source(larder, "lemon-sorbet")
    assert draft["steps"][0]["time"] == "90"
    answer = await send(larder, "PUT", "/api/formulas/lemon-sorbet", draft, tag)
    assert problem(answer) == (422, "unknown-field", "steps[1].minutes")


async def test_an_earlier_revision_brings_its_steps_over_those_of_the_file(folder: Path) -> None:
    gelato = "/api/formulas/hazelnut-gelato"
    async with Kitchen(files=folder, keep=True) as kitchen:
        first = (await kitchen.get(gelato)).json()["revision"]
        draft, tag = await source(kitchen, "hazelnut-gelato")
        draft["steps"] = [*reversed(draft["steps"][1:])]
        put = await send(kitchen, "PUT", gelato, draft, tag)
        assert put.status_code == 200
        again = (await kitchen.get(f"{gelato}/revisions/{first}/source")).json()
        assert again["steps"][0]["kind"] == "mix"
        assert [one["was"] for one in again["steps"]] == [None, 5, 4, 3, 2, 1, 0]
        draft = {key: again[key] for key in KEPT}
        back = await send(kitchen, "PUT", gelato, draft, again["tag"])
        assert back.status_code == 200, back.text
        assert (await kitchen.get(gelato)).json()["revision"] == first
