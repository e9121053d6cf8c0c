"""The JSON Schema of records: it ships, it is sound, and it tells of everything that is recorded.

That a validator of its own says so is the point: jsonschema, a general-purpose library.
"""

from __future__ import annotations

import json
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest

from tests.json_schemas import check_schema, held_to
from tests.reports.records import GOLDEN, OLDER, bodies, golden
from weighd.domain import keeping, lot_record
from weighd.domain.batch import Kind
from weighd.domain.check_record import CHECKED
from weighd.main.shipped import record_schema
from weighd.reports.schema import FILE, schema, schema_text
from weighd.reports.schema_kinds import KINDS

RECORDS = [*GOLDEN, *sorted(OLDER.glob("*.json"))]


@cache
def published() -> Any:
    return held_to(json.loads(record_schema()), formats=True)


@cache
def unopened() -> Any:
    """With every field told of."""
    return held_to(schema(closed=True), formats=True)


def wrong(validator: Any, document: Any) -> list[str]:
    return [f"{one.json_path}: {one.message[:200]}" for one in validator.iter_errors(document)]


def test_what_ships_is_what_the_table_gives() -> None:
    """If not: ``python -m weighd.reports.schema > weighd/data/record.schema.json``."""
    assert (files("weighd.data") / FILE).read_text("utf-8") == schema_text()


def test_it_is_a_schema_of_the_draft_it_names() -> None:
    check_schema(schema())
    assert schema()["$schema"] == "https://json-schema.org/draft/2020-12/schema"


def test_it_has_every_kind_of_entry_there_is() -> None:
    """Whoever adds a kind says in ``schema_kinds`` what its body holds."""
    assert {*map(str, Kind), CHECKED, *lot_record.KINDS, *keeping.KINDS} == {
        str(one) for one in KINDS
    }


@pytest.mark.parametrize("file", RECORDS, ids=lambda one: one.stem)
def test_every_record_fits_it_and_holds_nothing_it_does_not_tell_of(file: Path) -> None:
    document = json.loads(file.read_text("utf-8"))
    assert not wrong(published(), document)
    assert not wrong(unopened(), document)


@pytest.mark.parametrize(
    ("kind", "key", "value"),
    [
        ("addition accepted", "net_g", 224.5),
        ("addition accepted", "net_g", "2.245e2"),
        ("addition accepted", "verdict", "fine"),
        ("addition accepted", "accepted", "yesterday"),
        ("addition accepted", "after", "abc"),
        ("batch opened", "additions", {}),
        ("tared", "evidence", {"decoder": {}}),
        ("held", "cause", "because"),
    ],
)
def test_what_is_not_so_is_told(kind: str, key: str, value: object) -> None:
    document = golden("plain")
    assert bodies(document, kind)[0][key] != value
    bodies(document, kind)[0][key] = value
    found = wrong(published(), document)
    assert found
    assert all(key in one for one in found)  # nothing else is complained of


def test_a_missing_field_is_told_and_one_more_is_passed_over() -> None:
    document = golden("plain")
    bodies(document, "addition accepted")[0]["later"] = 1
    assert not wrong(published(), document)
    assert "later" in wrong(unopened(), document)[0]
    del bodies(document, "addition accepted")[0]["lot"]
    assert "lot" in wrong(published(), document)[0]


def test_another_kind_of_entry_is_none() -> None:
    document = golden("plain")
    document["entries"][1]["kind"] = "something else"
    assert wrong(published(), document)
