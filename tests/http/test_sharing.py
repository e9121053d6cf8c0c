"""How far the shared store is behind: in the picture, in health and in the metrics."""

from __future__ import annotations

import pytest

from tests.http.kitchen import Kitchen
from weighd.station.outgoing import Outgoing

pytestmark = pytest.mark.anyio

STORE = "postgresql://bench@floor.example/weighd"


async def test_nothing_is_told_without_a_shared_store(kitchen: Kitchen) -> None:
    assert (await kitchen.get("/api/state")).json()["state"]["sharing"] is None
    assert "weighd_shared" not in (await kitchen.get("/metrics")).text


async def test_being_behind_is_told_and_is_no_trouble(kitchen: Kitchen) -> None:
    outgoing = Outgoing(
        STORE, 12, "2026-03-01T08:00:00.000Z", "2026-03-01T07:59:00.500Z", "store-away", "Away."
    )
    kitchen.picture.sharing = lambda: outgoing
    before = kitchen.picture.seq
    kitchen.runner.show("sharing")
    told = {
        "state": "behind",
        "store": STORE,
        "behind": 12,
        "since": "2026-03-01T08:00:00.000Z",
        "contact": "2026-03-01T07:59:00.500Z",
        "code": "store-away",
        "why": "Away.",
    }
    assert (await kitchen.get("/api/state")).json()["state"]["sharing"] == told
    frame = kitchen.picture.since(before)
    assert frame is not None
    assert (frame["sharing"], set(frame)) == (told, {"kind", "seq", "sharing"})
    health = (await kitchen.get("/api/health")).json()
    assert (health["status"], health["sharing"]) == ("ok", told)
    metrics = (await kitchen.get("/metrics")).text
    assert "weighd_shared_behind 12.0" in metrics
    assert "weighd_shared_ok 0.0" in metrics
    # 2026-03-01T08:00:00Z is 1772352000 (date -d ... +%s)
    assert "weighd_shared_oldest_timestamp_seconds 1.772352e+09" in metrics
    assert "weighd_shared_contact_timestamp_seconds 1.7723519405e+09" in metrics


async def test_what_only_a_person_can_put_right_is_trouble(kitchen: Kitchen) -> None:
    kitchen.picture.sharing = lambda: Outgoing(STORE, code="shared-forked", why="Another.")
    health = (await kitchen.get("/api/health")).json()
    assert (health["status"], health["sharing"]["state"]) == ("degraded", "stopped")
    assert health["sharing"]["since"] is None
