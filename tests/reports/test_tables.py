"""The tables beside that of weighings: what stands there, and that no cell is a formula."""

from __future__ import annotations

import csv
import io
import json
from decimal import Decimal
from typing import Any

import pytest

from tests.reports.records import HOSTILE, golden
from tests.reports.test_csv_table import seen
from tests.reports.test_sheet_process import document
from tests.station.process_cook import Cook
from tests.station.scripted import Hand
from tests.station.test_lots import receive
from weighd.domain.errors import RecordError
from weighd.main.tables import NAMES
from weighd.reports.columns import NUMBERS
from weighd.reports.csv_table import bare, lines_of
from weighd.reports.tables import TABLES, lot_rows
from weighd.reports.told import Record


def table(name: str, record: dict[str, Any]) -> list[dict[str, str]]:
    text = "".join(lines_of(TABLES[name].heads, TABLES[name].rows(Record(record))))
    return list(csv.DictReader(io.StringIO(text, newline=""), strict=True))


@pytest.fixture(scope="module")
def made() -> dict[str, Any]:
    """A batch that went through its steps, with a draw and a name put right."""
    cook = Cook()
    batch = cook.weigh()
    cook.mix(batch)
    cook.heat(batch)
    cook.age(batch)
    cook.do(
        "record yield",
        batch=batch,
        by="Bo",
        draw={"weight": "500 g", "volume": "1 L", "portions": 4},
    )
    cook.do(
        "correct",
        batch=batch,
        entry=1,
        field="operator",
        old="Ada",
        new="Cleo",
        reason="x",
        by="Bo",
    )
    return document(cook, batch)


def test_every_table_has_its_columns_and_each_row_fills_them(made: dict[str, Any]) -> None:
    assert tuple(TABLES) == NAMES
    for name, it in TABLES.items():
        names = [one.name for one in it.heads]
        assert len(set(names)) == len(names)
        for row in it.rows(Record(made)):
            assert set(row) <= set(names), (name, set(row) - set(names))
    assert [one["operator"] for one in table("batches", made)] == ["Cleo"]
    assert [one["operator_recorded"] for one in table("batches", made)] == ["Ada"]
    [one] = table("corrections", made)
    assert (one["of_kind"], one["old"], one["new"], one["operator"]) == (
        *("batch opened", "Ada", "Cleo", "Bo"),
    )
    assert table("deviations", made) == []


def test_steps_draws_and_yield_are_those_that_were_entered(made: dict[str, Any]) -> None:
    steps = table("steps", made)
    assert [one["what"] for one in steps if one["step"] == "1"] == ["begun", "done"]
    values = [one["temperature"] for one in steps if one["what"] == "temperature"]
    told = [it["body"] for it in made["entries"] if it["kind"] == "temperature entered"]
    assert values == [one["temperature"].split()[0] for one in told]
    [draw] = table("draws", made)
    assert (draw["weight_g"], draw["volume_ml"], draw["portions"]) == ("500", "1000", "4")
    [total] = table("yields", made)
    in_g = sum(Decimal(one["net_g"]) for one in table("weighings", made))
    assert Decimal(total["in_g"]) == pytest.approx(in_g, abs=Decimal("0.1"))
    # Overrun is the volume of the product over that of its mix, less one: the mix has no density
    # here, so none is told; what was drawn and what is missing are.
    assert (Decimal(total["drawn_g"]), total["portions"]) == (500, "4")
    assert Decimal(total["loss_g"]) == Decimal(total["in_g"]) - 500


def test_lots_stand_as_they_do_on_that_day() -> None:
    hand = Hand()
    receive(hand, lot="A", supplier="=SUM(A1)", use_by="2026-12-04", quantity="2 kg")
    [row] = lot_rows("test", hand.station.stock.book, "2026-12-05")
    assert (row["lot"], row["quantity_g"], row["days_left"]) == ("A", "2000", -1)
    assert row["fit"] == "expired"
    text = "".join(lines_of(TABLES["lots"].heads, [row]))
    [read] = csv.DictReader(io.StringIO(text, newline=""), strict=True)
    assert read["supplier"] == "'=SUM(A1)"
    assert read["station"] == "test"
    assert set(row) == {one.name for one in TABLES["lots"].heads}


def _spoilt(value: Any, texts: list[str]) -> Any:
    """The same with its texts replaced one after the other."""
    if isinstance(value, dict):
        return {key: _spoilt(one, texts) for key, one in value.items()}
    if isinstance(value, list):
        return [_spoilt(one, texts) for one in value]
    if not isinstance(value, str):
        return value
    texts.append(texts.pop(0))
    return texts[-1]


@pytest.mark.parametrize("name", ["weighings", "batches", "deviations", "corrections"])
def test_no_cell_of_a_record_that_was_tampered_with_is_a_formula(
    name: str, made: dict[str, Any]
) -> None:
    texts = [*HOSTILE, "=1+1", "+1", "-1+2", "@x", "'=1"]
    for record in (made, golden("over-pour")):
        spoilt = json.loads(json.dumps(record))
        for one in spoilt["entries"]:
            one["body"] = _spoilt(one["body"], texts)
        for row in table(name, spoilt):
            numbers = {one.name for one in TABLES[name].heads if one.of in NUMBERS}
            for column, cell in row.items():
                if column not in numbers or not cell.lstrip("-").replace(".", "").isdigit():
                    assert seen(cell) not in {"=", "+", "-", "@"}, (column, cell)


@pytest.mark.parametrize("name", ["steps", "draws", "yields"])
def test_what_has_to_be_reckoned_says_what_is_wrong_with_a_record(
    name: str, made: dict[str, Any]
) -> None:
    spoilt = json.loads(json.dumps(made))
    spoilt["entries"][2]["body"].pop("net_g", None)
    for one in spoilt["entries"]:
        if one["kind"] == "addition accepted":
            one["body"]["net_g"] = {"x": HOSTILE}
    with pytest.raises(RecordError) as caught:
        table(name, spoilt)
    assert caught.value.code == "unreadable-entry"


def test_apostrophes_are_taken_away_again() -> None:
    record = golden("plain")
    record["entries"][0]["body"]["operator"] = "=Ada;-Bo"
    [row] = table("batches", record)
    assert row["operator"] == "'=Ada;'-Bo"
    assert bare(row["operator"]) == "=Ada;-Bo"
