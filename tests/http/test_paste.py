"""A pasted list over REST: read, told, and nothing written."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.http.kitchen import Kitchen
from tests.http.pantry_asked import everything, problem

pytestmark = pytest.mark.anyio


async def test_a_list_is_taken_apart_and_nothing_is_kept(larder: Kitchen, folder: Path) -> None:
    before = everything(folder)
    text = (
        "Sorbet\n1 kg water\ncaster sugar 300 g \u00b1 2 g\n2 cups water\n120 g watre\nTotal 1500 g"
    )
    told = (await larder.post("/api/paste", {"text": text})).json()
    assert [(one["n"], one["outcome"]) for one in told["lines"]] == [
        (1, "left out"), (2, "taken"), (3, "taken"), (4, "not understood"), (5, "not understood"),
        (6, "left out"),
    ]  # fmt: skip
    assert told["lines"][1] == {
        "n": 2, "text": "1 kg water", "outcome": "taken", "ingredient": "water", "name": "water",
        "amount": "1 kg", "amount_g": "1000", "tolerance": "", "offered": [], "why": "",
    }  # fmt: skip
    assert told["lines"][2]["tolerance"] == "2 g"
    assert [one["id"] for one in told["lines"][4]["offered"]] == ["water"]
    assert (told["taken"], told["taken_g"], told["sum_g"]) == (2, "1300", "1500")
    assert "1500 g as its sum" in told["warning"]
    meant = {"text": text, "said": {"watre": "water"}, "of": "lemon-sorbet"}
    told = (await larder.post("/api/paste", meant)).json()
    assert told["taken_g"] == "1420"
    assert everything(folder) == before


async def test_what_is_no_list_is_refused_in_words(larder: Kitchen) -> None:
    assert problem(await larder.post("/api/paste", {"text": "x\n" * 5000}))[:2] == (422, "bad-list")
    assert problem(await larder.post("/api/paste", {"text": "x", "of": "../x"}))[0] == 404
    assert problem(await larder.post("/api/paste", {"text": "x" * 30_000}))[0] == 422
    assert problem(await larder.post("/api/paste", {}))[0] == 422
    assert (await larder.post("/api/paste", {"text": ""})).json()["lines"] == []
