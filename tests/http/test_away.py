"""A batch that was put away, asked for over REST: told, and no reason for the station to stop."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.http.kitchen import Kitchen
from weighd.domain.away import stub_of
from weighd.domain.verify import read_export

pytestmark = pytest.mark.anyio
PLAIN = Path(__file__).parents[2] / "fixtures" / "sessions" / "plain.golden.json"


async def test_it_is_told_where_it_is_and_the_station_goes_on(kitchen: Kitchen) -> None:
    entries = read_export(json.loads(PLAIN.read_text("utf-8")))
    batch = entries[0].body["batch"]
    kitchen.journal._entries[:] = [stub_of(one, "old.archive") for one in entries]
    for path in ("", "/record", "/sheet.pdf", "/weighings.csv", "/corrections", "/yield"):
        answer = await kitchen.get(f"/api/batches/{batch}{path}")
        assert (answer.status_code, answer.json()["code"]) == (410, "put-away"), path
        assert "old.archive" in answer.json()["detail"]
    correct = {"do": "correct", "entry": 4, "field": "lot", "old": "", "new": "L-9", "by": "Bo"}
    for asked in (
        {**correct, "reason": "wet"},
        {"do": "countersign", "by": "Bo"},
    ):
        answer = await kitchen.post(f"/api/batches/{batch}/commands", asked)
        assert (answer.status_code, answer.json()["code"]) == (410, "put-away")
    answer = await kitchen.post(f"/api/batches/{batch}/yield", {"weight": "1 kg", "by": "Bo"})
    assert answer.status_code == 410
    assert (await kitchen.get("/api/state")).status_code == 200
    assert not kitchen._running.done()  # it goes on
