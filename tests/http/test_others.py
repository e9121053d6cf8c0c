"""Other stations over REST: traces of all or one, formulas published and taken; cut off or not."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from tests.http.kitchen import Kitchen
from weighd.domain.errors import JournalError
from weighd.domain.formula import Formula
from weighd.domain.formula_shared import Chosen, Published
from weighd.domain.lot_uses import Drawn
from weighd.domain.trace import Trace
from weighd.station.everywhere import Traced
from weighd.storage.received import Received, SharedShelf

pytestmark = pytest.mark.anyio


class Two:
    """Another station, and a store that can be cut off."""

    def __init__(self, shelf: SharedShelf) -> None:
        self.shelf = shelf
        self.cut_off = ""
        self.asked: list[tuple[str, str]] = []

    def trace(self, lot: str, station: str) -> Traced:
        if self.cut_off:
            raise JournalError("store-away", "The shared store does not answer.")
        self.asked.append((lot, station))
        return Traced(Trace(lot), ["hot", "kitchen"], [station] if station else [], {})

    def publish(self, formula: Formula, by: str) -> tuple[Published, bool]:
        if self.cut_off:
            raise JournalError("store-away", "The shared store does not answer.")
        at = "2026-11-26T10:00:00.000Z"
        content = formula.content()
        return Published(
            7, formula.id, formula.revision, formula.name, content, "kitchen", by, at
        ), True

    def formulas(self) -> list[dict[str, Any]]:
        return self.shelf.drawn()

    def revisions(self, formula: str) -> list[Published]:
        return self.shelf.received.of(formula)

    def choose(self, identity: str, chosen: Chosen) -> Published:
        return self.shelf.received.choose(identity, chosen)


def sharing(kitchen: Kitchen, folder: Path) -> Two:
    """Have a kitchen share with another station."""
    room = kitchen.app.state.room
    shelf = SharedShelf(room.shelf, Received(folder / "down", take=False))
    others = Two(shelf)
    kitchen.app.state.room = replace(room, shared=others, shelf=shelf)
    return others


async def test_without_a_shared_store_there_is_nobody_else(kitchen: Kitchen) -> None:
    assert (await kitchen.get("/api/shared/formulas")).json() == {"sharing": False, "formulas": []}
    for path, body in (
        ("/api/formulas/test-ice/publish", {"by": "Ada"}),
        ("/api/shared/formulas/test-ice@0123456789ab", {"do": "take", "by": "Ada"}),
    ):
        answer = await kitchen.client.post(path, json=body)
        assert (answer.status_code, answer.json()["code"]) == (409, "no-shared-store")
    answer = await kitchen.get("/api/trace/x?everywhere=true")
    assert (answer.status_code, answer.json()["code"]) == (409, "no-shared-store")


async def test_a_trace_looks_everywhere_or_says_what_it_does_not_show(
    kitchen: Kitchen, tmp_path: Path
) -> None:
    others = sharing(kitchen, tmp_path)
    made = await kitchen.client.post(
        "/api/lots",
        json={"ingredient": "milk", "quantity_g": "900", "by": "Ada", "lot": "M-1"},
        headers={"Idempotency-Key": "1"},
    )
    assert made.status_code == 201, made.text
    told = (await kitchen.get("/api/trace/m-1")).json()
    assert (told["everywhere"], told["stations"]) == (True, ["hot", "kitchen"])
    assert others.asked == [("M-1", kitchen.station.name)]
    alone = (await kitchen.get("/api/trace/M-1?everywhere=false")).json()
    assert "everywhere" not in alone
    book = kitchen.station.stock.book
    book.put(replace(book.find("M-1"), elsewhere=(("hot", Drawn()),)))  # type: ignore[type-var]
    others.cut_off = "The shared store does not answer."
    cut = (await kitchen.get("/api/trace/M-1")).json()
    assert (cut["everywhere"], cut["unseen"]) == (False, ["hot"])
    assert "does not show what was done at hot" in cut["said"]
    assert (await kitchen.get("/api/trace/M-1?everywhere=true")).status_code == 503
    lots = (await kitchen.get("/api/lots")).json()
    assert lots["shared"]["cut_off"] == others.cut_off


async def test_formulas_are_published_and_taken(larder: Kitchen, tmp_path: Path) -> None:
    others = sharing(larder, tmp_path)
    published = await larder.client.post("/api/formulas/lemon-sorbet/publish", json={"by": "Ada"})
    assert (published.status_code, published.json()["new"]) == (201, True)
    assert (
        await larder.client.post("/api/formulas/nothing/publish", json={"by": "A"})
    ).status_code == 404
    theirs = replace(others.shelf.get("lemon-sorbet"), id="lime-sorbet")
    others.shelf.received.put([replace(others.publish(theirs, "Ben")[0], number=1, station="hot")])
    (one,) = (await larder.get("/api/shared/formulas")).json()["formulas"]
    assert (one["chosen"], one["own"], one["by"]) == ("new", "none", "Ben")
    assert (await larder.get(f"/api/formulas/{one['id']}")).status_code == 409
    for do, status in (("take", 200), ("leave", 409), ("take", 200)):
        where = f"/api/shared/formulas/{one['id']}"
        answer = await larder.client.post(where, json={"do": do, "by": "Ada"})
        assert answer.status_code == 200, answer.text
        assert (await larder.get(f"/api/formulas/{one['id']}")).status_code == status
    listed = [it["id"] for it in (await larder.get("/api/formulas")).json()["formulas"]]
    assert one["id"] in listed
    assert (await larder.get(f"/api/formulas/{one['id']}/composition")).status_code == 200
    where = "/api/shared/formulas/lime-sorbet@000000000000"
    answer = await larder.client.post(where, json={"do": "take", "by": "Ada"})
    assert answer.status_code == 404
    assert (await larder.client.post(where, json={"do": "eat", "by": "Ada"})).status_code == 422
    others.cut_off = "away"
    away = await larder.client.post("/api/formulas/lemon-sorbet/publish", json={"by": "Ada"})
    assert (away.status_code, away.json()["code"]) == (503, "store-away")
