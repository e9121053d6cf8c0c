"""Weighings as Parquet, read back by pyarrow."""

from __future__ import annotations

import sys
from datetime import UTC, datetime
from decimal import Decimal
from pathlib import Path

import pytest

from tests.reports.records import bodies, golden
from weighd.domain.errors import OperatorError, RecordError
from weighd.reports.columns import COLUMNS, Of, table_rows
from weighd.reports.parquet_table import DIGITS, PLACES, write_parquet
from weighd.reports.told import Record

pa = pytest.importorskip("pyarrow", reason="the extra parquet is not installed")
parquet = pytest.importorskip("pyarrow.parquet")


def test_masses_come_back_exact_and_times_as_moments(tmp_path: Path) -> None:
    path, documents = tmp_path / "all.parquet", [golden("plain"), golden("checked")]
    assert write_parquet(map(Record, documents), path) == 12
    table = parquet.read_table(path)
    assert table.column_names == [one.name for one in COLUMNS]
    rows = [row for one in documents for row in table_rows(Record(one))]
    for got, row in zip(table.to_pylist(), rows, strict=True):
        for column in COLUMNS:
            value, told = got[column.name], row[column.name]
            if told is None or column.of in (Of.TEXT, Of.COUNT):
                assert value == told
            elif column.of is Of.MASS:
                assert isinstance(value, Decimal)
                assert value == Decimal(str(told))
            else:
                assert value == datetime.fromisoformat(str(told)).astimezone(UTC)
    assert table.schema.field("net_g").type == pa.decimal128(DIGITS, PLACES)
    assert table.schema.field("accepted").type == pa.timestamp("us", tz="UTC")
    assert table.schema.field("net_g").metadata[b"about"] == b"what went in"


def test_nothing_makes_an_empty_table_with_its_columns(tmp_path: Path) -> None:
    assert write_parquet([Record(golden("abandoned"))], tmp_path / "none.parquet") == 0
    table = parquet.read_table(tmp_path / "none.parquet")
    assert (table.num_rows, len(table.column_names)) == (0, len(COLUMNS))


@pytest.mark.parametrize(
    ("key", "value"),
    [("net_g", "=1+1"), ("net_g", "0." + "0" * 18 + "1"), ("accepted", "yesterday")],
)
def test_what_does_not_fit_is_refused_and_not_rounded(tmp_path: Path, key: str, value: str) -> None:
    document = golden("plain")
    bodies(document, "addition accepted")[2][key] = value
    with pytest.raises(RecordError, match=key) as caught:
        write_parquet([Record(document)], tmp_path / "x.parquet")
    assert caught.value.code == "unreadable-entry"
    assert caught.value.where.startswith("entry ")


def test_without_pyarrow_it_says_what_to_install(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    with pytest.raises(OperatorError, match=r"weighd\[parquet\]") as caught:
        write_parquet([], tmp_path / "x.parquet")
    assert caught.value.code == "needs-pyarrow"
