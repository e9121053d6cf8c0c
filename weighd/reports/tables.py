"""The tables that a record is exported as, beside that of its weighings: what each has a row for.

Those of ``batches``, ``deviations`` and ``corrections`` have the columns of the SQL views of that
name (less what only SQL needs), and are read as leniently as the weighings. What steps and yield
come to is reckoned from the entries, which have to be sound for that.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from weighd.domain.batch import Batch, Kind
from weighd.domain.errors import OperatorError, RecordError
from weighd.domain.fold import fold
from weighd.domain.lots import LotBook
from weighd.domain.verify import read_export
from weighd.reports.columns import COLUMNS, Head, Headed, Value, heads, table_rows
from weighd.reports.draws_table import COLUMNS as DRAW_COLUMNS
from weighd.reports.draws_table import draw_row
from weighd.reports.steps_csv import COLUMNS as STEP_COLUMNS
from weighd.reports.steps_csv import step_rows
from weighd.reports.told import Body, Record, count, inside, rows, text
from weighd.station.lots_drawn import draw_lots
from weighd.station.yield_picture import draw_yield

Row = Mapping[str, Value]


@dataclass(frozen=True, slots=True)
class Table:
    """``about``: what has a row; ``rows``: those of one batch, or of a station's lots."""

    about: str
    heads: tuple[Headed, ...]
    rows: Callable[[Record], Iterable[Row]]


# --- as they are told ---------------------------------------------------------------------------


def _batch(record: Record) -> Iterator[Row]:
    first, last = record.opening, record.last
    opened = record.of(Kind.OPENED)[:1]
    formula, operator = inside(first, "formula"), text(first, "operator")
    signed = rows(record.document, "signatures")
    yield {
        "station": record.station,
        "batch": record.batch,
        "formula": text(formula, "id"),
        "formula_name": text(formula, "name"),
        "formula_revision": text(formula, "revision"),
        "batch_g": text(first, "batch_g") or None,
        "operator": (record.stands(opened[0], "operator", operator) if opened else "") or None,
        "opened": record.opened or None,
        "status": str(record.status),
        "ended": record.ended or None,
        "planned": len(rows(first, "additions")),
        "weighed": len(record.of(Kind.ACCEPTED)),
        "entries": len(record.entries),
        "last_entry": count(last, "seq"),
        "hash": text(last, "hash"),
        "signed_by": next(
            (text(one, "key") for one in signed if text(one, "head") == text(last, "hash")), None
        ),
        "operator_recorded": operator or None,
        "corrections": len(record.of(Kind.CORRECTED)),
        "countersigned": len(record.of(Kind.COUNTERSIGNED)),
    }


def _corrections(record: Record) -> Iterator[Row]:
    for entry in record.of(Kind.CORRECTED):
        body = inside(entry, "body")
        of = record.by_n.get(count(inside(body, "of"), "n"), {})
        yield {
            **_entry(record, entry),
            "of_entry": count(of, "seq"),
            "of_kind": text(of, "kind") or None,
            "addition": count(inside(of, "body"), "addition"),
            **{name: text(body, name) or None for name in ("field", "old", "new", "reason")},
            "operator": text(body, "by") or None,
            "although": text(body, "although") or None,
        }


def _entry(record: Record, entry: Body) -> dict[str, Value]:
    return {
        "station": record.station,
        "batch": record.batch,
        "entry": count(entry, "seq"),
        "at": text(entry, "at"),
        "hash": text(entry, "hash"),
    }


#: Which field tells what happened, by the kind of entry; its cause where none is named.
_WHAT: Mapping[str, str] = {
    Kind.ACCEPTED: "verdict",
    Kind.DECIDED: "decision",
    Kind.PUT_RIGHT: "way",
    Kind.SCALE_CHANGED: "to",
    Kind.STEP_ENDED: "outcome",
    Kind.STEP_DECIDED: "decision",
}
_ODD = frozenset(
    (
        *(Kind.HELD, Kind.DECIDED, Kind.RESUMED, Kind.ZERO_MOVED, Kind.SCALE_CHANGED),
        *(Kind.PUT_RIGHT, Kind.RESTARTED, Kind.ABANDONED, Kind.STEP_DECIDED, Kind.VALUE_STRUCK),
        Kind.CLOCK_SET,
    )
)


def _odd(kind: str, body: Body) -> bool:
    if kind == Kind.ACCEPTED:
        return text(body, "verdict") not in ("", "on target")
    if kind == Kind.STEP_ENDED:
        return text(body, "outcome") not in ("", "done")
    if kind == Kind.CLOSED:
        return body.get("early") is not None
    told = ("not_added_g", "expected_confirmed", "stood_confirmed")
    return kind == Kind.TARED and any(body.get(one) is not None for one in told)


def _deviations(record: Record) -> Iterator[Row]:
    for entry in record.entries:
        kind, body = text(entry, "kind"), inside(entry, "body")
        if kind not in _ODD and not _odd(kind, body):
            continue
        reason, who = text(body, "reason"), text(body, "by", "operator")
        yield {
            **_entry(record, entry),
            "kind": kind,
            "addition": count(body, "addition"),
            "step": count(body, "step"),
            "what": text(body, _WHAT.get(kind, "cause")) or None,
            "sum_g": text(body, "sum_g", "net_g") or None,
            "reason": record.stands(entry, "reason", reason) or None,
            "operator": record.stands(entry, "operator", who) or None,
            "corrected": ", ".join(record.fields_put_right(entry)) or None,
            "reason_recorded": reason or None,
            "operator_recorded": who or None,
            "allowed_by": text(body, "allowed_by") or None,
        }


