"""What a monitoring system reads, parsed by the reader that Prometheus' own library brings."""

from __future__ import annotations

import ast
import inspect
import re
from decimal import Decimal

import pytest
from prometheus_client.parser import text_string_to_metric_families

from tests.domain.check_world import weight
from tests.http.kitchen import Kitchen, Socket
from weighd.domain.check import Plan
from weighd.domain.check_routine import Routine
from weighd.domain.errors import JournalError
from weighd.http import metrics

pytestmark = pytest.mark.anyio


async def measured(kitchen: Kitchen) -> dict[tuple[str, ...], float]:
    answer = await kitchen.get("/metrics")
    assert answer.status_code == 200
    assert answer.headers["content-type"].startswith("text/plain")
    return {
        (sample.name, *sample.labels.values()): sample.value
        for family in text_string_to_metric_families(answer.text)
        for sample in family.samples
    }


async def test_counts_follow_what_happens(kitchen: Kitchen) -> None:
    await kitchen.judged()
    await kitchen.do("accept", addition=1)
    await kitchen.raw(b"rubbish\n", 3)
    async with Socket(kitchen.app) as socket:
        await socket.frame()
        found = await measured(kitchen)
        assert found["weighd_websocket_clients",] == 1
    assert found["weighd_readings_total", "bench"] == kitchen.station.scales["bench"].readings > 20
    assert found["weighd_rejected_total", "bench"] == 3
    assert found["weighd_scale_link", "bench", "live"] == 1
    assert found["weighd_scale_link", "bench", "lost"] == 0
    assert found["weighd_additions_total", "on target"] == 1
    assert found["weighd_additions_total", "over"] == 0
    assert found["weighd_batches_total", "opened"] == 1
    assert found["weighd_batches_total", "abandoned"] == 0
    assert found["weighd_inputs_dropped_total",] == 0
    assert found["weighd_store_ok",] == 1

    await kitchen.do("abandon", reason="made up")
    await kitchen.lose()
    found = await measured(kitchen)
    assert found["weighd_batches_total", "abandoned"] == 1
    assert found["weighd_additions_total", "on target"] == 1
    assert found["weighd_scale_link", "bench", "lost"] == 1


async def test_checks_of_scales_are_counted() -> None:
    routine = Routine(Plan(masses=(weight(2000),), limit_g=Decimal("0.5")))
    async with Kitchen(check=routine) as kitchen:
        assert (await measured(kitchen))["weighd_scale_check_good", "bench"] == 0
        body = {"do": "start", "by": "Ada"}
        assert (await kitchen.post("/api/scales/bench/check", body)).status_code == 200
        for grams in ("0.0", "1000.0", "2000.0", "1000.0", "0.0"):
            await kitchen.show(grams, 0.1 if grams == "1000.0" else 2)
        found = await measured(kitchen)
        assert found["weighd_scale_check_good", "bench"] == 1
        assert found["weighd_checks_total", "pass", "bench"] == 1
        assert found["weighd_checks_total", "fail", "bench"] == 0


async def test_every_failure_of_the_store_is_counted(kitchen: Kitchen) -> None:
    for times in (1, 2):
        kitchen.journal.fail = JournalError("store-full", "The disk is full.")
        await kitchen.start()
        found = await measured(kitchen)
        assert (found["weighd_store_errors_total",], found["weighd_store_ok",]) == (times, 0)
    kitchen.journal.fail = None
    await kitchen.start()
    found = await measured(kitchen)
    assert (found["weighd_store_errors_total",], found["weighd_store_ok",]) == (2, 1)


async def test_metrics_do_without_a_record_that_cannot_be_read(
    kitchen: Kitchen, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(**_: object) -> None:
        raise JournalError("store-io", "The disk failed.")

    monkeypatch.setattr(kitchen.journal, "entries", broken)
    found = await measured(kitchen)
    assert found["weighd_store_errors_total",] == 1
    assert found["weighd_scale_link", "bench", "live"] == 1


async def test_every_metric_says_in_a_sentence_what_it_is() -> None:
    routine = Routine(Plan(masses=(weight(2000),), limit_g=Decimal("0.5")))
    async with Kitchen(check=routine) as kitchen:
        text = (await kitchen.get("/metrics")).text
    families = list(text_string_to_metric_families(text))
    assert len(families) > 10
    for one in families:
        assert re.fullmatch(r"weighd_[a-z_]+", one.name), one.name
        assert re.fullmatch(r"\S.{8,}\.", one.documentation), (one.name, one.documentation)


async def test_no_metric_is_made_without_a_help() -> None:
    """Of those too that are there only with a shared store, lots or checks."""
    made = [
        node
        for node in ast.walk(ast.parse(inspect.getsource(metrics)))
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Name)
        and node.func.id.endswith("MetricFamily")
    ]
    assert len(made) > 15
    for node in made:
        assert len(node.args) >= 2, ast.unparse(node)
        assert ast.unparse(node.args[1]).strip("f'\""), ast.unparse(node)
