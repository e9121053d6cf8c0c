"""Weighings as a Parquet file: masses as exact decimals, times as moments in UTC.

Needs pyarrow, which is an extra (``pip install 'weighd[parquet]'``) and is imported when used.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

from weighd.domain import mass
from weighd.domain.errors import OperatorError, RecordError
from weighd.domain.moments import milliseconds
from weighd.reports.columns import COLUMNS, Column, Of, Value, table_rows
from weighd.reports.told import Record

#: Digits of a mass in all, and of them behind the point: a record's masses have fewer.
DIGITS, PLACES = 38, 15
#: Rows that are written together.
_TOGETHER = 10_000


def write_parquet(records: Iterable[Record], path: Path) -> int:
    """Write weighings to a file; how many.

    Raises :class:`OperatorError`, ``needs-pyarrow``, and :class:`RecordError`,
    ``unreadable-entry``, for a value that is not what its column holds: nothing is rounded or left
    out.
    """
    arrow, parquet = _pyarrow()
    schema = arrow.schema(
        [arrow.field(one.name, _type(arrow, one), metadata={"about": one.about}) for one in COLUMNS]
    )
    written = 0
    with parquet.ParquetWriter(path, schema) as writer:
        for block in _blocks(records):
            columns = [
                arrow.array([row[n] for row in block], type=one.type)
                for n, one in enumerate(schema)
            ]
            writer.write_table(arrow.Table.from_arrays(columns, schema=schema))
            written += len(block)
    return written


def _blocks(records: Iterable[Record]) -> Iterable[list[list[Any]]]:
    block: list[list[Any]] = []
    for record in records:
        block += [
            [_value(one, row[one.name], row["entry"]) for one in COLUMNS]
            for row in table_rows(record)
        ]
        if len(block) >= _TOGETHER:
            yield block
            block = []
    if block:
        yield block


def _value(column: Column, value: Value, entry: Value) -> Any:
    """A value as its column's type takes it."""
    if value is None or column.of is Of.TEXT or column.of is Of.COUNT:
        return value
    try:
        if column.of is Of.TIME:
            milliseconds(str(value))  # a moment in UTC, and nothing else
            return datetime.fromisoformat(str(value))
        grams = mass.parse(str(value))
        if grams != grams.quantize(Decimal(1).scaleb(-PLACES), context=mass.EXACT):
            raise ValueError(f"it has more than {PLACES} decimals")  # noqa: TRY301 -- as below
    except ValueError as error:
        raise RecordError(
            "unreadable-entry",
            f"{column.name} is not what it should be: {error}.",
            where=f"entry {entry}",
            remedy="Verify the record; as CSV it can be written all the same.",
        ) from error
    return grams


def _type(arrow: Any, column: Column) -> Any:
    match column.of:
        case Of.MASS:
            return arrow.decimal128(DIGITS, PLACES)
        case Of.COUNT:
            return arrow.int64()
        case Of.TIME:
            return arrow.timestamp("us", tz="UTC")
        case Of.TEXT:
            return arrow.string()


def _pyarrow() -> tuple[Any, Any]:
    try:
        import pyarrow as pa
        from pyarrow import parquet
    except ImportError as error:
        raise OperatorError(
            "needs-pyarrow",
            "Parquet is written with pyarrow, which is not installed.",
            remedy="pip install 'weighd[parquet]', or write CSV.",
        ) from error
    return pa, parquet
