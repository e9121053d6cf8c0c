"""The columns of a table of weighings: one row for each addition accepted.

One list of columns is behind the CSV, the Parquet file, the SQL view and their documentation.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from weighd.domain.batch import Kind
from weighd.domain.record import canonical
from weighd.reports.told import Body, Record, count, inside, rule_text, text

Value = str | int | None


class Of(StrEnum):
    """What stands in a column. Masses are decimal numbers in grams, times RFC 3339 in UTC."""

    TEXT = "text"
    MASS = "mass in g"
    COUNT = "number"
    TIME = "time"


@dataclass(frozen=True, slots=True)
class Weighing:
    """One accepted addition of a record."""

    record: Record
    entry: Body

    @property
    def body(self) -> Body:
        return inside(self.entry, "body")

    @property
    def formula(self) -> Body:
        return inside(self.record.opening, "formula")

    @property
    def check(self) -> Body:
        return inside(self.body, "check")


@dataclass(frozen=True, slots=True)
class Column:
    """``name`` is stable; ``about`` is what the documentation says of it."""

    name: str
    of: Of
    about: str
    value: Callable[[Weighing], Value]


def _body(name: str, of: Of, about: str, key: str = "") -> Column:
    return Column(name, of, about, lambda one: text(one.body, key or name) or None)


def _json(value: Any) -> str | None:
    """A value as the record has it: canonical JSON, nothing for none."""
    try:
        return None if value is None else canonical(value).decode("utf-8")
    except (ValueError, TypeError, RecursionError):
        return str(value)


#: In this order; new ones are added at the end.
COLUMNS: tuple[Column, ...] = (
    Column("station", Of.TEXT, "the station", lambda one: one.record.station),
    Column("batch", Of.TEXT, "the batch", lambda one: one.record.batch),
    Column("formula", Of.TEXT, "identity of the formula", lambda one: text(one.formula, "id")),
    Column("formula_name", Of.TEXT, "its name", lambda one: text(one.formula, "name")),
    Column("formula_revision", Of.TEXT, "its revision", lambda one: text(one.formula, "revision")),
    Column(
        "batch_g",
        Of.MASS,
        "batch size that was asked for",
        lambda one: text(one.record.opening, "batch_g") or None,
    ),
    Column("opened", Of.TIME, "when the batch was opened", lambda one: one.record.opened or None),
    Column("status", Of.TEXT, "how the batch stands", lambda one: str(one.record.status)),
    Column("addition", Of.COUNT, "number of the weighing", lambda one: count(one.body, "addition")),
    _body("ingredient", Of.TEXT, "identity of the ingredient"),
    _body("name", Of.TEXT, "its name"),
    _body("lot", Of.TEXT, "the lot it was taken from"),
    _body("target_g", Of.MASS, "what was wanted"),
    _body("low_g", Of.MASS, "the least that is allowed"),
    _body("high_g", Of.MASS, "the most that is allowed"),
    _body("net_g", Of.MASS, "what went in"),
    _body("deviation_g", Of.MASS, "net less target"),
    _body("u_g", Of.MASS, "standard uncertainty of the net"),
    _body("verdict", Of.TEXT, "short, on target, over, too close to call"),
    _body("reason", Of.TEXT, "why it was kept where it is not on target"),
    _body("method", Of.TEXT, "by difference, or empty: into the vessel"),
    _body("scale", Of.TEXT, "the scale"),
    _body("interval_g", Of.MASS, "its interval"),
    _body("tare_g", Of.MASS, "what stood on it before"),
    _body("gross_g", Of.MASS, "what stood on it afterwards"),
    Column("rule", Of.TEXT, "the decision rule", lambda one: rule_text(one.body.get("rule"))),
    _body("guard_g", Of.MASS, "width of the guard band"),
    _body("accept_low_g", Of.MASS, "acceptance limits: from"),
    _body("accept_high_g", Of.MASS, "acceptance limits: to"),
    Column(
        "scale_stood",
        Of.TEXT,
        "how the scale stood by its check, where it has to be checked",
        lambda one: text(one.check, "standing") or None,
    ),
    Column(
        "scale_checked",
        Of.TIME,
        "when it was last checked",
        lambda one: text(inside(one.check, "last"), "at") or None,
    ),
    _body("operator", Of.TEXT, "who weighed it"),
    _body("started", Of.TIME, "when it began"),
    _body("accepted", Of.TIME, "when it was accepted"),
    Column("entry", Of.COUNT, "number of the entry", lambda one: count(one.entry, "seq")),
    Column("hash", Of.TEXT, "hash of the entry", lambda one: text(one.entry, "hash")),
    Column(
        "lots",
        Of.TEXT,
        "where a lot ran out and another took its place: JSON, what was taken of each",
        lambda one: _json(one.body.get("lots")),
    ),
)


def weighings(record: Record) -> Iterator[Weighing]:
    """The accepted additions of a record, in order."""
    return (Weighing(record, one) for one in record.of(Kind.ACCEPTED))


def table_rows(record: Record) -> Iterator[Mapping[str, Value]]:
    """A record as rows of the table; what is not known is ``None``."""
    for one in weighings(record):
        yield {column.name: column.value(one) for column in COLUMNS}
