"""The columns of a table of weighings: one row for each addition accepted.

One list of columns is behind the CSV, the Parquet file, the SQL view and their documentation. What
people put right since stands as it is now, with what was recorded first in a column of its own.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, Protocol

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
    FIGURE = "decimal"


#: What spreadsheets are to take for numbers.
NUMBERS = frozenset({Of.MASS, Of.COUNT, Of.FIGURE})


class Headed(Protocol):
    """What is said of a column of any table."""

    @property
    def name(self) -> str: ...

    @property
    def of(self) -> Of: ...


@dataclass(frozen=True, slots=True)
class Head:
    """A column of a table whose rows are made by name."""

    name: str
    of: Of = Of.TEXT


def heads(texts: str) -> tuple[Head, ...]:
    """Columns by their names: masses end with ``_g``; ``#`` marks counts, ``@`` times, ``~`` other
    numbers."""
    marks = {"#": Of.COUNT, "@": Of.TIME, "~": Of.FIGURE}
    out = []
    for one in texts.split():
        of = marks.get(one[0], Of.MASS if one.endswith("_g") else Of.TEXT)
        out.append(Head(one.lstrip("#@~"), of))
    return tuple(out)


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

    def stands(self, field: str) -> str:
        """What stands in a field by now."""
        return self.record.stands(self.entry, field, text(self.body, field))

    @property
    def lots(self) -> list[Any] | None:
        """What was taken of each lot, where one ran out, by the lots as they stand."""
        lots = self.body.get("lots")
        if not isinstance(lots, list) or not self.put_right:
            return lots if lots is None or isinstance(lots, list) else [lots]
        return [
            {**one, "lot": self.record.stands(self.entry, f"lot {n}", text(one, "lot"))}
            if isinstance(one, Mapping)
            else one
            for n, one in enumerate(lots, start=1)
        ]

    @property
    def lot(self) -> str:
        """The lot it was taken from, the last where one ran out, as it stands."""
        lots = self.body.get("lots")
        part = f"lot {len(lots)}" if isinstance(lots, list) and len(lots) > 1 else "lot"
        return self.record.stands(self.entry, part, text(self.body, "lot"))

    @property
    def put_right(self) -> list[str]:
        """The fields that were put right, each once, in the order of the alphabet."""
        return self.record.fields_put_right(self.entry)


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
    Column("lot", Of.TEXT, "the lot it was taken from, as it stands", lambda one: one.lot or None),
    _body("target_g", Of.MASS, "what was wanted"),
    _body("low_g", Of.MASS, "the least that is allowed"),
    _body("high_g", Of.MASS, "the most that is allowed"),
    _body("net_g", Of.MASS, "what went in"),
    _body("deviation_g", Of.MASS, "net less target"),
    _body("u_g", Of.MASS, "standard uncertainty of the net"),
    _body("verdict", Of.TEXT, "short, on target, over, too close to call"),
    Column(
        "reason",
        Of.TEXT,
        "why it was kept where it is not on target, as it stands",
        lambda one: one.stands("reason") or None,
    ),
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
    Column(
        "operator",
        Of.TEXT,
        "who weighed it, as it stands",
        lambda one: one.stands("operator") or None,
    ),
    _body("started", Of.TIME, "when it began"),
    _body("accepted", Of.TIME, "when it was accepted"),
    Column("entry", Of.COUNT, "number of the entry", lambda one: count(one.entry, "seq")),
    Column("hash", Of.TEXT, "hash of the entry", lambda one: text(one.entry, "hash")),
    Column(
        "lots",
        Of.TEXT,
        "where a lot ran out and another took its place: JSON, what was taken of each",
        lambda one: _json(one.lots),
    ),
    Column(
        "corrected",
        Of.TEXT,
        "which of lot, lots, operator and reason were put right since",
        lambda one: ", ".join(one.put_right) or None,
    ),
    _body("lot_recorded", Of.TEXT, "the lot as it was first recorded", "lot"),
    _body("operator_recorded", Of.TEXT, "who weighed it, as first recorded", "operator"),
    _body("reason_recorded", Of.TEXT, "the reason as first recorded", "reason"),
    Column(
        "lots_recorded",
        Of.TEXT,
        "what was taken of each lot, as first recorded",
        lambda one: _json(one.body.get("lots")),
    ),
    _body("allowed_by", Of.TEXT, "a second person, who let them keep what is not on target"),
)


def weighings(record: Record) -> Iterator[Weighing]:
    """The accepted additions of a record, in order."""
    return (Weighing(record, one) for one in record.of(Kind.ACCEPTED))


def table_rows(record: Record) -> Iterator[Mapping[str, Value]]:
    """A record as rows of the table; what is not known is ``None``."""
    for one in weighings(record):
        yield {column.name: column.value(one) for column in COLUMNS}