# --- as they are reckoned -----------------------------------------------------------------------


def _folded(record: Record) -> Batch:
    """The batch. Raises :class:`RecordError`, ``unreadable-entry``."""
    found = fold(read_export(record.document))
    assert found is not None  # a record without entries was refused
    return found


def _reckoned(make: Callable[[Record], Iterable[Row]]) -> Callable[[Record], Iterable[Row]]:
    """Rows of a record that may be of any shape: raises :class:`RecordError` for one that is."""

    def made(record: Record) -> Iterable[Row]:
        try:
            return list(make(record))
        except (ArithmeticError, AttributeError, LookupError, TypeError, ValueError) as error:
            raise RecordError(
                "unreadable-entry",
                f"The entries of the batch are not what they should be: {error!r}.",
                where=f"batch {record.batch}",
                remedy="Verify the record; its weighings can be written all the same.",
            ) from error

    return made


def _steps(record: Record) -> Iterable[Row]:
    for row in step_rows(read_export(record.document)):
        yield {"station": record.station, **_plain(row)}


def _drawn(record: Record) -> Mapping[str, Any] | None:
    try:
        return draw_yield(_folded(record), {})
    except OperatorError:
        return None  # nothing was weighed, so nothing came of it


def _draws(record: Record) -> Iterable[Row]:
    drawn = _drawn(record) or {"draws": []}
    of: Row = {"station": record.station, "batch": record.batch}
    return [{**of, **_plain(draw_row(one))} for one in drawn["draws"]]


def _yields(record: Record) -> Iterable[Row]:
    drawn = _drawn(record)
    if drawn is None or not drawn["draws"]:
        return []
    told = {
        "station": record.station,
        "batch": record.batch,
        "formula": drawn["formula"],
        "formula_name": drawn["name"],
        "status": drawn["status"],
        "draws": len(drawn["draws"]),
        "density_g_ml": drawn["density_g_ml"],
        "density_by": drawn["density"],
        **drawn["total"],
    }
    return [_plain(told)]


def _plain(row: Mapping[str, Any]) -> dict[str, Value]:
    """Cells: texts and numbers as they are, nothing for none."""
    return {
        key: None if value is None or value == "" else value if type(value) is int else str(value)
        for key, value in row.items()
        if not isinstance(value, Mapping)
    }


def lot_rows(station: str, book: LotBook, day: str) -> list[Row]:
    """The lots of a station, those that were used up too, as they stand on a day."""
    rows = draw_lots(book, day, gone=True)
    return [_plain({**one, "elsewhere": _elsewhere(one), "station": station}) for one in rows]


def _elsewhere(lot: Mapping[str, Any]) -> str:
    """What other stations drew of a lot: ``dock 120; bar 40``, in grams."""
    return "; ".join(f"{one['station']} {one['g']}" for one in lot["elsewhere"])


WEIGHINGS = Table("accepted addition", COLUMNS, table_rows)
LOTS = Table(
    "lot received, as it stands",
    heads(
        "station lot ingredient name supplier supplier_lot gtin made_in document note"
        " ~temperature_c quantity_g left_g used_g u_used_g wasted_g counted_g #uses use_by"
        " use_by_closed best_before #days_left @opened #keeps_days blocked @used_up @received by"
        " fit over_g elsewhere"
    ),
    lambda _: (),
)
#: By name, in the order in which they are told of.
TABLES: Mapping[str, Table] = {
    "weighings": WEIGHINGS,
    "batches": Table(
        "batch",
        heads(
            "station batch formula formula_name formula_revision batch_g operator @opened status"
            " @ended #planned #weighed #entries #last_entry hash signed_by operator_recorded"
            " #corrections #countersigned"
        ),
        _batch,
    ),
    "deviations": Table(
        "entry that tells of something out of the ordinary",
        heads(
            "station batch #entry @at kind #addition #step what sum_g reason operator hash"
            " corrected reason_recorded operator_recorded allowed_by"
        ),
        _deviations,
    ),
    "corrections": Table(
        "something put right",
        heads(
            "station batch #entry @at #of_entry of_kind #addition field old new reason operator"
            " although hash"
        ),
        _corrections,
    ),
    "steps": Table(
        "thing done in a step after weighing",
        (Head("station"), *STEP_COLUMNS),
        _reckoned(_steps),
    ),
    "draws": Table(
        "draw of a batch",
        (Head("station"), Head("batch"), *DRAW_COLUMNS),
        _reckoned(_draws),
    ),
    "yields": Table(
        "batch of which something was drawn",
        heads(
            "station batch formula formula_name status #draws ~density_g_ml density_by in_g"
            " in_u_g drawn_g left_g loss_g loss_u_g ~loss_percent told product_g ~product_ml"
            " #portions ~overrun_percent ~overrun_u_percent pieces_g"
        ),
        _reckoned(_yields),
    ),
    "lots": LOTS,
}
