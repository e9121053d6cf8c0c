"""Today's head on the page: its short form, and what is wrong with it."""

from __future__ import annotations

import asyncio
from collections.abc import Mapping
from typing import Any

import pytest

from tests.http.kitchen import Kitchen

pytestmark = pytest.mark.anyio

TOLD = {
    "head": {
        "day": "2026-03-01",
        "short": "7 1",
        "entries": 7,
        "at": "2026-03-01T22:00:00.000Z",
        "key": "ab",
        "missed": [],
    },
    "next": "2026-03-02T22:00:00Z",
    "folder": "/mnt/stick",
    "problem": "",
}


class _Heads:
    def drawn(self) -> Mapping[str, Any]:
        return TOLD


async def test_the_head_is_told_where_one_is_written_and_else_that_none_is(
    kitchen: Kitchen,
) -> None:
    answer = await kitchen.client.get("/api/head")
    assert answer.json() == {"configured": False}
    kitchen.app.state.room.__dict__["heads"] = _Heads()
    answer = await kitchen.client.get("/api/head")
    assert answer.json() == {"configured": True, **TOLD}


async def test_what_a_thread_has_to_tell_stands_on_the_page(kitchen: Kitchen) -> None:
    await asyncio.to_thread(kitchen.runner.tell, "warn", "head-failed", "no room")
    for _ in range(100):
        if kitchen.station.notices:
            break
        await asyncio.sleep(0.01)
    assert [(one.code, one.text) for one in kitchen.station.notices] == [("head-failed", "no room")]
