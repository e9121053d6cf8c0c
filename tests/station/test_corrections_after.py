"""Words put right in a batch in process: steps, notes, temperatures, yield; told on the sheet."""

from __future__ import annotations

from typing import Any

import pytest

from tests.station.process_cook import Cook
from weighd.domain.batch import Batch, Kind
from weighd.domain.fold import fold
from weighd.domain.verify import Verifier, export
from weighd.reports.sheet_data import Checked, sheet_data


@pytest.fixture
def cook() -> Cook:
    """A mix done with two notes, a heat treatment going on with a temperature taken back."""
    cook = Cook()
    batch = cook.weigh()
    cook.step(batch, "begin step", confirmed=("hot pan",))
    cook.step(batch, "note step", note="first")
    cook.step(batch, "note step", note="second")
    cook.step(batch, "end step", 3)
    cook.step(batch, "begin step", pair="65.6 °C, 30 min")
    cook.step(batch, "enter temperature", 1, temperature="66")
    cook.step(batch, "enter temperature", 1, temperature="67")
    cook.step(batch, "strike temperature", value=1, reason="misread")
    cook.do("record yield", batch=batch, by="Bo", draw={"weight": "400 g"})
    return cook


BATCH = "test-0001"


def number(cook: Cook, kind: str, which: int) -> int:
    return int([one.body["n"] for one in cook.of(BATCH) if one.kind == kind][which])


def of(batch: Batch) -> dict[str, Any]:
    mix, heat = batch.process.runs
    return {
        "step begun": mix.by,
        "step ended": mix.ended_by,
        "step noted": [(one.text, one.by) for one in mix.notes],
        "temperature entered": [(one.by, one.struck) for one in heat.values],
        "yield recorded": [one.by for one in batch.draws.standing],
    }


@pytest.mark.parametrize(
    ("kind", "which", "field", "old", "due"),
    [
        (Kind.STEP_BEGUN, 0, "operator", "Bo", "new"),
        (Kind.STEP_ENDED, 0, "operator", "Bo", "new"),
        (Kind.STEP_NOTED, 1, "note", "second", [("first", "Bo"), ("new", "Bo")]),
        (Kind.STEP_NOTED, 0, "operator", "Bo", [("first", "new"), ("second", "Bo")]),
        (Kind.VALUE_ENTERED, 1, "operator", "Bo", [("Bo", "misread"), ("new", "")]),
        (Kind.VALUE_STRUCK, 0, "reason", "misread", [("Bo", "new"), ("Bo", "")]),
        (Kind.YIELD, 0, "operator", "Bo", ["new"]),
    ],
)
def test_words_stand_where_the_batch_has_them_and_nothing_else_moves(
    cook: Cook, kind: Kind, which: int, field: str, old: str, due: Any
) -> None:
    before = fold(cook.of(BATCH))
    assert before is not None
    entry = number(cook, kind, which)
    told = {"field": field, "old": old, "new": "new", "reason": "slip", "by": "Ada"}
    cook.do("correct", batch=BATCH, entry=entry, **told)
    after = fold(cook.of(BATCH))
    assert after is not None
    assert after == cook.station.off_bench.get(BATCH)
    shown = "temperature entered" if kind is Kind.VALUE_STRUCK else str(kind)
    assert of(after) == {**of(before), shown: due}
    assert (after.accepted, after.steps) == (before.accepted, before.steps)
    verifier = Verifier(whole=True)
    for one in cook.journal:
        verifier.take(one)
    verifier.finish()
    document = export("test", BATCH, cook.of(BATCH))
    [listed] = sheet_data(document, Checked())["corrections"]
    assert listed["of"].endswith(f": {field}")
    assert (listed["was"], listed["now"], listed["reason"], listed["by"]) == (
        old, "new", "slip", "Ada",
    )  # fmt: skip
